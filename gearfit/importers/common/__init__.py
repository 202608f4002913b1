"""What every reader needs: content, cells, units and steps as they are written, positions."""
