"""An invented city at any size, from a seed: to learn with, to demonstrate and to measure."""

from sample_city.city import make

__all__ = ["make"]
