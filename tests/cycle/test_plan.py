"""How long packing lasts where nobody says."""

from hypothesis import given
from hypothesis import strategies as st

from forestcycle.cycle.plan import usual_seconds


@given(st.integers(0, 2_000_000), st.integers(0, 2_000_000))
def test_more_trees_never_get_less_time(trees, others):
    few, many = sorted((trees, others))
    assert 60.0 <= usual_seconds(few) <= usual_seconds(many)


def test_a_large_city_gets_the_time_it_was_measured_with():
    """100,000 trees were measured with 300 seconds, see docs/benchmarks.md."""
    assert usual_seconds(100_000) == 300.0
    assert usual_seconds(6_000) == 60.0
