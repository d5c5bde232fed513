"""What stands where."""
