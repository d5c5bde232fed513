import pytest

from forestcycle.errors import InventoryError
from forestcycle.fieldwork.returns import CREW_LIST, FILLED_IN, read_returns
from forestcycle.publish.crew_rows import BLANKS

HEADER = "crew,date,tree_id,minutes,dose_percent,dose_limit_percent,note," + ",".join(BLANKS)


def test_the_blanks_of_a_crew_list_are_read():
    assert set(BLANKS) <= set(FILLED_IN)
    assert set(BLANKS) <= set(CREW_LIST.values())


def test_a_typed_up_crew_list(tmp_path):
    path = tmp_path / "day.csv"
    path.write_text(
        f"{HEADER}\n"
        "One,2026-03-01,'-7,10,15,25,mind the wires,Yes,12,20 %,AB,went well\n"
        "One,2026-03-01,b,10,15,25,,,,,,\n"
        "One,2026-03-01,c,10,15,25,,partly,9,7.5,AB,\n"
    )
    read = read_returns(path)
    assert read["row"].tolist() == [1, 3]
    assert read["tree_id"].tolist() == ["-7", "c"]
    assert read["outcome"].tolist() == ["done", "partly done"]
    assert read["dose"].tolist() == [0.2, 0.075]
    assert read[["planned_minutes", "planned_dose", "dose_limit"]].iloc[0].tolist() == [
        10,
        0.15,
        0.25,
    ]
    assert read["note"].tolist() == ["went well", ""]
    assert (read["unreadable"] == "").all()


def test_what_cannot_be_read_is_said(tmp_path):
    path = tmp_path / "day.csv"
    path.write_text(f"{HEADER}\nOne,soon,a,10,15,25,,perhaps,some,,,\n")
    (told,) = read_returns(path)["unreadable"]
    for part in ("date", "actual_minutes", "neither done"):
        assert part in told


def test_a_missing_column_is_one_fault(tmp_path):
    path = tmp_path / "day.csv"
    path.write_text("tree_id,crew,outcome\na,One,done\n")
    with pytest.raises(InventoryError, match="visited_on"):
        read_returns(path)
