"""Structural pruning of a city's young trees as a yearly cycle."""
