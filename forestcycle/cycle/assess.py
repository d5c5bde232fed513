"""Assess every tree of a city, and write the assessment down."""

from dataclasses import dataclass
from pathlib import Path

import geopandas as gpd
import pandas as pd

from forestcycle.cycle.city import City
from forestcycle.inventory.store import write_layers
from forestcycle.practice import Assessment
from forestcycle.practice import assess as assess_trees
from forestcycle.practice.assessment import AGE_CLASSES, RECALL_STATES
from forestcycle.practice.installed import tables_folder
from forestcycle.progress import Progress, silent
from forestcycle.schedule import equipment_texts, hours_texts


def assess_city(city: City, *, progress: Progress = silent) -> Assessment:
    """Age class, defects, prescription, recall and priority of every tree.

    Parameters
    ----------
    city : City
    progress : Progress, optional

    Returns
    -------
    Assessment
        As of ``city.assessed_on`` of the settings, for the plan's year.
    """
    settings = city.settings
    return assess_trees(
        city.inventory,
        settings.practice,
        on=settings.city.assessment_day,
        year_end=settings.city.year_end,
        year_start=settings.city.year_start,
        folder=tables_folder(settings.practice.tables, city.folder),
        units=settings.publish.units,
        progress=progress,
    )


def assessed_trees(city: City, assessment: Assessment) -> gpd.GeoDataFrame:
    """Join inventory and assessment into one layer of trees.

    Parameters
    ----------
    city : City
    assessment : Assessment

    Returns
    -------
    GeoDataFrame
        Inventory columns, then those of the assessment; measured heights and
        crowns give way to the assessment's, which fill the gaps; then
        ``closed_windows``, ``hours`` and ``equipment`` as texts.
    """
    trees = city.inventory.trees
    kept = [column for column in trees.columns if column not in assessment.trees.columns]
    joined = pd.concat(
        [trees[["tree_id"]], assessment.trees.drop(columns="tree_id"), trees[kept]], axis=1
    )
    joined["closed_windows"] = closed_windows(assessment)
    joined["hours"] = hours_texts(city.settings, city.inventory)
    joined["equipment"] = equipment_texts(city.settings, city.inventory, assessment.trees)
    return gpd.GeoDataFrame(joined, geometry="geometry", crs=trees.crs)


def closed_windows(assessment: Assessment) -> pd.Series:
    """Write the closed spans of each tree as text: ``2027-04-01/2027-05-15 rule; ...``.

    Parameters
    ----------
    assessment : Assessment

    Returns
    -------
    Series of str
        One per tree, in the order of ``assessment.trees``; empty where nothing is closed.
    """
    texts = [
        "; ".join(f"{start}/{end} {rule.replace(';', ',')}" for start, end, rule in closures)
        for closures in assessment.season_closed
    ]
    return assessment.trees["season"].map(dict(enumerate(texts))).astype("str")


def write_assessment(city: City, assessment: Assessment, path: Path) -> None:
    """Write a GeoPackage with the assessed trees, work items and rows set aside.

    Parameters
    ----------
    city : City
    assessment : Assessment
    path : Path
        Replaced as a whole once the new file is complete.

    Raises
    ------
    StoreError
        If it cannot be written; an older file is then as it was.
    """
    write_layers(
        path,
        {
            "trees": assessed_trees(city, assessment),
            "work": work_items(assessment),
            "set_aside": all_set_aside(city, assessment),
        },
    )


def work_items(assessment: Assessment) -> pd.DataFrame:
    """Work items with the tree's id in place of its row.

    Parameters
    ----------
    assessment : Assessment

    Returns
    -------
    DataFrame
        ``Assessment.work`` with ``tree_id`` first, and without ``tree``.
    """
    work = assessment.work.copy()
    ids = assessment.trees["tree_id"].to_numpy()
    work.insert(0, "tree_id", ids[work["tree"].to_numpy()])
    return work.drop(columns="tree")


def all_set_aside(city: City, assessment: Assessment) -> pd.DataFrame:
    """Rows set aside on reading and facts set aside on assessing.

    Parameters
    ----------
    city : City
    assessment : Assessment

    Returns
    -------
    DataFrame
        In the layout of ``Inventory.set_aside``.
    """
    parts = [city.inventory.set_aside, assessment.set_aside]
    filled = [part for part in parts if len(part)]
    return pd.concat(filled, ignore_index=True) if filled else parts[0]


@dataclass(frozen=True)
class Counts:
    """A small table of counts: its header and its rows."""

    header: tuple[str, ...]
    rows: list[tuple[object, ...]]


def count_states(assessment: Assessment) -> Counts:
    """Count trees by age class and recall state.

    Parameters
    ----------
    assessment : Assessment

    Returns
    -------
    Counts
        A row per age class and one for all trees.
    """
    trees = assessment.trees
    table = pd.crosstab(trees["age_class"].astype(str), trees["recall_state"].astype(str))
    table = table.reindex(index=AGE_CLASSES, columns=RECALL_STATES, fill_value=0)
    rows: list[tuple[object, ...]] = [
        (age_class, *map(int, counts), int(counts.sum()))
        for age_class, counts in zip(table.index, table.to_numpy(), strict=True)
    ]
    rows.append(("all", *map(int, table.sum()), int(table.to_numpy().sum())))
    return Counts(("age class", *RECALL_STATES, "all"), rows)
