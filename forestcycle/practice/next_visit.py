"""When a tree is due again once a visit is made as planned."""

from dataclasses import replace

import numpy as np

from forestcycle.inventory.schema import Inventory
from forestcycle.practice.assessment import Assessment
from forestcycle.practice.catalogue import IntArray
from forestcycle.practice.programme import limits_and_rules
from forestcycle.practice.recall import DateArray, Recall, load_recall, recall
from forestcycle.practice.standing import stand


def next_recall(
    inventory: Inventory, assessment: Assessment, row: IntArray, visited_on: DateArray
) -> Recall:
    """Recall trees anew, as if each had been visited with the dose of its assessment.

    Parameters
    ----------
    inventory : Inventory
        The one that was assessed.
    assessment : Assessment
    row : ndarray of int64, shape (k,)
        Trees to visit.
    visited_on : ndarray of datetime64, shape (k,)
        Day of each visit.

    Returns
    -------
    Recall
        One entry per visit; ``state`` is that on the day of the assessment.
    """
    practice, folder = assessment.practice, assessment.folder
    visited = replace(inventory, trees=inventory.trees.iloc[row].reset_index(drop=True))
    judged = assessment.trees.iloc[row]
    standing = stand(visited, region=practice.growth_region, on=assessment.on, folder=folder)
    _, rules = limits_and_rules(practice, standing, folder=folder)
    dose = judged["dose"].to_numpy(dtype="float64")
    return recall(
        load_recall(folder=folder),
        on=assessment.on,
        age_class=standing.age_class,
        state=standing.state,
        growth_cm_per_year=standing.growth_cm_per_year,
        planted_on=standing.planted_on,
        last_visit=np.asarray(visited_on, dtype="datetime64[ns]"),
        last_dose=dose,
        usual_dose=rules.sound_usual,
        remaining_dose=np.maximum(judged["dose_needed"].to_numpy(dtype="float64") - dose, 0),
    )
