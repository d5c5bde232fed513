"""Write, verify and publish a revised plan in the old one's place."""

import time
from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd

from forestcycle.cycle.in_force import PlanInForce
from forestcycle.cycle.outcome import Outcome
from forestcycle.cycle.revision_log import last_number, with_revision
from forestcycle.cycle.revision_now import Now
from forestcycle.cycle.revision_report import RevisionReport
from forestcycle.cycle.summarise import summarise
from forestcycle.cycle.summary import Summary
from forestcycle.cycle.versions import next_version
from forestcycle.cycle.written_plan import write_verified
from forestcycle.inventory.atomic import write_text_atomically
from forestcycle.inventory.spreadsheet import spreadsheet_text
from forestcycle.progress import Progress, Step
from forestcycle.publish import publish
from forestcycle.publish.outlook_folder import kept_outlook
from forestcycle.publish.plan_folder import SUMMARY_FILE
from forestcycle.publish.unchanged import Unchanged


def write_revision(
    now: Now,
    outcome: Outcome,
    layers: dict[str, pd.DataFrame],
    table: pd.DataFrame,
    report: RevisionReport,
    *,
    began: float,
    workers: int,
    progress: Progress,
) -> tuple[int, Summary]:
    """Write, verify and publish the revised plan, then put it in the old one's place.

    Parameters
    ----------
    now : Now
    outcome : Outcome
    layers : dict of str to DataFrame
        From :func:`forestcycle.cycle.revision_layers.revised_layers`.
    table : DataFrame
        As it shall stand in ``revision.csv``.
    report : RevisionReport
    began : float
        When the revision did, on the monotonic clock.
    workers : int
        Processes that draw sheets.
    progress : Progress

    Returns
    -------
    change : int
        Its number.
    summary : Summary

    Raises
    ------
    StoreError
        If it cannot be written; the old plan is then as it was.
    """
    changes = with_revision(now.plan.changes, report, now.city.inventory.sha256)
    change = last_number(changes)
    with next_version(now.plan.folder, change) as fresh:
        progress(Step("writing the plan"))
        summary = summarise(outcome, layers["crew_days"])
        reserve = int((layers["crew_days"]["use"] == "storm reserve").sum())
        summary = replace(summary, crew_days_storm_reserve=reserve)
        summary = write_verified(fresh, layers | {"changes": changes}, summary, progress=progress)
        write_text_atomically(fresh / "revision.csv", spreadsheet_text(table))
        write_text_atomically(fresh / "revision.json", report.to_json())
        same = _unchanged_crew_days(now.plan, layers["stops"])
        same |= _crew_days_before(layers["crew_days"], now.facts.from_day)
        publish(
            fresh,
            outlook=kept_outlook(now.plan.folder),
            unchanged=Unchanged(now.plan.folder, same),
            workers=workers,
            progress=progress,
        )
        summary = replace(summary, seconds=round(time.monotonic() - began, 1))
        write_text_atomically(fresh / SUMMARY_FILE, summary.to_json())
    return change, summary


def _unchanged_crew_days(plan: PlanInForce, stops: pd.DataFrame) -> set[str]:
    """Crew-days of which every paper says the same as before."""
    names = [name for name in plan.stops.columns if name in stops.columns and name != "geometry"]

    def printed(table: pd.DataFrame) -> pd.Series:
        plain = pd.DataFrame({name: _printed(table[name]) for name in names})
        codes = pd.util.hash_pandas_object(plain, index=False)
        return codes.groupby(pd.DataFrame(table)["crew_day_id"].astype(str)).agg(tuple)

    before, after = printed(plan.stops), printed(stops)
    common = before.index.intersection(after.index)
    return set(common[(before[common] == after[common]).to_numpy(bool)])


def _crew_days_before(crew_days: pd.DataFrame, from_day: date) -> set[str]:
    """Crew-days that are over: their papers stay as the crews had them in hand."""
    over = pd.to_datetime(crew_days["date"]) < pd.Timestamp(from_day)
    return set(crew_days.loc[over, "crew_day_id"].astype(str))


def _printed(column: pd.Series) -> pd.Series:
    """Bring a column into one form, whether it comes from a file or from memory."""
    if pd.api.types.is_datetime64_any_dtype(column):
        days: pd.Series = column.dt.strftime("%Y-%m-%d").fillna("")
        return days
    if pd.api.types.is_numeric_dtype(column):
        return column.astype(np.float64).round(6) + 0.0  # no minus zero
    plain = column.astype(object)
    return plain.where(column.notna(), "").astype(str)
