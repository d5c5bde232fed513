import numpy as np
import pandas as pd

from forestcycle.outlook.wards import MOST_WARDS, NO_WARD, OTHER_WARDS, number_wards, ward_names


def test_trees_in_no_ward_have_a_word_for_it():
    table = pd.DataFrame({"ward": ["North", "", "East"]})
    assert ward_names(table).tolist() == ["North", NO_WARD, "East"]
    names, ward = number_wards(table)
    assert names == ("East", "North", NO_WARD)
    assert [names[place] for place in ward] == ["North", NO_WARD, "East"]


def test_the_smallest_of_very_many_wards_are_one():
    """Ten wards more than there may be names, and one name is that of the others: eleven."""
    trees = np.arange(1, MOST_WARDS + 11)
    table = pd.DataFrame({"ward": np.repeat([f"Ward {count:02}" for count in trees], trees)})
    names, ward = number_wards(table)
    assert len(names) == MOST_WARDS
    other = np.bincount(ward)[names.index(OTHER_WARDS)]
    assert other == trees[:11].sum(), (
        "eleven wards too many for forty names, one of them the others"
    )
    assert np.bincount(ward).sum() == len(table)
