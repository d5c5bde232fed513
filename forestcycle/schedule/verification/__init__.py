"""Rules that a written plan must keep, checked from its files alone.

Nothing here is imported by the packer or the bound, and nothing of theirs is
imported here: what one of them gets wrong, the other must not repeat.
"""
