"""The benchmark takes any folder of instances in the published format, and says what is wrong."""

import json

import pytest

from tests.benchmarks import team_orienteering

CROSS = """n 6
m 1
tmax 4.0
0 0 0
1 0 10
2 0 20
1 5 90
1 1 3
2 0 0
"""
"""By hand: all but the point worth 90 on a path of 2 + sqrt(2), from the start over (1, 1)."""


@pytest.fixture
def ended(tmp_path, monkeypatch, capsys):
    """Run the benchmark on a folder; exit code, what it said, and its rows."""

    def run(*words, data=tmp_path):
        result = tmp_path / "rows.json"
        argv = ["team_orienteering", "--data", data, "--seconds", 0.2, "--json", result, *words]
        monkeypatch.setattr("sys.argv", [str(word) for word in argv])
        code = 0
        try:
            team_orienteering.main()
        except SystemExit as end:
            code = end.code
        said = capsys.readouterr()
        rows = json.loads(result.read_text())["rows"] if result.is_file() else []
        return code, said.out + said.err, rows

    return run


def write(folder, **files):
    for name, text in files.items():
        (folder / f"{name}.txt").write_bytes(text.encode())


def known(folder, text):
    (folder / "best_known.csv").write_text(text)


def test_one_instance(tmp_path, ended):
    write(tmp_path, one=CROSS)
    known(tmp_path, "instance,best_known\none,33\n")
    code, said, rows = ended()
    assert code == 0
    assert rows == [{"instance": "one", "worth": 33.0, "best_known": 33.0}]
    assert "1 of 1 best known values equalled" in said


@pytest.mark.parametrize(
    "spoilt",
    [
        CROSS.replace("\n", "\r\n"),
        "\ufeff" + CROSS,
        CROSS.replace(" ", "\t  "),
        "\n" + CROSS.replace("\n", " \n\n"),
        CROSS.rstrip(),
        CROSS.replace("n 6", "N 6"),
    ],
    ids=["carriage returns", "byte order mark", "tabs", "blank lines", "no last line end", "upper"],
)
def test_odd_white_space(tmp_path, ended, spoilt):
    write(tmp_path, one=spoilt)
    known(tmp_path, "instance,best_known\n one.txt , 33 \n")
    assert ended()[2] == [{"instance": "one", "worth": 33.0, "best_known": 33.0}]


@pytest.mark.parametrize(
    "table", [None, "instance,best_known\nother,3\n", "instance,best_known\none,\n"]
)
def test_without_a_best_known_value(tmp_path, ended, table):
    write(tmp_path, one=CROSS)
    if table is not None:
        known(tmp_path, table)
    code, said, rows = ended()
    assert code == 0
    assert rows == [{"instance": "one", "worth": 33.0, "best_known": None}]
    assert "0 of 0 best known values" in said


def test_some_of_many(tmp_path, ended):
    write(tmp_path, **{"p1.2.a": CROSS, "p1.3.a": CROSS, "p2.2.a": CROSS})
    assert [row["instance"] for row in ended("--instances", "p1.*")[2]] == ["p1.2.a", "p1.3.a"]
    assert [row["instance"] for row in ended("--instances", "p2.2.a.txt")[2]] == ["p2.2.a"]


def test_nothing_within_reach(tmp_path, ended):
    write(
        tmp_path, one=CROSS.replace("tmax 4.0", "tmax 0.5"), two="n 2\nm 3\ntmax 9\n0 0 0\n1 1 0\n"
    )
    known(tmp_path, "instance,best_known\none,0\ntwo,0\n")
    assert [row["worth"] for row in ended()[2]] == [0.0, 0.0]


@pytest.mark.parametrize(
    ("name", "text", "needle"),
    [
        ("bad.txt", "hello", "not the lines n, m, tmax"),
        ("bad.txt", CROSS.replace("n 6", "n 9"), "n is 9, and there are 6 points"),
        ("bad.txt", CROSS.replace("2 0 20", "2 0"), "not the lines n, m, tmax"),
        ("bad.txt", CROSS.replace("2 0 20", "2 zero 20"), "not the lines n, m, tmax"),
        ("best_known.csv", "name,value\none,30\n", "instance and best_known"),
        ("best_known.csv", "instance,best_known\none,many\n", "instance and best_known"),
    ],
)
def test_what_is_not_in_the_format_is_named_in_a_line(tmp_path, ended, name, text, needle):
    write(tmp_path, one=CROSS)
    (tmp_path / name).write_text(text)
    code, said, rows = ended()
    assert code == 2
    assert needle in said
    assert name in said
    assert rows == []


def test_no_folder_no_instance_and_no_match_are_said(tmp_path, ended):
    assert "no such folder" in ended(data=tmp_path / "nowhere")[1]
    assert "no file matches *.txt" in ended()[1]
    write(tmp_path, one=CROSS)
    for glob in ("p9*", "/one", "sub/one"):
        code, said, _ = ended("--instances", glob)
        assert code == 2
        assert f"no file matches {glob}.txt" in said
    assert "no such folder" in ended("--json", tmp_path / "no" / "rows.json")[1]
