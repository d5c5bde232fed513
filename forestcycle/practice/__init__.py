"""What each tree needs, how much this time, when to come back."""
