"""Hold the project's books against the ledger, line by line and cent by cent."""

from collections import Counter
from datetime import date

from tests.season.season import Season, rows_of

BOOKS = "city_books.gpkg"


def faults_of(season: Season) -> list[str]:
    """List every difference between the books, the plan in force and the ledger."""
    return [*visits_differ(season), *refusals_differ(season), *money_differs(season),
            *promises_broken(season)]  # fmt: skip


def visits_differ(season: Season) -> list[str]:
    """Compare visits and minutes: the same ones, with the same facts, none twice."""
    rows = rows_of(
        season.folder / BOOKS, "visits", "tree_id, visited_on, crew, outcome, minutes, dose"
    )
    books = {
        (tree, date.fromisoformat(day[:10]), crew): (outcome, minutes, dose)
        for tree, day, crew, outcome, minutes, dose in rows
    }
    faults = [] if len(books) == len(rows) else ["a visit stands twice in the books"]
    ledger = season.ledger.recorded
    faults += [
        f"{visit}: books {books.get(visit)}, ledger {ledger.get(visit)}"
        for visit in books.keys() | ledger.keys()
        if books.get(visit) != ledger.get(visit)
    ]
    if abs(sum(facts[1] for facts in books.values()) - season.ledger.minutes()) > 1e-6:
        faults.append("minutes do not add up")
    changes = rows_of(season.folder / BOOKS, "changes", "visits")
    if sum(visits for (visits,) in changes) != len(books):
        faults.append("the changes do not add up to the visits")
    return faults


def refusals_differ(season: Season) -> list[str]:
    """Compare refusals; a file handed in twice is refused once."""
    rows = rows_of(season.folder / BOOKS, "refused", "file, row")
    told = len(set(rows))
    expected = season.ledger.refused
    return [] if told == expected else [f"refused: books {told}, ledger {expected}"]


def money_differs(season: Season) -> list[str]:
    """Compare money: what the revised plan holds as spent by today, and the ledger's sum."""
    plan = season.plan / "plan.gpkg"
    days = rows_of(plan, "crew_days", "date, cost_cents")
    aside = rows_of(plan, "done", "cost_cents, day_cost_cents, in_plan")
    spent = sum(cents for day, cents in days if day[:10] < str(season.today))
    spent += sum(own + of_day for own, of_day, in_plan in aside if not in_plan)
    cents = season.ledger.cents()
    return [] if spent == cents else [f"money: plan {spent}, ledger {cents}"]


def promises_broken(season: Season) -> list[str]:
    """Nobody cuts a tree twice in a season, nor plans to, and none before it may be cut."""
    faults = [
        f"{tree} was cut {times} times"
        for tree, times in Counter(tree for tree, _, _ in season.ledger.worked()).items()
        if times > 1
    ]
    ahead = rows_of(
        season.plan / "plan.gpkg", "stops", "tree_id, date, not_before, dose, dose_limit"
    )
    cut: dict[str, date] = {tree: day for tree, day, _ in season.ledger.worked()}
    for tree, day, not_before, dose, limit in ahead:
        if day[:10] < not_before[:10]:
            faults.append(f"{tree} is planned on {day}, before {not_before}")
        if dose > limit + 1e-9:
            faults.append(f"{tree} is planned with {dose}, over {limit}")
        if day[:10] >= str(season.today) and tree in cut:
            faults.append(f"{tree} was cut on {cut[tree]} and is planned again on {day}")
    return faults
