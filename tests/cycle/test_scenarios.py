"""Tables of scenarios: what they may change, and every fault by line and name."""

import pytest

import sample_city
from forestcycle.cycle.scenarios import changed, read_scenarios
from forestcycle.errors import SettingsError
from forestcycle.settings import load_settings


@pytest.fixture(scope="module")
def settings(tmp_path_factory):
    folder = tmp_path_factory.mktemp("city")
    sample_city.make(folder, trees=200, seed=1)
    return load_settings(folder / "cycle.toml")


def read(tmp_path, settings, *lines):
    path = tmp_path / "scenarios.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return read_scenarios(path, settings)


def test_values_are_read_as_the_settings_file_reads_them(settings, tmp_path):
    found = read(
        tmp_path,
        settings,
        "name,budget.year_cents,budget.fund_cents.parks,calendar.workdays,"
        '"crews.""Line crew"".most_days"',
        "as it is,,,,",
        'other,7000000,1200,"[""mon"", ""tue""]",12',
        "free,none,,,none",
    )
    assert [scenario.name for scenario in found] == ["as it is", "other", "free"]
    assert found[0].settings == settings
    other, free = found[1].settings, found[2].settings
    assert (other.budget.year_cents, other.budget.fund_cents) == (7_000_000, {"parks": 1200})
    assert other.calendar.workdays == ("mon", "tue")
    assert [crew.most_days for crew in other.crews] == [
        12 if crew.name == "Line crew" else crew.most_days for crew in settings.crews
    ]
    assert free.budget.year_cents is None
    assert free.crews[-1].most_days is None
    assert found[1].changes["budget.year_cents"] == "7000000"


@pytest.mark.parametrize("count", [0, 1, 3])
def test_crews_are_counted_by_kind(settings, count):
    found = changed(settings, {"crews.Ground crew.count": str(count)}, "here").crews
    assert len(found) == len(settings.crews) - 1 + count
    assert [crew.name for crew in found[:count]] == [
        "Ground crew", "Ground crew 2", "Ground crew 3",
    ][:count]  # fmt: skip
    assert found[count:] == settings.crews[1:]
    for crew in found[:count]:
        assert crew.model_copy(update={"name": "Ground crew"}) == settings.crews[0]


def test_a_crew_may_change_and_be_copied_at_once(settings):
    changes = {"crews.Line crew.count": "2", "crews.Line crew.most_days": "9"}
    found = changed(settings, changes, "here").crews
    assert [crew.most_days for crew in found if crew.name.startswith("Line")] == [9, 9]


def test_all_faults_are_named_by_line_and_scenario(settings, tmp_path):
    with pytest.raises(SettingsError) as caught:
        read(
            tmp_path,
            settings,
            "name,budget.year_cents,crews.Lime crew.count,travel.speed_kmh,crews.Line crew.count",
            "poor,-5,,,",
            "typo,,1,,",
            "fast,,,50,",
            "crowd,,,,many",
        )
    said = str(caught.value)
    assert "line 2, scenario 'poor': budget.year_cents = -5" in said
    assert "line 3, scenario 'typo': no crew 'Lime crew' -> crews: 'Ground crew'" in said
    assert "line 4, scenario 'fast': cannot change 'travel.speed_kmh'" in said
    assert "line 5, scenario 'crowd': crews.Line crew.count = many -> give 0 to" in said
    assert len(caught.value.faults) == 4


@pytest.mark.parametrize(
    ("lines", "fault"),
    [
        (["scenario,budget.year_cents", "a,1"], "has no column 'name'"),
        (["name,budget.year_cents", "a,1", "a,2"], "share a name: a"),
        (["name,budget.year_cents", ",2"], "a scenario has no name"),
        (["name,budget.yaer_cents", "a,2"], "did you mean 'year_cents'"),
        (["name,budget", "a,2"], "cannot change 'budget'"),
    ],
)
def test_tables_that_cannot_be_read(settings, tmp_path, lines, fault):
    with pytest.raises(SettingsError, match=fault):
        read(tmp_path, settings, *lines)


def test_a_missing_table(settings, tmp_path):
    with pytest.raises(SettingsError, match="no such file"):
        read_scenarios(tmp_path / "none.csv", settings)
