"""The proposed settings work from wherever they are written."""

from pathlib import Path

import pytest

from tests.cli.commands import run
from tests.cli.small_city import trees, write_city, write_trees


@pytest.fixture
def data(tmp_path: Path) -> Path:
    (tmp_path / "data").mkdir()
    write_trees(tmp_path / "data", trees())
    return tmp_path


@pytest.mark.parametrize("words", [(), ("--out", "."), ("--out", "plans/2027")])
def test_settings_find_the_inventory(data, words):
    office = data / "office"
    office.mkdir()
    ended = run("inspect", "../data/trees.gpkg", *words, "--quiet", cwd=office)
    assert ended.code == 0, ended.said
    folder = office / (words[1] if words else "")
    assert (folder / "cycle.toml").is_file()
    assert (folder / "set_aside.csv").is_file()
    assert sorted(path.name for path in (data / "data").iterdir()) == ["trees.gpkg"]
    again = run("assess", folder / "cycle.toml", "--quiet", cwd=data)
    assert again.code == 0, again.said
    assert "3 trees assessed" in again.out


def test_a_folder_behind_a_link(data):
    (data / "deep" / "er").mkdir(parents=True)
    (data / "link").symlink_to(data / "deep" / "er")
    ended = run("inspect", "data/trees.gpkg", "--out", "link", "--quiet", cwd=data)
    assert ended.code == 0, ended.said
    assert run("assess", "link/cycle.toml", "--quiet", cwd=data).code == 0


def test_an_absurd_diameter_is_set_aside_by_species(tmp_path):
    """A red maple of 300 cm is a slip of the pen; a giant sequoia of 400 cm is none."""
    write_city(tmp_path)
    species = ["Acer rubrum", "Sequoiadendron giganteum", "Acer rubrum"]
    write_trees(tmp_path, trees(dbh=[300.0, 400.0, 15.0], species=species))
    ended = run("inspect", "cycle.toml", "--quiet", cwd=tmp_path)
    assert ended.code == 0, ended.said
    aside = (tmp_path / "set_aside.csv").read_text(encoding="utf-8-sig").splitlines()
    assert len(aside) == 2
    assert "diameter absurd" in aside[1]


def test_settings_are_inspected_too(data):
    run("inspect", "data/trees.gpkg", "--out", ".", "--quiet", cwd=data)
    ended = run("inspect", "cycle.toml", "--quiet", cwd=data)
    assert ended.code == 0, ended.said
    assert "usable trees" in ended.out


def test_words_to_be_decided_are_named(tmp_path):
    words = ["good", "fair", "poor", "dead", "A", "B", "C", "D", "E", "F"]
    table = ["Baum;DBH in;Cond;POINT_X;POINT_Y"]
    table += [
        f"Acer rubrun;{n},5;{word};{7643888 + 30 * n},5;689646,4" for n, word in enumerate(words, 4)
    ]
    (tmp_path / "trees.csv").write_text("\n".join(table), encoding="utf-8")
    ended = run("inspect", "trees.csv", "--quiet", cwd=tmp_path)
    assert ended.code == 0, ended.said
    assert "which CRS" in ended.said
    assert "# source_crs = ?" in (tmp_path / "cycle.toml").read_text(encoding="utf-8")
    decide = "still to be decided: what 'A', 'B', 'C', 'D', 'E' and 1 more mean"
    assert f"{decide} -> trees.values.condition" in ended.said


def test_misspelt_species_are_put_right_by_freeing_a_line(tmp_path):
    names = ["Acer rubrum", "Gingko biloba", "Tillia cordata"]
    write_trees(tmp_path, trees(species=names))
    ended = run("inspect", "trees.gpkg", "--quiet", cwd=tmp_path)
    assert ended.code == 0, ended.said
    decide = "what 'Gingko biloba', 'Tillia cordata' mean -> trees.values.species"
    assert decide in ended.out
    settings = tmp_path / "cycle.toml"
    text = settings.read_text(encoding="utf-8")
    assert '# "Gingko biloba" = "Ginkgo biloba"' in text
    for name in names[1:]:
        text = text.replace(f'# "{name}"', f'"{name}"')
    settings.write_text(text, encoding="utf-8")
    again = run("inspect", "cycle.toml", "--quiet", cwd=tmp_path)
    assert again.code == 0, again.said
    assert "species unknown" not in again.out


def test_a_city_without_ids_is_told_what_stands_in(tmp_path):
    write_trees(tmp_path, trees().drop(columns="id"))
    ended = run("inspect", "trees.gpkg", "--quiet", cwd=tmp_path)
    assert ended.code == 0, ended.said
    assert "no field of ids: rows are numbered" in ended.out
