"""Which returns can be recorded, which are there already, and which say what cannot be."""

from collections.abc import Container
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import pandas as pd

from forestcycle.inventory.schema import VISIT
from forestcycle.practice.history import ONE_PIECE_OF_WORK

FACTS = ["outcome", "minutes", "dose"]
"""In what two returns of one visit must agree."""
WORDS = ["reason", "work_left", "defects_seen", "note", "who"]
"""Where one may say more than the other."""
CONTENT = [name for name in WORDS if name != "who"]
"""What must not be lost where a visit is on record without it."""
LEAST_DOSE = 0.01
"""A smaller one was likely a share where per cent were asked for, unless it was planned so."""
SOON_DAYS = int(ONE_PIECE_OF_WORK / np.timedelta64(1, "D"))
"""Within so many days, a second visit of a tree that was done is told of."""
WRITE_DAYS = "write 2027-04-03, or say --day-first or --month-first"
MOST_MINUTES = 24 * 60.0


@dataclass(frozen=True)
class Checked:
    """Returns sorted by what can be done with them.

    Attributes
    ----------
    new : DataFrame
        To be recorded, sorted by visit.
    known : int
        Returns that say what is recorded already.
    refused : DataFrame
        ``row tree_id visited_on crew fault remedy``.
    warnings : DataFrame
        Same columns; recorded all the same.
    """

    new: pd.DataFrame
    known: int
    refused: pd.DataFrame
    warnings: pd.DataFrame

    def warned(self, more: pd.DataFrame) -> "Checked":
        """Return the same with further warnings.

        Parameters
        ----------
        more : DataFrame
            In the layout of ``warnings``.

        Returns
        -------
        Checked
        """
        return replace(self, warnings=_joined([self.warnings, more]))


def check_returns(
    returns: pd.DataFrame, recorded: pd.DataFrame, trees: Container[str], *, today: date
) -> Checked:
    """Sort returns; the order of rows makes no difference.

    Parameters
    ----------
    returns : DataFrame
        From :func:`~forestcycle.fieldwork.returns.read_returns`.
    recorded : DataFrame
        Every visit on record: ``tree_id visited_on crew outcome minutes dose``,
        ``WORDS`` as far as they are known, and ``change``, that of the books
        which brought it, 0 or missing where the inventory itself did.
    trees : container of str
        Ids of the usable trees.
    today : date
        A later visit has not happened yet.

    Returns
    -------
    Checked
    """
    refused = _impossible(returns, recorded, trees, today)
    sound = returns[~returns["row"].isin(refused["row"])]
    distinct = _words_together(sound)
    several = distinct.duplicated(VISIT, keep=False)
    disputed = sound.merge(distinct.loc[several, VISIT].drop_duplicates(), on=VISIT)
    refused_twice = _told(
        disputed,
        "two returns of this visit differ",
        "ask the crew which one is true, and send that one",
    )
    single = distinct[~several]
    known = recorded.reindex(columns=[*VISIT, *FACTS, *CONTENT, "change"]).drop_duplicates(VISIT)
    before = single.merge(known, on=VISIT, how="left", indicator=True, suffixes=("", "_before"))
    on_record = (before["_merge"] == "both").to_numpy()
    refused_before = _differing(before[on_record])
    new = single[~on_record].sort_values(VISIT, ignore_index=True)
    return Checked(
        new=new,
        known=len(sound) - len(disputed) - len(new) - len(refused_before),
        refused=_one_row_each(_joined([refused, refused_twice, refused_before])),
        warnings=_warnings(new, recorded, today),
    )


def _warnings(new: pd.DataFrame, recorded: pd.DataFrame, today: date) -> pd.DataFrame:
    """Name what is recorded as told, and yet looks like a slip."""
    dose = new["dose"]
    over = dose > new["dose_limit"] + 1e-9
    slight = (dose > 0) & (dose < LEAST_DOSE) & ~(new["planned_dose"] <= LEAST_DOSE)
    old = new["visited_on"] < pd.Timestamp(today) - pd.DateOffset(years=1)
    limit = "took more than the limit for this visit"
    rests = "recorded as told; the tree rests longer"
    pairs = _pairs(new, recorded)
    piecemeal = ~over & (_dose_together(new, pairs) > new["dose_limit"] + 1e-9)
    together = f"took more than the limit with the visits of {SOON_DAYS} days before"
    return _joined(
        [
            _told(new[over], limit, rests),
            _told(new[piecemeal], together, rests),
            _told(new[slight], "a dose under 1 %", "recorded as told; undo if a share was meant"),
            _told(new[old], "over a year ago", "recorded as told; undo if the year is wrong"),
            _soon_again(pairs),
        ]
    )


def _words_together(returns: pd.DataFrame) -> pd.DataFrame:
    """Make one row of returns with the same facts, with what each said in words."""
    alike = returns.duplicated(VISIT + FACTS, keep=False)
    if not alike.any():
        return returns
    keys = VISIT + FACTS
    groups = returns[alike].fillna(dict.fromkeys(WORDS, "")).groupby(keys, sort=False, dropna=False)
    said = groups[WORDS].agg(_each_once)
    first = returns[alike].drop_duplicates(keys).drop(columns=WORDS)
    together = first.merge(said.reset_index(), on=keys)
    return pd.concat([returns[~alike], together[list(returns.columns)]], ignore_index=True)


def _each_once(words: pd.Series) -> str:
    return "; ".join(sorted({*words} - {""}))


def _differing(before: pd.DataFrame) -> pd.DataFrame:
    """Refuse what contradicts a visit on record, or says in words what is not there yet."""
    facts = {name: ~_agree(before, name) for name in FACTS}
    words = {name: _unsaid(before, name) for name in CONTENT}
    differs = pd.DataFrame(facts | words, index=before.index)
    names = [", ".join(differs.columns[row]) for row in differs.to_numpy()]
    change = before["change"].fillna(0).astype("int64")
    remedy = "if this one is true: undo back to change " + change.astype("str")
    remedy = remedy + ", then record it and the later files"
    remedy = remedy.mask(change == 0, "if this one is true: correct the inventory's visits")
    told = _told(before, "", "").assign(
        fault=[f"differs from what is recorded for this visit: {name}" for name in names],
        remedy=remedy.to_numpy(),
    )
    return told[differs.any(axis=1)]


def _agree(before: pd.DataFrame, name: str) -> pd.Series:
    told, known = before[name], before[f"{name}_before"]
    if name == "outcome":
        return told == known
    return ((told - known).abs() < 1e-6) | (told.isna() & known.isna())


def _unsaid(before: pd.DataFrame, name: str) -> list[bool]:
    pairs = zip(before[name], before[f"{name}_before"].fillna(""), strict=True)
    return [any(part not in known for part in told.split("; ")) for told, known in pairs]


def _pairs(new: pd.DataFrame, recorded: pd.DataFrame) -> pd.DataFrame:
    """Put each new visit beside every visit of its tree, itself too, with the days since that."""
    columns = [*VISIT, "outcome", "dose"]
    known = recorded.loc[recorded["tree_id"].isin(set(new["tree_id"])), columns]
    others = pd.concat([new[columns], known])
    pairs = new[["row", *VISIT, "outcome"]].merge(others, on="tree_id", suffixes=("", "_other"))
    return pairs.assign(days=(pairs["visited_on"] - pairs["visited_on_other"]).dt.days)


def _dose_together(new: pd.DataFrame, pairs: pd.DataFrame) -> pd.Series:
    """Dose of each new visit with those of the same tree shortly before it."""
    near = pairs[(pairs["days"] >= 0) & (pairs["days"] <= SOON_DAYS)]
    once = near.drop_duplicates(["row", "visited_on_other", "crew_other"])
    return once.groupby("row")["dose"].sum().reindex(new["row"]).set_axis(new.index)


def _soon_again(pairs: pd.DataFrame) -> pd.DataFrame:
    """Name new visits to trees that another visit has done within a few weeks of them.

    One visit under two names of its crew, or under two dates, would count twice.
    """
    pairs = pairs[(pairs["outcome"] != "skipped") & (pairs["outcome_other"] == "done")]
    days = pairs["days"]
    other = (days != 0) | (pairs["crew"] != pairs["crew_other"])
    other &= (days >= 0) | (pairs["outcome"] == "done")  # begun before it was done is as it should
    near = pairs[other & (days.abs() <= SOON_DAYS)].drop_duplicates("row")
    when = near["visited_on_other"].dt.strftime("%Y-%m-%d")
    fault = "this tree was done on " + when + " by " + near["crew_other"]
    return _told(near, "", "both count; undo if it is the same visit").assign(fault=fault)


def _one_row_each(refused: pd.DataFrame) -> pd.DataFrame:
    """Join all faults of a row, so that there are as many rows as refused returns."""
    if not refused["row"].duplicated().any():
        return refused
    groups = refused.groupby("row")[["fault", "remedy"]]
    told = groups.agg(_in_order).reset_index()
    return refused.drop_duplicates("row")[["row", *VISIT]].merge(told, on="row")


def _in_order(texts: pd.Series) -> str:
    return "; ".join(dict.fromkeys(texts))


def _impossible(
    returns: pd.DataFrame, recorded: pd.DataFrame, trees: Container[str], today: date
) -> pd.DataFrame:
    """Refuse what no crew can have done; a visit on record may be of a tree that is gone since."""
    known = np.array([tree in trees for tree in returns["tree_id"]], dtype=bool)
    known |= pd.MultiIndex.from_frame(returns[VISIT]).isin(
        pd.MultiIndex.from_frame(recorded[VISIT])
    )
    minutes, dose, skipped = returns["minutes"], returns["dose"], returns["outcome"] == "skipped"
    future = returns["visited_on"] > pd.Timestamp(today)
    faults = [
        _told(returns[~known], "no usable tree with this id", "correct the id, or its tree"),
        _told(returns[returns["crew"] == ""], "no crew", "say which crew it was"),
        _told(returns[future], f"lies after {today}", "correct the date"),
        _told(
            returns[(dose < 0) | (dose > 1)],
            "dose not within 0 to 100 %",
            "correct the dose; in a plain table 6 % is 0.06",
        ),
        _told(
            returns[(minutes < 0) | (minutes > MOST_MINUTES)],
            "minutes not within one day",
            "correct the minutes",
        ),
        _told(returns[skipped & (dose > 0)], "skipped, yet with a dose", "correct one of the two"),
    ]
    unreadable = returns[returns["unreadable"] != ""]
    told = _told(unreadable, "", "correct the entry").assign(fault=unreadable["unreadable"])
    no_day = told["visited_on"].isna()
    faults.append(told.assign(remedy=told["remedy"].mask(no_day, WRITE_DAYS)))
    return _joined(faults)


def _told(rows: pd.DataFrame, fault: str, remedy: str) -> pd.DataFrame:
    return rows[["row", *VISIT]].assign(fault=fault, remedy=remedy)


def _joined(parts: list[pd.DataFrame]) -> pd.DataFrame:
    filled = [part for part in parts if len(part)]
    joined = pd.concat(filled) if filled else parts[0]
    return joined.sort_values(["row", "fault"], ignore_index=True)
