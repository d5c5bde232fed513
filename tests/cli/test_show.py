"""Tables in the terminal: numbers under one another, no short cell broken, text as it is."""

from forestcycle.cli.show import NARROWEST, show_table


def shown(capsys, header, rows):
    show_table("Title", header, rows)
    return capsys.readouterr().out.splitlines()


def test_numbers_stand_to_the_right_and_words_to_the_left(capsys):
    rows = [("a", 1, "5 %"), ("long word", 1234, ""), ("c", 0.5, "100 %")]
    lines = shown(capsys, ("what", "how many", "share"), rows)
    bodies = [line.split("\u2502") for line in lines if "\u2502" in line]
    assert [cells[0].strip() for cells in bodies] == ["a", "long word", "c"]
    assert [cells[1][-6:] for cells in bodies] == ["    1 ", "1,234 ", " 0.50 "]
    assert all(not cells[0].startswith(" ") for cells in bodies)
    assert bodies[2][2].rstrip().endswith("100 %")


def test_long_headers_give_way_before_short_cells(capsys):
    header = [f"a header of many words, number {k}" for k in range(7)]
    lines = shown(capsys, header, [["fixed rotation"] + ["100,000"] * 6])
    assert max(map(len, lines)) <= NARROWEST
    assert any("fixed rotation" in line for line in lines)


def test_markup_is_text(capsys):
    assert any("[red]x[/red]" in line for line in shown(capsys, ["a"], [["[red]x[/red]"]]))
