"""Minutes between places."""
