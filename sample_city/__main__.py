"""Make the sample city: ``python -m sample_city OUT --trees 1000000 --seed 1``."""

import argparse
import sys
from pathlib import Path

from sample_city.city import LEAST_TREES, make


def main() -> int:
    """Read the command line and make the city."""
    parser = argparse.ArgumentParser(prog="python -m sample_city", description=__doc__)
    parser.add_argument("folder", type=Path, help="where to write city.gpkg and cycle.toml")
    parser.add_argument("--trees", type=int, default=6_000, help="rows of the tree layer")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    if options.trees < LEAST_TREES:
        parser.error(f"--trees {options.trees}: {LEAST_TREES} are the least")
    settings = make(options.folder, trees=options.trees, seed=options.seed)
    sys.stdout.write(f"{settings}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
