"""A small outlook of the example plan's city, with numbers that tests can add up."""

import json
from pathlib import Path

import pandas as pd

BUDGETS = {"80 %": 800_000, "100 %": 1_000_000}
FIRST_YEAR, YEARS = 2027, 5


def write_example_outlook(
    folder: Path, *, city: str, draws: int = 0, currency: str = "EUR"
) -> Path:
    """Write an outlook folder by hand, in the columns that ``forestcycle outlook`` writes."""
    folder.mkdir(parents=True)
    years = pd.DataFrame(
        [
            {
                "budget": budget,
                "choice": choice,
                "year": FIRST_YEAR + t,
                "on_recall_share": 0.5 + 0.1 * t,
                "young_on_recall_share": 0.6 + 0.1 * t,
                "due_unvisited": 400.0 - 80 * t,
                "past_correcting": 3.0,
                "dose_owed": 30.0 - t,
                "worth_undone": 1000.0 - t,
            }
            for budget in BUDGETS
            for choice in ("best visits", "worst first")
            for t in range(YEARS)
        ]
    )
    summary = pd.DataFrame(
        [
            {
                "budget": budget,
                "choice": choice,
                "cents": cents * YEARS,
                "visits": 1000.0,
                "past_correcting": 15.0 if budget == "100 %" else 21.0,
                "dose_owed_at_end": 26.0 if budget == "100 %" else 32.0,
                "backlog_gone_year": "2030" if budget == "100 %" else "",
                "on_recall_share_at_end": 0.9,
                "young_on_recall_share_at_end": 0.95 if budget == "100 %" else 0.9,
            }
            for budget, cents in BUDGETS.items()
            for choice in ("best visits", "worst first")
        ]
    )
    wards = pd.DataFrame({"budget": ["100 %"], "ward": ["NA"], "year": [FIRST_YEAR]})
    tables = {"summary": summary, "years": years, "wards": wards, "crews": wards, "margins": wards}
    if draws:
        tables["intervals"] = pd.DataFrame(
            [
                {
                    "budget": budget,
                    "choice": "best visits",
                    "year": FIRST_YEAR + t,
                    "figure": figure,
                    "expected": 10.0 + t,
                    "low": 7.0 + t,
                    "middle": 10.0 + t,
                    "high": 19.0 + t,
                }
                for budget in BUDGETS
                for figure in ("past_correcting_so_far", "dose_owed")
                for t in range(YEARS)
            ]
        )
        tables["summary_intervals"] = pd.DataFrame(
            [
                {
                    "budget": budget,
                    "choice": "best visits",
                    "figure": figure,
                    "expected": low,
                    "low": low,
                    "middle": low,
                    "high": high,
                    "never": never,
                    "draws": draws,
                }
                for budget, figure, low, high, never in (
                    ("80 %", "cents", 3_900_000, 4_000_000, 0),
                    ("80 %", "backlog_gone_year", None, None, draws),
                    ("100 %", "cents", 5_000_000, 5_000_000, 0),
                    ("100 %", "backlog_gone_year", 2029, None, 3),
                )
            ]
        )
    for name, table in tables.items():
        table.to_csv(folder / f"{name}.csv", index=False, encoding="utf-8-sig")
    facts = {
        "city": city,
        "currency": currency,
        "first_year": FIRST_YEAR,
        "years": YEARS,
        "draws": draws,
        "least_budget": {
            "targets": ["young on recall 90% by year 4"],
            "cents_a_year": 950_000,
            "known_to_cents": 1_000,
            "share_of_present": 0.95,
            "draws_met": {"80 %": 11, "100 %": 38, "least": 24} if draws else {},
        },
    }
    (folder / "outlook.json").write_text(json.dumps(facts), encoding="utf-8")
    return folder
