"""What the page says in tables."""
