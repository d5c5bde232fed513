import pandas as pd

from forestcycle.fieldwork.crew_names import as_the_city_writes, strangers

NAMES = ["Climbing crew", "Ground  crew", "crew a", "Crew A"]


def test_capitals_and_blanks_make_no_other_crew():
    written = pd.Series(["climbing  CREW", " Ground crew ", "Crew A", "CREW A", "Climbing crw"])
    expected = ["Climbing crew", "Ground  crew", "Crew A", "crew a", "Climbing crw"]
    assert as_the_city_writes(written, NAMES).tolist() == expected


def test_each_stranger_is_named_once():
    table = pd.DataFrame({"row": [1, 2, 3], "tree_id": list("abc"), "visited_on": pd.NaT})
    told = strangers(table.assign(crew=["Climbing crw", "crew a", "Climbing crw"]), NAMES)
    (one,) = told.to_dict("records")
    assert (one["row"], one["fault"]) == (1, "no crew of this name is known (2 returns)")
    assert "'Climbing crew'" in one["remedy"]
