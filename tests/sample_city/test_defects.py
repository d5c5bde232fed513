"""Observed defects speak the language of the catalogue."""

from forestcycle.practice.catalogue import load_catalogue
from sample_city.defects import defect_mix


def test_defects_measures_and_units_are_the_catalogues():
    mix, catalogue = defect_mix(), load_catalogue()
    known = catalogue.severity[["defect", "measure", "unit"]].drop_duplicates()
    named = mix[["defect", "measure", "unit"]].merge(known, how="left", indicator=True)
    assert (named["_merge"] == "both").all(), named


def test_spans_run_upwards_and_ratios_are_ratios():
    mix = defect_mix()
    assert (mix["low"] < mix["high"]).all()
    assert (mix.loc[mix["unit"] == "ratio", "high"] <= 1).all()
