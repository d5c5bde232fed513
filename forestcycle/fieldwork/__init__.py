"""What comes back from the street: returns, the books they are kept in, and what they teach."""
