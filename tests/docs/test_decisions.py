"""Every package that is asked for, by the product or by its tests, says why in decisions.md."""

import re
import tomllib
from itertools import chain

import pytest

from tests.conftest import ROOT

PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
LINES = [*PROJECT["dependencies"], *chain(*PROJECT["optional-dependencies"].values())]
PACKAGES = {re.split(r"[\[<>=]", line)[0] for line in LINES} - {PROJECT["name"]}


@pytest.mark.parametrize("package", sorted(PACKAGES))
def test_a_dependency_has_its_reason(package):
    text = (ROOT / "docs" / "decisions.md").read_text(encoding="utf-8")
    assert f"**{package}**" in text
