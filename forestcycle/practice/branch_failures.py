"""Branch failures that a city should expect, as context and never as a promise."""

from collections.abc import Mapping
from pathlib import Path

from forestcycle.practice.tables import Column, load_table

FAILURE_COLUMNS = {
    "counted_by": Column(),
    "per_1000_trees_and_year": Column("number", least=0, most=1000),
}


def expected_branch_failures(trees: int, *, folder: Path | None = None) -> Mapping[str, float]:
    """Return the branch failures to expect in a year, by the way they are counted.

    One city's rate (Rochester NY, Luley, Sisinni and Pleninger 2002, Journal of
    Arboriculture 28(3):137-143). There pruned units did not fail less often than
    others, so a plan must not promise a reduction.

    Parameters
    ----------
    trees : int
    folder : Path, optional
        Folder with the city's own ``branch_failures.csv``.

    Returns
    -------
    Mapping of str to float
        Failures per year by the words of ``counted_by``.
    """
    table = load_table("branch_failures", FAILURE_COLUMNS, folder=folder)
    expected = trees * table["per_1000_trees_and_year"] / 1000
    return dict(zip(table["counted_by"], expected, strict=True))
