"""Cells and names that mean more than they say, in one program or another."""

from random import Random

FORMULAS = (
    '=HYPERLINK("http://harm.invalid","x")',
    "=1+1",
    "+1+1",
    "-1+1",
    "@SUM(1)",
    "\t=1+1",
    "\r=1+1",
    "\n=1+1",
    "'=1+1",
    "\uff1d1+1",
    '=cmd|" /C calc"!A0',
)
PATHS = (
    "../../../escaped",
    "..\\..\\escaped",
    "/var/escaped",
    "C:\\escaped",
    "..",
    ".",
    "CON",
    "nul",
    "aux.txt",
    "COM1",
    "LPT9.csv",
    "a/b/c",
    "name.",
    "name ",
    ".hidden",
    "x" * 400,
    "a\x00b",
    "file:///etc/passwd",
    "/vsicurl/http://harm.invalid/x.gpkg",
)
STATEMENTS = (
    'x"; DROP TABLE trees; --',
    "x'); DELETE FROM gpkg_contents; --",
    "sqlite_master",
    "trees] UNION SELECT 1 --",
    "a'b\"c`d",
    "SELECT * FROM trees",
)
MARKUP = ("<script>alert(1)</script>", "${7*7}", "{{7*7}}", "%n%s%x", "]]>", "<!--", "&amp;")
STRANGE = (
    "",
    " ",
    "\u202egnp.exe",
    "\ud7ff\ue000",
    "e\u0301" * 50,
    "\u0000",
    "木" * 300,
    "🌳" * 40,
    "NaN",
    "null",
    "None",
    "TRUE",
    "y" * 20_000,
)
NUMBERS = (
    "nan",
    "inf",
    "-inf",
    "1e308",
    "-1e308",
    "1e400",
    "-0",
    "9" * 400,
    "9223372036854775808",
    "-9223372036854775809",
    "1,5",
    "1.5.5",
    "0x1F",
    "1e-320",
    "٣",
    "1_000",
    "1" + "0" * 17,
)
DATES = (
    "0000-00-00",
    "0001-01-01",
    "9999-12-31",
    "2027-02-30",
    "-1-1-1",
    "1677-09-20",
    "2262-04-12",
    "31/12/26",
    "20261231T000000Z",
    "99999999999",
    "2026-12-31T23:59:60Z",
)
NAMES = FORMULAS + PATHS + STATEMENTS + MARKUP + STRANGE
CELLS = NAMES + NUMBERS + DATES


def bad_cell(random: Random) -> str:
    """Return any of them."""
    return random.choice(CELLS)


def bad_name(random: Random) -> str:
    """Return one that could be a name."""
    return random.choice(NAMES)
