"""Returns with more faults than a screen shows."""

import pandas as pd

from tests.cli.commands import run
from tests.cli.small_city import write_city

WORDS = ("record", "cycle.toml", "returns.csv", "--today", "2027-12-31", "--quiet")


def test_every_refusal_and_warning_stands_in_the_spreadsheet(tmp_path):
    city = write_city(tmp_path)
    rows = [f"=x{number},2027-03-01,one,done,9,0.1" for number in range(900)]
    rows += ["a,2027-03-01,ONE,done,9,0.9", "b,2027-03-01,Owe,done,9,0.1"]
    header = "tree_id,visited_on,crew,outcome,minutes,dose\n"
    (city / "returns.csv").write_text(header + "\n".join(rows))
    ended = run(*WORDS, "--refused", "refused.csv", cwd=city)
    assert ended.code == 0
    assert "880 more -> table refused of" in ended.out
    assert "2 visits recorded, 0 known already, 900 returns refused" in ended.out
    assert "counts visits up to 2027-01-01: move city.assessed_on forward" in ended.out
    told = pd.read_csv(city / "refused.csv")
    assert told["kind"].value_counts().to_dict() == {"refused": 900, "warning": 2}
    assert told["tree_id"][0] == "'=x0"
    assert told["row"].tolist() == list(range(1, 903))


def test_the_spreadsheet_never_takes_the_place_of_the_returns(tmp_path):
    city = write_city(tmp_path)
    (city / "returns.csv").write_text("tree_id,visited_on,crew,outcome\na,2027-03-01,One,done\n")
    ended = run(*WORDS, "--refused", "./returns.csv", cwd=city)
    assert ended.code == 2
    assert "would be overwritten" in ended.err
    assert (city / "returns.csv").read_text().startswith("tree_id")
    assert not (city / "trees_books.gpkg").exists()


def test_slashed_dates_are_read_as_told(tmp_path):
    city = write_city(tmp_path)
    (city / "returns.csv").write_text("tree_id,visited_on,crew,outcome\na,3/4/2027,One,done\n")
    assert "1 returns refused" in run(*WORDS, cwd=city).out
    assert "1 visits recorded" in run(*WORDS, "--day-first", cwd=city).out
    assert "2027-04-03" in run("explain", "cycle.toml", "a", cwd=city).out


def test_nothing_is_recorded_where_the_spreadsheet_cannot_be_written(tmp_path):
    city = write_city(tmp_path)
    (city / "returns.csv").write_text("tree_id,visited_on,crew,outcome\na,2027-03-01,One,done\n")
    ended = run(*WORDS, "--refused", "cycle.toml/refused.csv", cwd=city)
    assert (ended.code, len(ended.err.splitlines())) == (2, 1)
    assert not (city / "trees_books.gpkg").exists()
