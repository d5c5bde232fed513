"""Put files that belong together in place, so that nobody reads some new beside some old."""

import shutil
import tempfile
from collections.abc import Collection, Iterator
from contextlib import contextmanager
from pathlib import Path

from forestcycle.inventory.atomic import flush_to_disk, is_abandoned, writing

PREFIX, SUFFIX = ".together-", ".part"


@contextmanager
def replacing_together(folder: Path, names: Collection[str], *, sign: str) -> Iterator[Path]:
    """Give an empty folder to write into; its files take the place of earlier ones at the end.

    Until all are written, the earlier ones stay. Then the file that readers look for
    first is taken away, and is put in place last: who finds it, finds the others
    of the same run; who does not, is told to run the command again.

    Parameters
    ----------
    folder : Path
        Where the files shall stand; made if it is not there. Other files in it stay.
    names : collection of str
        Of all files that may be written; an earlier one that is not written anew goes.
    sign : str
        Which of them readers look for first.

    Yields
    ------
    Path
        The folder to write into, within ``folder``.

    Raises
    ------
    StoreError
        If it cannot be written to; before the files change places, nothing is changed.
    """
    with writing(folder):
        folder.mkdir(parents=True, exist_ok=True)
        for leftover in folder.glob(f"{PREFIX}*{SUFFIX}"):
            if is_abandoned(leftover):
                shutil.rmtree(leftover, ignore_errors=True)
        fresh = Path(tempfile.mkdtemp(prefix=PREFIX, suffix=SUFFIX, dir=folder))
    try:
        yield fresh
        with writing(folder):
            _put_in_place(fresh, folder, [name for name in names if name != sign], sign)
    finally:
        shutil.rmtree(fresh, ignore_errors=True)


def _put_in_place(fresh: Path, folder: Path, others: Collection[str], sign: str) -> None:
    for name in [*others, sign]:
        if (fresh / name).exists():
            flush_to_disk(fresh / name)
    (folder / sign).unlink(missing_ok=True)
    flush_to_disk(folder)
    for name in others:
        if (fresh / name).exists():
            (fresh / name).replace(folder / name)
        else:
            (folder / name).unlink(missing_ok=True)
    flush_to_disk(folder)
    (fresh / sign).replace(folder / sign)
    flush_to_disk(folder)
