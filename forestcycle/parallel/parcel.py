"""A value in a file, for worker processes of the same machine.

Arrays lie in the file as they are and are mapped into memory, read-only: all
workers look at one copy.
"""

import mmap
import pickle
import struct
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from typing import Any, BinaryIO, Generic

from forestcycle.parallel.task import Value

ALIGNMENT = 64
PARCELS_OPEN = 4
_LENGTH = struct.Struct("<Q")


class Parcel(Generic[Value]):
    """A value written to a file once; see :meth:`write`.

    Parameters
    ----------
    path : Path
    """

    def __init__(self, path: Path) -> None:
        self.path = path

    @classmethod
    def write(cls, value: Value, path: Path) -> "Parcel[Value]":
        """Write a value with its arrays laid out for memory maps.

        Parameters
        ----------
        value : object
            Anything that can be pickled.
        path : Path
            New file.

        Returns
        -------
        Parcel
        """
        arrays: list[pickle.PickleBuffer] = []
        frame = pickle.dumps(value, protocol=5, buffer_callback=arrays.append)
        with path.open("wb") as file:
            file.write(_LENGTH.pack(len(arrays)))
            for content in (memoryview(frame), *(array.raw() for array in arrays)):
                file.write(_LENGTH.pack(len(content)))
                _align(file)
                file.write(content)
        return cls(path)

    def open(self) -> Value:
        """Give the value; the last few stay open in this process.

        Returns
        -------
        object
        """
        value: Value = _opened(self.path)
        return value


def _align(file: BinaryIO) -> None:
    file.write(bytes(-file.tell() % ALIGNMENT))


@lru_cache(maxsize=PARCELS_OPEN)
def _opened(path: Path) -> Any:  # noqa: ANN401 - whatever was written
    with path.open("rb") as file:
        view = memoryview(mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ))
    frame, *arrays = _contents(view)
    return pickle.loads(frame, buffers=arrays)  # noqa: S301 - written by our own parent process


def _contents(view: memoryview) -> Iterator[memoryview]:
    """Give the pickle and then every array of a parcel."""
    (arrays,) = _LENGTH.unpack_from(view)
    place = _LENGTH.size
    for _ in range(arrays + 1):
        (length,) = _LENGTH.unpack_from(view, place)
        place += _LENGTH.size
        place += -place % ALIGNMENT
        yield view[place : place + length]
        place += length
