import pytest

from forestcycle.errors import SettingsError
from forestcycle.outlook import Budget
from forestcycle.outlook.budget_text import parse_budgets

PRESENT = 85_000_00


def parse(text, present=PRESENT):
    return parse_budgets(text, present_cents=present, currency="USD")


def test_all_ways_to_write_a_budget():
    assert parse("80%, 1.2, 4 crews, 250000, 100%/70%/100%") == [
        Budget("80 %", cents=(68_000_00,)),
        Budget("120 %", cents=(102_000_00,)),
        Budget("4 crews", most_crews=4),
        Budget("250,000", cents=(250_000_00,)),
        Budget("100 % / 70 % / 100 %", cents=(85_000_00, 59_500_00, 85_000_00)),
    ]


def test_the_last_year_stands_for_all_after_it():
    assert parse("100%/50%")[0].of_years(4).tolist() == [85e5, 42.5e5, 42.5e5, 42.5e5]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("8500000", "100 times the present budget of 85,000 USD a year"),
        ("8500000", "is it in cents?"),
        ("85", "one 1,000th of the present budget"),
        ("85", "is it in thousands?"),
        ("a lot", "is not a budget"),
        ("0 crews", "no crew at all"),
        ("0%", "0% of the present budget"),
        ("5000%", "5000% of the present budget"),
        ("80%,80%", "stands there twice"),
        ("80%,,90%", "is not a budget"),
    ],
)
def test_a_budget_that_cannot_be_meant_is_refused_with_a_hint(text, said):
    with pytest.raises(SettingsError, match=r".") as error:
        parse(text)
    assert said in str(error.value)


def test_all_faults_at_once():
    with pytest.raises(SettingsError) as error:
        parse("nothing, 8500000, 0 crews")
    assert len(error.value.faults) == 3


def test_a_share_needs_a_present_budget():
    with pytest.raises(SettingsError, match="crew-days cost nothing"):
        parse("80%", present=None)
    assert parse("3 crews", present=None) == [Budget("3 crews", most_crews=3)]
