"""The catalogue of defects and its published thresholds."""

import numpy as np
import pytest

from forestcycle.errors import SettingsError
from forestcycle.practice.catalogue import (
    AGE_COLUMNS,
    curve,
    load_catalogue,
    severity_of,
)
from tests.practice.own_table import own_table

CATALOGUE = load_catalogue()


def threshold(defect: str, measure: str, source: str) -> float:
    """The value at which a source itself draws the line."""
    points = curve(CATALOGUE, defect, measure)
    (value,) = points.loc[points["source"] == source, "value"]
    return float(value)


def label(defect: str, measure: str, value: float) -> str:
    """The word beside the last threshold that a value has reached."""
    points = curve(CATALOGUE, defect, measure)
    worse_when_larger = points["severity"].iloc[-1] >= points["severity"].iloc[0]
    reached = points["value"] <= value if worse_when_larger else points["value"] >= value
    return str(points.loc[reached, "label"].iloc[-1 if worse_when_larger else 0])


def test_aspect_ratios_of_codominant_stems():
    # Dahle, Eckenrode, Smiley, DeVallance, Holaskova 2022, Forests 13(7):1007: manage below
    # 0.60, consider mitigation near 0.70, codominant at 0.83 without included bark. The words
    # are ours.
    labels = [label("codominant stems", "aspect ratio", ratio) for ratio in (0.59, 0.70, 0.83)]
    assert labels == ["ok", "mitigate", "codominant"]


def test_included_bark_counts_from_0_70_on():
    # Earlier work cited by Dahle et al. 2022: codominant with included bark above 0.70.
    labels = [label("included bark", "aspect ratio", ratio) for ratio in (0.69, 0.71)]
    assert labels == ["mitigate", "codominant"]
    # Common practice: a tight union with bark included between stems of nearly one size stays
    # weak for good, so that at every ratio it is judged worse than one without.
    ratios = np.linspace(0.41, 1.0, 60)
    with_bark = severity_of(CATALOGUE, "included bark", "aspect ratio", ratios)
    without = severity_of(CATALOGUE, "codominant stems", "aspect ratio", ratios)
    assert (with_bark >= without).all()
    assert (with_bark[:40] > without[:40]).all()


def test_live_crown_ratio_under_both_published_rules():
    # UF/IFAS EP276: live crown over 0.60 of the height. USFS How to Prune Trees: at least two
    # thirds. 0.55 is flagged by both, 0.65 by the second only.
    measured = ("low live crown", "live crown ratio")
    assert 0.55 < threshold(*measured, "UF/IFAS EP276") < 0.65
    assert threshold(*measured, "USFS How to Prune Trees (1/3 rule)") > 0.65
    assert [label(*measured, ratio) for ratio in (0.55, 0.65)] == ["flag", "ok"]


def test_branch_spacing_is_asked_for_in_inches():
    # UF/IFAS EP276: largest branches 12 in (30.48 cm) apart.
    spacing = np.array([30.48, 30.0])
    severity = severity_of(CATALOGUE, "vertical crowding", "spacing", spacing)
    assert severity[0] == 0
    assert severity[1] > 0


def test_a_branch_longer_than_a_third_of_the_height_is_a_fault():
    # Common practice.
    severity = severity_of(
        CATALOGUE, "long branch", "length to height", np.array([0.33, 0.34, 0.5])
    )
    assert severity[0] == 0
    assert 0 < severity[1] < severity[2]


@pytest.mark.parametrize("defect", CATALOGUE.names)
def test_every_curve_goes_one_way(defect):
    for measure in CATALOGUE.measures(defect):
        table = CATALOGUE.severity
        rows = table[(table["defect"] == defect) & (table["measure"] == measure)]
        steps = np.diff(rows.sort_values("value")["severity"])
        assert (steps >= 0).all() or (steps <= 0).all()
        assert rows["unit"].nunique() == 1


def test_the_catalogue_names_each_defect_once_and_measures_all():
    assert len(set(CATALOGUE.names)) == len(CATALOGUE.names)
    assert set(CATALOGUE.severity["defect"]) == set(CATALOGUE.names)


def test_what_a_forester_looks_for_is_there():
    # Common practice: the faults that structural pruning answers.
    asked = {
        "codominant stems", "included bark", "oversized branch", "long branch", "crossing limbs",
        "radial crowding", "vertical crowding", "low limb over street", "low limb over footway",
        "dead wood", "broken or hanging limb", "low live crown", "leaders after topping",
    }  # fmt: skip
    assert asked <= set(CATALOGUE.names)


def test_a_single_answer_stays_within_the_largest_published_limit():
    # The largest published limit is 0.40 (UF/IFAS EP276, two years after planting).
    assert CATALOGUE.dose_by_age.max() <= 0.40


def test_no_answer_takes_more_of_an_older_tree():
    # CSU GardenNotes 616 and 7.825: limits fall with age.
    assert (np.diff(CATALOGUE.dose_by_age, axis=1) <= 0).all()


def test_limbs_are_not_taken_off_old_trees():
    # Common practice: what a young tree loses, an old one gets shortened.
    old = CATALOGUE.defects[f"work_{AGE_COLUMNS[-1]}"]
    assert not old.str.contains("remove|subordinate|raise").any()


def test_an_own_table_replaces_ours_and_is_checked(tmp_path):
    (tmp_path / "severity_words.csv").write_text("word,severity,source\nminor,2,us\n")
    with pytest.raises(SettingsError, match="'2' does not fit"):
        load_catalogue(folder=tmp_path)


def test_an_action_that_no_table_knows_is_named(tmp_path):
    own_table(tmp_path, "defects", "work_young", "tdin", row=load_catalogue().names[0])
    with pytest.raises(SettingsError, match="unknown action 'tdin'"):
        load_catalogue(folder=tmp_path)
