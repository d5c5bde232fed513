"""Lay out the growth tables from the published data.

``python -m tests.tools.build_growth_tables FOLDER`` reads the four tables of
McPherson, van Doorn, Peper 2016 (RDS-2016-0005) in FOLDER and rewrites, in
``forestcycle/practice/tables``:

``growth_equations.csv``
    the equations, in a layout of our own;
``species.csv``
    its columns ``mature_dbh_cm`` and ``mature_dbh_basis`` only; everything
    else in that file is kept by hand.
"""

import re
import sys
from pathlib import Path

import numpy as np
import pandas as pd

TABLES = Path(__file__).parents[2] / "forestcycle" / "practice" / "tables"
SOURCE = "McPherson, van Doorn, Peper 2016, RDS-2016-0005 (as corrected 2018-03-26)"

RELATIONS = {
    ("age", "dbh"): "dbh_cm_from_age",
    ("dbh", "tree ht"): "height_m_from_dbh",
    ("dbh", "crown dia"): "crown_diameter_m_from_dbh",
}
RENAMED = {
    "Brachychiton populneum": "Brachychiton populneus",
    "Gymnocladus dioicus": "Gymnocladus dioica",
    "Rhus lancea": "Searsia lancea",
    "Tristaniopsis conferta": "Lophostemon confertus",
}
"""The source's names and those in use today."""

SHARE_OF_LARGEST = 0.75
"""Modelling choice: mature diameter over the largest one measured in a city."""

PALM_MATURE_DBH_CM = {"small": 15.0, "medium": 30.0, "large": 45.0}
"""Modelling choice: a palm's trunk does not thicken with age."""


def tidy_name(name: str) -> str:
    """Return the source's species name as our tables write it."""
    name = re.sub(r"\s+(cvs\.|spp\.)$", "", name.strip())
    return RENAMED.get(name, name)


def read_source(folder: Path) -> pd.DataFrame:
    """Read the source's coefficients with names tidied and regions in words."""
    regions = pd.read_csv(folder / "TS1_Regional_information.csv", encoding="latin1")
    codes = regions["Region Code"].str.replace(" ", "")
    words = regions.set_index(codes)["Region Name"]
    rows = pd.read_csv(folder / "TS6_Growth_coefficients_20180326.csv", encoding="latin1")
    rows.columns = [column.strip() for column in rows.columns]
    rows["species"] = rows["Scientific Name"].map(tidy_name)
    rows["region"] = rows["Region"].map(words)
    rows["SpCode"] = rows["SpCode"].str.strip()
    # By the source's code: it writes one tree's name in two ways in one region.
    return rows.set_index(["region", "SpCode", "Independent variable", "Predicts component"])


def equations(rows: pd.DataFrame) -> pd.DataFrame:
    """Lay out the equations of every tree that has all three, with their limits.

    The source prints limits of the predicted quantity. Limits of the
    independent variable follow: ages are those printed for age from diameter,
    diameters those printed for diameter from age.
    """
    table = []
    trees = rows.xs(("age", "dbh"), level=(2, 3)).index
    for tree in trees:
        limits = {"age": ("dbh", "age"), "dbh": ("age", "dbh")}
        for (independent, predicted), relation in RELATIONS.items():
            row = rows.loc[(*tree, independent, predicted)]
            limit = rows.loc[(*tree, *limits[independent])]
            table.append(
                {
                    "region": tree[0],
                    "species": rows.loc[(*tree, "age", "dbh"), "species"],
                    "relation": relation,
                    "form": row["EqName"],
                    **{letter: row[letter] for letter in "abcde"},
                    "least_x": limit["Apps min"],
                    "most_x": limit["Apps max"],
                    "least_value": row["Apps min"],
                    "most_value": row["Apps max"],
                    "largest_measured": row["Data max (from raw data)"],
                    "trees": int(row["n"]),
                    "source": SOURCE,
                }
            )
    return pd.DataFrame(table).sort_values(["species", "region", "relation"])


def mature_diameters(species: pd.DataFrame, table: pd.DataFrame) -> pd.DataFrame:
    """Fill in mature diameters: measured, else the genus's, else the size class's.

    Measured: a share of the largest diameter measured in a city, as the median
    over cities. Genus and size class are means over the species measured; a
    species borrows only from those of its genus that grow to its own size.
    """
    measured = (
        table[table["relation"] == "dbh_cm_from_age"]
        .groupby("species")["largest_measured"]
        .median()
        * SHARE_OF_LARGEST
    )
    own = species["scientific"].map(measured)
    is_species = species["rank"] == "species"
    genus, size = species["genus"], species["size"]
    by_genus = own.groupby(genus).transform("mean").where(genus != "")
    by_genus = own.groupby([genus, size]).transform("mean").where(is_species, by_genus)
    by_class = own.groupby([size, species["foliage"]]).transform("mean")
    palms = species["size"].map(PALM_MATURE_DBH_CM).where(species["foliage"] == "palm")
    filled = own.where(is_species).fillna(by_genus).fillna(by_class).fillna(palms)
    basis = np.select(
        [
            own.notna() & is_species,
            by_genus.notna(),
            by_class.notna(),
        ],
        ["measured", "genus", "size class"],
        "stated",
    )
    return species.assign(mature_dbh_cm=filled.round(1), mature_dbh_basis=basis)


def build(folder: Path) -> tuple[str, str]:
    """Return the text of both tables."""
    table = equations(read_source(folder))
    species = pd.read_csv(TABLES / "species.csv", keep_default_na=False)
    columns = [column for column in species.columns if column != "source"]
    columns = [column for column in columns if not column.startswith("mature_")]
    species = mature_diameters(species, table)
    species = species[[*columns, "mature_dbh_cm", "mature_dbh_basis", "source"]]
    return (
        table.to_csv(index=False, lineterminator="\n"),
        species.to_csv(index=False, lineterminator="\n"),
    )


if __name__ == "__main__":
    equation_text, species_text = build(Path(sys.argv[1]))
    (TABLES / "growth_equations.csv").write_text(equation_text, encoding="utf-8")
    (TABLES / "species.csv").write_text(species_text, encoding="utf-8")
