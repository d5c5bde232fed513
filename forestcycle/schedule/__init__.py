"""The year's crew-days."""
