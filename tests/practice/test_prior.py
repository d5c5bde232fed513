"""Priors: what trees without a record are expected to need."""

import numpy as np
import pytest

from forestcycle.practice.assess import assess
from forestcycle.practice.assessment import AGE_CLASSES
from forestcycle.practice.catalogue import load_catalogue
from forestcycle.practice.prior import PRIOR_COLUMNS, prior_findings
from forestcycle.practice.species import HABITS
from forestcycle.practice.tables import load_table
from forestcycle.settings.practice import Practice
from tests.practice.stands import ON, YEAR_END, stand_of

CATALOGUE = load_catalogue()


def priors(age_class="young", habit="decurrent", years=np.nan, target="street"):
    return prior_findings(
        CATALOGUE,
        np.array([AGE_CLASSES.index(age_class)]),
        np.array([habit], dtype=object),
        np.array([years]),
        np.array([10.0]),
        np.array([target], dtype=object),
        without_record=np.array([True]),
    )


@pytest.mark.parametrize("habit", HABITS)
@pytest.mark.parametrize("age_class", AGE_CLASSES)
def test_every_kind_of_tree_has_a_prior(age_class, habit):
    assert len(priors(age_class, habit)) >= 1


def test_codominant_stems_are_as_common_as_published():
    # Ryder and Moore 2013, by species: 19, 44, 61, 66 and 92 % of 48, 104, 79, 65 and 52
    # young street trees had codominant stems.
    trees, share = [48, 104, 79, 65, 52], [0.19, 0.44, 0.61, 0.66, 0.92]
    mean = np.average(share, weights=trees)
    table = load_table("priors", PRIOR_COLUMNS)
    row = table[(table["age_class"] == "young") & (table["habit"] == "decurrent")]
    row = row[row["defect"] == "codominant stems"]
    assert row["share"].item() == pytest.approx(mean, abs=0.005)


def test_a_prior_builds_up_after_a_visit():
    severity = [priors(years=years).severity.sum() for years in (0.5, 1, 2, 4, 8)]
    assert (np.diff(severity) >= 0).all()
    assert severity[0] < severity[-1]
    assert priors(years=np.nan).severity.sum() == severity[-1]
    assert len(priors(years=0.0)) == 0


def test_a_visit_to_a_tree_without_record_begins_with_a_look_and_says_so():
    found = assess(stand_of([{}]), Practice(), on=ON, year_end=YEAR_END)
    tree = found.trees.iloc[0]
    assert tree["defects_are_prior"]
    assert found.work["action"].iloc[0] == "inspect"
    assert found.work["visit"].iloc[0] == 1
    assert tree["work"].startswith("Look at the whole tree; if present: ")
    assert tree["note"].startswith("Nothing on record: worst first, stop near 15 %, limit 25 %.")


@pytest.mark.parametrize(
    ("target", "expected"),
    [
        ("street", {"low limb over street"}),
        ("unknown", {"low limb over street"}),
        ("school", {"low limb over footway"}),
        ("park", set()),
    ],
)
def test_low_limbs_are_expected_over_what_stands_below(target, expected):
    names = {CATALOGUE.names[code] for code in priors(target=target).defect}
    assert {name for name in names if name.startswith("low limb")} == expected


def test_only_dead_fronds_of_palms():
    # Common practice.
    inventory = stand_of([{"species": "Washingtonia robusta", "dbh_cm": 30.0}])
    found = assess(inventory, Practice(), on=ON, year_end=YEAR_END)
    assert found.trees["dose_needed"].item() == 0
    assert set(found.work["action"]) <= {"inspect", "clean"}
