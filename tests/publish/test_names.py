"""File names that no system stumbles over."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from forestcycle.publish.names import LONGEST, safe_name


@pytest.mark.parametrize("name", ["North crew", "Équipe 2", "2027-03-15 Łódź", "樹木班"])
def test_plain_names_stay(name):
    assert safe_name(name) == name


@pytest.mark.parametrize("name", ["../up", "a/b", "a\\b", "CON", "nul", "", ".", "a:b", "x" * 300])
def test_dangerous_names_change(name):
    # Windows' reserved names and characters: "Naming Files, Paths, and Namespaces", Microsoft.
    safe = safe_name(name)
    assert safe != name
    assert safe


@given(st.text())
def test_any_text_becomes_one_file_name(text):
    safe = safe_name(text)
    assert safe
    assert re.fullmatch(r"[\w \-]+", safe)
    assert safe == safe.strip()
    assert len(safe) <= LONGEST + 9
    assert safe_name(text) == safe


@given(st.lists(st.text(), unique=True, max_size=30))
def test_two_names_never_become_one(texts):
    assert len({safe_name(text) for text in texts}) == len(texts)
