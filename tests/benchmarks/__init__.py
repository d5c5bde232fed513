"""Speed and quality, measured: run one with ``python -m tests.benchmarks.NAME``."""
