"""Every package that the product asks for says why in docs/decisions.md."""

import re
import tomllib

import pytest

from tests.conftest import ROOT

PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
EXTRAS = [
    *PROJECT["optional-dependencies"]["cluster"],
    *PROJECT["optional-dependencies"]["postgis"],
]
PACKAGES = [re.split(r"[\[<>=]", line)[0] for line in [*PROJECT["dependencies"], *EXTRAS]]


@pytest.mark.parametrize("package", PACKAGES)
def test_a_dependency_has_its_reason(package):
    text = (ROOT / "docs" / "decisions.md").read_text(encoding="utf-8")
    assert f"**{package}**" in text
