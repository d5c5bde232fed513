"""Kept results: whole files, keys that depend on contents alone."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from forestcycle.errors import StoreError
from forestcycle.parallel import KeptResults
from forestcycle.parallel.kept import content_key

JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
    max_leaves=8,
)


@given(value=JSON.filter(lambda value: value is not None))
def test_what_is_kept_is_found_as_it_was_given_back(tmp_path_factory, value):
    kept = KeptResults(tmp_path_factory.mktemp("kept"))
    assert kept.find("a") is None
    assert kept.keep("a", value) == kept.find("a") == value


def test_a_file_cut_short_counts_as_nothing(tmp_path):
    kept = KeptResults(tmp_path)
    kept.keep("a", [1, 2, 3])
    path = tmp_path / "a.json"
    path.write_bytes(path.read_bytes()[:-2])
    assert kept.find("a") is None


def test_keys_follow_contents():
    assert content_key({"a": 1, "b": 2.5}) == content_key({"b": 2.5, "a": 1})
    assert content_key({"a": 1}) != content_key({"a": 2})


def test_a_folder_that_cannot_be_made_is_named(tmp_path):
    (tmp_path / "file").touch()
    with pytest.raises(StoreError, match="cannot be written to"):
        KeptResults(tmp_path / "file" / "kept")
