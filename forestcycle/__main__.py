"""``python -m forestcycle``."""

from forestcycle.cli.main import main

main()
