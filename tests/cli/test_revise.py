"""``forestcycle revise`` and ``forestcycle undo`` as they are typed."""

from tests.cli.commands import run
from tests.cli.small_city import write_city


def test_without_a_plan_there_is_nothing_to_revise(tmp_path):
    city = write_city(tmp_path)
    ended = run("revise", "cycle.toml", "--from", "2027-03-01", "--quiet", cwd=city)
    assert ended.code == 2
    assert "there is no plan here" in ended.err
    assert "--plan" in ended.err


def test_storm_crews_need_a_storm(tmp_path):
    city = write_city(tmp_path)
    ended = run("revise", "cycle.toml", "--storm-crew", "One", "--quiet", cwd=city)
    assert ended.code == 2
    assert "--storm" in ended.err


def test_revise_and_undo_say_what_they_did(tmp_path):
    city = write_city(tmp_path)
    words = ("cycle.toml", "--rounds", "1", "--quiet")
    assert run("plan", *words, "--out", "plan", cwd=city).code == 0
    ended = run("revise", *words, "--from", "2027-01-01", cwd=city)
    assert ended.code == 0, ended.said
    assert "nothing to change" in ended.out
    ended = run("revise", *words, "--from", "2027-12-01", cwd=city)
    assert ended.code == 0, ended.said
    assert "moved to another day" in ended.out
    assert "checked independently: yes" in ended.out
    ended = run("undo", "cycle.toml", cwd=city)
    assert ended.code == 0, ended.said
    assert "revision 1" in ended.out
