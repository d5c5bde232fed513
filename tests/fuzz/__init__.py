"""Files spoilt in thousands of ways, and commands that must still end in one clear line.

``python -m tests.fuzz --count 10000 --seed 1`` runs as many as asked for; the
suite runs a hundred. Every case follows from its seed and number alone,
so that ``--only NUMBER`` shows one again.
"""
