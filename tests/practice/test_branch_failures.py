"""Expected branch failures against the published rate."""

import pytest

from forestcycle.practice.branch_failures import expected_branch_failures


def test_the_rate_of_rochester():
    # Luley, Sisinni and Pleninger 2002, J. Arboriculture 28(3):137-143: per 1,000 trees and
    # year 7.6 failures by service requests, 6.5 by work done.
    assert expected_branch_failures(10_000) == pytest.approx(
        {"service requests": 76, "work done": 65}, abs=1e-9
    )
    assert set(expected_branch_failures(0).values()) == {0}


def test_a_city_may_have_its_own_rate(tmp_path):
    (tmp_path / "branch_failures.csv").write_text(
        "counted_by,per_1000_trees_and_year,source\nown survey,4,own survey\n"
    )
    assert expected_branch_failures(500, folder=tmp_path) == {"own survey": 2}
