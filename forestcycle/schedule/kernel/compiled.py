"""Machine code kept from the last run, and when it must not be used again."""

from pathlib import Path


def forget_outdated(folder: Path) -> None:
    """Delete compiled functions that are older than any source in their folder.

    numba compares a kept function with the file that it stands in, and not with
    the files of the functions that it calls: after a change in one file, callers
    in the others would go on with the old code.

    Parameters
    ----------
    folder : Path
        Holds Python files, and beside them ``__pycache__``. A cache that stands
        elsewhere, by ``NUMBA_CACHE_DIR``, is left alone.
    """
    changed = max(source.stat().st_mtime for source in folder.glob("*.py"))
    for kept in (folder / "__pycache__").glob("*.nb[ic]"):
        try:
            if kept.stat().st_mtime < changed:
                kept.unlink()
        except OSError:  # another run was faster, or the folder is not ours to write in
            continue
