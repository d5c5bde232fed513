"""The page on the rules of practice cannot drift from what is computed."""

import re

import pytest

from forestcycle.practice.catalogue import load_catalogue
from forestcycle.practice.dose import LIMIT_COLUMNS
from forestcycle.practice.tables import load_table
from tests.practice.worked_trees import PAGE, TREES, page_with, worked_trees


def test_the_worked_trees_are_as_computed():
    assert PAGE.read_text(encoding="utf-8") == page_with(worked_trees())


def test_there_are_twelve():
    assert len(TREES) == 12
    assert len(re.findall(r"^### \d+\. ", PAGE.read_text(encoding="utf-8"), re.MULTILINE)) == 12


@pytest.mark.parametrize("defect", load_catalogue().names)
def test_the_page_names_every_defect(defect):
    assert f"| {defect} |" in PAGE.read_text(encoding="utf-8")


def test_the_page_names_every_dose_table():
    page = PAGE.read_text(encoding="utf-8")
    for name in load_table("dose_limits", LIMIT_COLUMNS)["table"].unique():
        assert f"`{name}`" in page
