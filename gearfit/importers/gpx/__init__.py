"""GPX tracks."""
