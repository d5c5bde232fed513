"""A whole season played through: plan, returns full of mistakes, storms, a budget cut.

``python -m tests.season --trees 20000`` plays a larger city than the suite does.
"""
