import pytest

import sample_city
from forestcycle.cycle import assess_city, open_city
from forestcycle.errors import SettingsError


def test_own_tables_lie_beside_the_settings(tmp_path):
    """A relative ``practice.tables`` starts from the settings file, wherever the user stands."""
    settings = sample_city.make(tmp_path, trees=300, seed=5)
    with settings.open("a", encoding="utf-8") as file:
        file.write('\n[practice]\ntables = "own"\n')
    (tmp_path / "own").mkdir()
    (tmp_path / "own" / "labour.csv").write_text("nonsense\n1\n", "utf-8")
    with pytest.raises(SettingsError, match=r"labour\.csv"):
        assess_city(open_city(settings))


def test_notes_come_in_the_citys_units(tmp_path):
    settings = sample_city.make(tmp_path, trees=300, seed=5)
    assert "units" not in settings.read_text("utf-8").partition("[publish]")[2]
    with settings.open("a", encoding="utf-8") as file:
        file.write('\n[publish]\nunits = "us"\n')
    notes = assess_city(open_city(settings)).trees["note"]
    assert notes.str.contains(" in[.,]", regex=True).any()
    assert not notes.str.contains(" cm", regex=False).any()
