"""Write a plan's layers and figures, and have the verifier read them."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pandas as pd

from forestcycle.cycle.summary import Summary
from forestcycle.inventory.atomic import write_text_atomically
from forestcycle.inventory.store import write_layers
from forestcycle.progress import Progress, Step, silent
from forestcycle.publish.plan_folder import PLAN_FILE, SUMMARY_FILE
from forestcycle.schedule import verify


def write_verified(
    folder: Path,
    layers: Mapping[str, pd.DataFrame],
    summary: Summary,
    *,
    progress: Progress = silent,
) -> Summary:
    """Write ``plan.gpkg`` and ``summary.json``, and verify them.

    Parameters
    ----------
    folder : Path
        Is there already.
    layers : mapping of str to DataFrame
    summary : Summary
        Not yet verified.
    progress : Progress, optional

    Returns
    -------
    Summary
        As written, with what the verifier found.
    """
    write_layers(folder / PLAN_FILE, layers)
    write_text_atomically(folder / SUMMARY_FILE, summary.to_json())
    progress(Step("verifying the plan"))
    verification = verify(folder)
    summary = replace(
        summary,
        verified=verification.ok,
        verification_faults=[str(fault) for fault in verification.faults],
    )
    write_text_atomically(folder / SUMMARY_FILE, summary.to_json())
    return summary
