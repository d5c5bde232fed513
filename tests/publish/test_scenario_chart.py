"""The chart of scenarios: a picture for any number of them, names taken literally."""

import xml.etree.ElementTree as ElementTree

import pandas as pd
import pytest

from forestcycle.publish.scenario_chart import write_scenario_chart


def table(names, outcomes, not_packed=0):
    count = len(names)
    return pd.DataFrame(
        {
            "scenario": names,
            "outcome": outcomes,
            "worth": [1000.0 + place for place in range(count)],
            "bound": [1200.0] * count,
            "trees_planned": range(count),
            "overdue_planned": range(count),
            "overdue_left": range(count),
            "crew_days_not_packed": not_packed,
            "cost_cents": [123_456_00] * count,
        }
    )


def height(path):
    root = ElementTree.parse(path).getroot()  # noqa: S314 - written by this test
    return float(root.attrib["height"].removesuffix("pt"))


@pytest.mark.parametrize("count", [0, 1, 50])
def test_any_number_of_scenarios(tmp_path, count):
    names = [f"<b>{place}</b> & $more$" for place in range(count)]
    path = tmp_path / "chart.svg"
    write_scenario_chart(table(names, ["planned"] * count), path, currency="USD")
    assert height(path) > 15 * count


def test_a_scenario_without_a_plan_has_no_figures(tmp_path):
    path = tmp_path / "chart.svg"
    write_scenario_chart(table(["a", "b"], ["planned", "no plan"]), path, currency="USD")
    one = path.read_text(encoding="utf-8")
    write_scenario_chart(table(["a", "b"], ["planned", "planned"]), path, currency="USD")
    assert one != path.read_text(encoding="utf-8")


def test_a_plan_that_time_cut_short_is_marked(tmp_path):
    path = tmp_path / "chart.svg"
    write_scenario_chart(table(["a"], ["planned"]), path, currency="USD")
    assert "not packed" not in path.read_text(encoding="utf-8")
    write_scenario_chart(table(["a"], ["planned"], not_packed=1_200), path, currency="USD")
    assert "a (1,200 crew-days not packed)" in path.read_text(encoding="utf-8")


def test_the_same_table_gives_the_same_file(tmp_path):
    for name in ("one.svg", "two.svg"):
        write_scenario_chart(table(["a"], ["planned"]), tmp_path / name, currency="EUR")
    assert (tmp_path / "one.svg").read_bytes() == (tmp_path / "two.svg").read_bytes()
