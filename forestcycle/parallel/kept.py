"""Results kept in a folder, so that a second run takes up where the first stopped."""

import hashlib
import json
import pickle
from pathlib import Path
from typing import Any

from forestcycle.errors import Fault, StoreError
from forestcycle.version import VERSION

KEY_LENGTH = 32


class KeptResults:
    """One JSON file per result, named by what the result depends on.

    Parameters
    ----------
    folder : Path
        Made if it is not there.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise StoreError(
                Fault(f"cannot be written to: {error.strerror}", str(folder), "choose another")
            ) from None

    def find(self, key: str) -> Any | None:  # noqa: ANN401 - any JSON value
        """Give the result kept under a key.

        Parameters
        ----------
        key : str
            As from :func:`content_key`.

        Returns
        -------
        JSON value or None
            None where there is none; a damaged file counts as none.
        """
        try:
            return json.loads(self._path(key).read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return None

    def keep(self, key: str, value: Any) -> Any:  # noqa: ANN401 - any JSON value
        """Write a result, whole or not at all.

        Parameters
        ----------
        key : str
            As from :func:`content_key`.
        value : JSON value

        Returns
        -------
        JSON value
            As :meth:`find` will give it.

        Raises
        ------
        StoreError
            If the folder cannot be written to.
        """
        path = self._path(key)
        part = path.with_suffix(".part")
        text = json.dumps(value)
        try:
            part.write_text(text, encoding="utf-8")
            part.replace(path)
        except OSError as error:
            raise StoreError(
                Fault(f"writing failed: {error.strerror}", str(path), "free some space")
            ) from None
        return json.loads(text)

    def _path(self, key: str) -> Path:
        return self.folder / f"{key}.json"


def value_digest(value: object) -> str:
    """Return a hash of a value that can be pickled, its arrays included.

    Parameters
    ----------
    value : object

    Returns
    -------
    str
        Equal hashes mean equal values; equal values may, at worst, differ in it.
    """
    arrays: list[pickle.PickleBuffer] = []
    found = hashlib.sha256(pickle.dumps(value, protocol=5, buffer_callback=arrays.append))
    for array in arrays:
        found.update(array.raw())
    return found.hexdigest()


def content_key(*contents: object) -> str:
    """Name a result by all that it depends on, this program's version included.

    Parameters
    ----------
    *contents : object
        JSON values: settings, hashes of files, seeds.

    Returns
    -------
    str
        The same for the same contents, in any process.
    """
    text = json.dumps([VERSION, *contents], sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:KEY_LENGTH]
