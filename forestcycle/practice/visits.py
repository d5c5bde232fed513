"""Work items packed into visits that keep the dose limit."""

from dataclasses import dataclass, replace
from pathlib import Path

import numba
import numpy as np
import numpy.typing as npt

from forestcycle.practice.catalogue import Catalogue, FloatArray, IntArray
from forestcycle.practice.tables import Column, load_table
from forestcycle.practice.work_items import DOSE_ROUNDING, Items

RULE_COLUMNS = {"rule": Column(once=True), "value": Column("number", least=0, most=1)}


@dataclass(frozen=True)
class VisitRules:
    """What each visit to each tree may and usually does take.

    Attributes
    ----------
    limit, usual : ndarray of float64
        At the first visit, one entry per tree.
    later_limit, later_usual : ndarray of float64
        At all later visits: as for a tree of its age class in sound state,
        since a stressed tree is cut again only after it has recovered.
    least_part : float
        No item is divided into smaller shares.
    finish : float
        A rest of this size is taken along where the limit allows.
    """

    limit: FloatArray
    usual: FloatArray
    later_limit: FloatArray
    later_usual: FloatArray
    least_part: float
    finish: float

    @property
    def sound_usual(self) -> FloatArray:
        """Usual dose of each tree in sound state, above 0."""
        return np.maximum(self.later_usual, self.least_part)


def load_packing_rules(*, folder: Path | None = None) -> tuple[float, float]:
    """Load ``packing_rules.csv``.

    Parameters
    ----------
    folder : Path, optional
        Folder with the city's own tables.

    Returns
    -------
    least_part, finish : float
        Shares of live crown, as in :class:`VisitRules`.

    Raises
    ------
    SettingsError
        If the table is not as it should be.
    """
    table = load_table("packing_rules", RULE_COLUMNS, folder=folder).set_index("rule")["value"]
    return float(table["least part"]), float(table["finish"])


def pack(items: Items, catalogue: Catalogue, rules: VisitRules) -> Items:
    """Pack work items into visits, in their order; what does not fit is carried on.

    No visit passes the dose limit. A visit stops at the usual dose; an item
    that can be done in parts is divided there, one that cannot waits for the
    next visit, where it may pass the usual dose but not the limit. Live work
    on trees whose limit is 0 even when sound is left out.

    Parameters
    ----------
    items : Items
        Sorted by tree and order of work.
    catalogue : Catalogue
    rules : VisitRules

    Returns
    -------
    Items
        With ``visit`` set; a divided item has one entry per visit.
    """
    items = items.take((items.dose <= 0) | (rules.later_limit[items.tree] > 0))
    divisible = catalogue.actions["divisible"].to_numpy()[items.action]
    usual = np.maximum(rules.later_usual[items.tree], DOSE_ROUNDING)
    room = int(np.sum(np.ceil(items.dose / np.maximum(usual, rules.least_part)))) + 3 * len(items)
    entry, visit, dose = _pack(
        items.tree,
        items.finding,
        items.stage,
        items.dose,
        divisible,
        rules.limit,
        rules.usual,
        rules.later_limit,
        rules.later_usual,
        rules.least_part,
        rules.finish,
        room,
    )
    return replace(items.take(entry), dose=dose, visit=visit)


@numba.njit(cache=True)  # type: ignore[misc, unused-ignore]
def _pack(  # noqa: C901 - one loop, compiled
    tree: IntArray,
    finding: IntArray,
    stage: IntArray,
    item_dose: FloatArray,
    divisible: npt.NDArray[np.bool_],
    limit: FloatArray,
    usual: FloatArray,
    later_limit: FloatArray,
    later_usual: FloatArray,
    least_part: float,
    finish: float,
    room: int,
) -> tuple[IntArray, IntArray, FloatArray]:
    entry = np.empty(room, np.int64)
    visit_of = np.empty(room, np.int64)
    dose_of = np.empty(room, np.float64)
    first_stage_visit = np.zeros(finding.max() + 1 if finding.size else 1, np.int64)
    parts = 0
    visit, used, most, stop = 1, 0.0, 0.0, 0.0
    for i in range(tree.size):
        if i == 0 or tree[i] != tree[i - 1]:
            visit, used, most, stop = 1, 0.0, limit[tree[i]], usual[tree[i]]
        rest = item_dose[i]
        waits = stage[i] == 1 and visit <= first_stage_visit[finding[i]]
        while True:
            take = -1.0
            free = stop - used
            if waits:
                waits = False
            elif rest <= max(free, 0.0) + 1e-9 or (
                stop > 0.0 and rest - free <= finish and rest <= most - used
            ):
                take = rest
            elif divisible[i] and free >= least_part and rest >= 2 * least_part:
                take = min(free, rest - least_part)
            elif used <= 1e-9 and stop > 0.0:
                take = rest if rest <= most and not divisible[i] else min(rest, stop)
            if take >= 0.0:
                entry[parts], visit_of[parts], dose_of[parts] = i, visit, take
                parts += 1
                used += take
                rest -= take
                if stage[i] == 0 and finding[i] >= 0:
                    first_stage_visit[finding[i]] = visit
                if rest <= 1e-9:
                    break
            visit += 1
            used, most, stop = 0.0, later_limit[tree[i]], later_usual[tree[i]]
    return entry[:parts], visit_of[:parts], dose_of[:parts]
