"""Budgets as a council writes them: ``80%, 100%, 4 crews, 250000, 100%/70%/100%``."""

import re

from forestcycle.errors import Fault, SettingsError
from forestcycle.outlook.budget import Budget

CREWS = re.compile(r"(\d+)\s*crews?")
PERCENT = re.compile(r"([\d.]+)\s*%")
MONEY = re.compile(r"[\d_]+(\.\d+)?")
LARGEST_FACTOR = 20.0
"""Numbers up to this are times the present budget, larger ones money."""
CENTS = 100
WHERE = "--budgets"


def parse_budgets(text: str, *, present_cents: int | None, currency: str) -> list[Budget]:
    """Read a list of budgets.

    Parameters
    ----------
    text : str
        Separated by commas: a share of the present budget (``80%`` or
        ``0.8``), money a year in whole units of the currency, a number of
        crews (``4 crews``), or a budget by year with ``/`` between the years,
        of which the last stands for all after it.
    present_cents : int or None
        The present budget of a year; None where there is neither a budget
        nor a price of a crew-day.
    currency : str
        For messages.

    Returns
    -------
    list of Budget
        In the order given.

    Raises
    ------
    SettingsError
        With one fault per budget that cannot be read or cannot be meant.
    """
    read = [_budget(part.strip(), present_cents, currency) for part in text.split(",")]
    budgets = [found for found in read if isinstance(found, Budget)]
    faults = [found for found in read if isinstance(found, Fault)]
    names = [budget.name for budget in budgets]
    twice = sorted({name for name in names if names.count(name) > 1})
    faults += [Fault(f"{name!r} stands there twice", WHERE, "leave one out") for name in twice]
    if faults:
        raise SettingsError(faults)
    return budgets


def _budget(word: str, present_cents: int | None, currency: str) -> Budget | Fault:
    crews = CREWS.fullmatch(word)
    if crews:
        count = int(crews[1])
        if count < 1:
            return Fault(f"{word!r}: no crew at all", WHERE, "give at least one")
        return Budget(name=f"{count} crew{'s' if count > 1 else ''}", most_crews=count)
    years = []
    for part in word.split("/"):
        cents = _cents(part.strip(), present_cents, currency)
        if isinstance(cents, Fault):
            return cents
        years.append(cents)
    return Budget(name=_name(word), cents=tuple(years))


def _cents(word: str, present_cents: int | None, currency: str) -> int | Fault:
    percent, money = PERCENT.fullmatch(word), MONEY.fullmatch(word)
    if not percent and not money:
        remedy = "write 80%, 250000 or '4 crews', separated by commas"
        return Fault(f"{word!r} is not a budget", WHERE, remedy)
    number = float(percent[1]) / 100 if percent else float(word.replace("_", ""))
    if not percent and number > LARGEST_FACTOR:
        return _plausible(word, round(number * CENTS), present_cents, currency)
    if present_cents is None:
        return Fault(
            f"{word!r} of what? There is no budget and crew-days cost nothing",
            WHERE,
            "set budget.year_cents or day_cost_cents, or give a number of crews: '4 crews'",
        )
    if not 0 < number <= LARGEST_FACTOR:
        remedy = f"give a share above 0 and at most {LARGEST_FACTOR:.0%}"
        return Fault(f"{word!r} is {number:.0%} of the present budget", WHERE, remedy)
    return round(number * present_cents)


def _plausible(word: str, cents: int, present_cents: int | None, currency: str) -> int | Fault:
    """Refuse money that is out of all proportion to the present budget."""
    if present_cents is None or present_cents == 0:
        return cents
    times = cents / present_cents
    if 1 / LARGEST_FACTOR <= times <= LARGEST_FACTOR:
        return cents
    present = f"{present_cents / CENTS:,.0f} {currency}"
    if times > 1:
        ratio = f"{times:,.0f} times"
        hint = "is it in cents? " if times <= LARGEST_FACTOR * CENTS else ""
    else:
        ratio = f"one {1 / times:,.0f}th of"
        hint = "is it in thousands? "
    return Fault(
        f"{word!r} is {ratio} the present budget of {present} a year",
        WHERE,
        f"{hint}give whole {currency} a year, or a share such as 120%",
    )


def _name(word: str) -> str:
    """Return a budget's name as shown: shares in percent, money with separators."""
    return " / ".join(_shown(part.strip()) for part in word.split("/"))


def _shown(part: str) -> str:
    percent = PERCENT.fullmatch(part)
    if percent:
        return f"{float(percent[1]):g} %"
    number = float(part.replace("_", ""))
    return f"{100 * number:g} %" if number <= LARGEST_FACTOR else f"{number:,.0f}"
