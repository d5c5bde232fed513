"""The store: a GeoPackage is replaced whole or not at all."""

import hashlib
import os
import signal
import sqlite3
import subprocess
import sys
import tempfile
import textwrap
import time
from collections.abc import Iterator
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.pandas import column, data_frames

from forestcycle.errors import StoreError
from forestcycle.inventory.store import quoted, write_layers


def points(count: int, *, crs: int = 25832) -> gpd.GeoDataFrame:
    x = np.arange(count, dtype=float)
    return gpd.GeoDataFrame(
        {"tree_id": [f"t{i}" for i in range(count)], "dbh_cm": x + 10},
        geometry=shapely.points(x, x),
        crs=crs,
    )


def fingerprint(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def test_layers_and_tables_come_back(tmp_path: Path) -> None:
    path = tmp_path / "plan.gpkg"
    notes = pd.DataFrame({"key": ["seed", "text"], "value": ["1", None]})
    write_layers(path, {"trees": points(3), "run": notes})
    assert [list(row) for row in pyogrio.list_layers(path)] == [["trees", "Point"], ["run", None]]
    trees = pyogrio.read_dataframe(path, layer="trees")
    assert trees.crs == "EPSG:25832"
    assert trees["tree_id"].tolist() == ["t0", "t1", "t2"]
    assert pyogrio.read_dataframe(path, layer="run")["value"].isna().tolist() == [False, True]


def test_tables_are_registered_as_the_standard_says(tmp_path: Path) -> None:
    """OGC 12-128r18 (GeoPackage 1.3): clause 1.1.1.1.1 application id, 1.1.3 contents, 2.4
    attributes."""
    path = tmp_path / "plan.gpkg"
    write_layers(path, {"trees": points(1), "run": pd.DataFrame({"key": ["a"]})})
    database = sqlite3.connect(path)
    kinds = dict(database.execute("SELECT table_name, data_type FROM gpkg_contents"))
    (application,) = database.execute("PRAGMA application_id").fetchone()
    (mode,) = database.execute("PRAGMA journal_mode").fetchone()
    database.close()
    assert kinds == {"trees": "features", "run": "attributes"}
    assert application == int.from_bytes(b"GPKG", "big")
    assert mode == "delete"


def test_empty_layers_and_missing_geometry_are_written(tmp_path: Path) -> None:
    path = tmp_path / "plan.gpkg"
    unused = gpd.GeoDataFrame({"crew_day_id": ["a"]}, geometry=[None], crs=25832)
    write_layers(path, {"trees": points(0), "crew_days": unused})
    assert pyogrio.read_info(path, layer="trees")["features"] == 0
    assert pyogrio.read_dataframe(path, layer="crew_days").geometry.isna().all()


def test_other_layers_and_a_backup_are_kept_when_asked(tmp_path: Path) -> None:
    path = tmp_path / "city.gpkg"
    write_layers(path, {"trees": points(5), "visits": pd.DataFrame({"a": [1]})})
    before = fingerprint(path)
    write_layers(
        path, {"visits": pd.DataFrame({"a": [1, 2]})}, keep_other_layers=True, keep_backup=True
    )
    assert fingerprint(tmp_path / "city.gpkg.bak") == before
    assert pyogrio.read_info(path, layer="trees")["features"] == 5
    assert pyogrio.read_info(path, layer="visits")["features"] == 2
    write_layers(path, {"visits": pd.DataFrame({"a": [1]})})
    assert pyogrio.list_layers(path)[:, 0].tolist() == ["visits"]


def test_a_layer_that_cannot_be_written_leaves_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "plan.gpkg"
    write_layers(path, {"trees": points(5)})
    before = fingerprint(path)
    clash = pd.DataFrame({"note": [1], "NOTE": [2]})  # SQLite folds the case of column names
    with pytest.raises(StoreError, match="layer work: cannot be written"):
        write_layers(path, {"trees": points(9), "work": clash})
    assert fingerprint(path) == before
    assert [item.name for item in tmp_path.iterdir()] == ["plan.gpkg"]


@pytest.mark.parametrize("ending", ["-wal", "-journal"])
def test_a_file_open_elsewhere_is_refused(tmp_path: Path, ending: str) -> None:
    path = tmp_path / "plan.gpkg"
    write_layers(path, {"trees": points(5)})
    before = fingerprint(path)
    (tmp_path / f"plan.gpkg{ending}").write_bytes(b"unfinished")
    with pytest.raises(StoreError, match="another program has it open"):
        write_layers(path, {"trees": points(9)})
    assert fingerprint(path) == before


def test_a_file_in_use_by_another_process_is_refused(tmp_path: Path) -> None:
    """A real SQLite connection in write-ahead mode with an uncheckpointed change."""
    path = tmp_path / "plan.gpkg"
    write_layers(path, {"run": pd.DataFrame({"a": [1]})})
    script = (
        "import sqlite3, sys; d = sqlite3.connect(sys.argv[1]);"
        "d.execute('PRAGMA journal_mode=WAL');"
        "d.execute('CREATE TABLE open_elsewhere (a)'); d.commit();"
        "print('ready', flush=True); sys.stdin.readline()"
    )
    other = subprocess.Popen(
        [sys.executable, "-c", script, str(path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    with other:
        assert other.stdout is not None
        assert other.stdout.readline() == "ready\n"
        with pytest.raises(StoreError, match="another program has it open"):
            write_layers(path, {"run": pd.DataFrame({"a": [2]})})


def test_a_layer_name_cannot_be_read_as_sql(tmp_path: Path) -> None:
    path = tmp_path / "plan.gpkg"
    name = 'x"; DROP TABLE gpkg_contents; --'
    write_layers(path, {name: pd.DataFrame({"a": [1]})})
    assert pyogrio.list_layers(path)[:, 0].tolist() == [name]
    assert quoted('a"b') == '"a""b"'


@pytest.fixture
def tiny_disk() -> Iterator[Path]:
    """Give a file system of 2 MiB."""
    if not hasattr(os, "geteuid") or os.geteuid() != 0:
        pytest.skip("mounting a tiny file system needs root")
    with tempfile.TemporaryDirectory() as folder:
        mount = ["mount", "-t", "tmpfs", "-o", "size=2m", "tmpfs", folder]
        done = subprocess.run(mount, capture_output=True, text=True, check=False)
        if done.returncode:
            pytest.skip(f"cannot mount a tiny file system here: {done.stderr.strip()}")
        yield Path(folder)
        subprocess.run(["umount", folder], check=True)


def test_a_full_disk_leaves_the_old_file(tiny_disk: Path) -> None:
    path = tiny_disk / "plan.gpkg"
    write_layers(path, {"trees": points(10)})
    before = fingerprint(path)
    with pytest.raises(StoreError, match=r"cannot be written: .* MB are free on the disk"):
        write_layers(path, {"trees": points(60_000)})
    assert fingerprint(path) == before
    assert [item.name for item in tiny_disk.iterdir()] == ["plan.gpkg"]
    write_layers(path, {"trees": points(20)})
    assert pyogrio.read_info(path, layer="trees")["features"] == 20


def test_killed_at_any_moment_the_file_is_the_old_or_the_new_one(tmp_path: Path) -> None:
    path = tmp_path / "plan.gpkg"
    write_layers(path, {"trees": points(2_000)})
    old = fingerprint(path)
    script = textwrap.dedent(
        """
        import sys
        from tests.inventory.test_store import points
        from forestcycle.inventory.store import write_layers
        trees = points(3_000)
        print("ready", flush=True)
        while True:
            write_layers(sys.argv[1], {"trees": trees}, keep_backup=True)
        """
    )
    root = Path(__file__).resolve().parents[2]
    rng = np.random.default_rng(7)
    outcomes = set()
    for delay in rng.uniform(0.0, 0.3, size=6):
        writer = subprocess.Popen(
            [sys.executable, "-c", script, str(path)], stdout=subprocess.PIPE, cwd=root
        )
        with writer:
            assert writer.stdout is not None
            assert writer.stdout.readline() == b"ready\n"
            time.sleep(delay)
            writer.send_signal(signal.SIGKILL)
        count = pyogrio.read_info(path, layer="trees")["features"]
        outcomes.add(count)
        assert count == 3_000 or fingerprint(path) == old
        database = sqlite3.connect(path)
        assert database.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        database.close()
    assert outcomes <= {2_000, 3_000}


TEXT = st.text(
    st.characters(blacklist_categories=("Cs",), blacklist_characters="\0"), min_size=1, max_size=20
)


@settings(max_examples=25, deadline=None)
@given(
    data_frames(
        [
            column("tree_id", elements=TEXT, dtype=object),
            column("dose", elements=st.floats(0, 1), dtype=float),
            column("minutes", elements=st.integers(-(2**53), 2**53), dtype="int64"),
        ]
    )
)
def test_what_is_written_is_what_is_read(table: pd.DataFrame) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.gpkg"
        write_layers(path, {"visits": table})
        back = pyogrio.read_dataframe(path, layer="visits")
    assert back["tree_id"].tolist() == table["tree_id"].tolist()
    assert back["dose"].tolist() == table["dose"].tolist()
    assert back["minutes"].tolist() == table["minutes"].tolist()
