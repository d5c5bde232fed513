"""Packed files that would unpack to more than anybody meant to send."""

import gzip
import zipfile
import zlib
from pathlib import Path

from forestcycle.errors import Fault, InventoryError

MOST_BYTES = 4 << 30
SMALL_BYTES = 100 << 20
MOST_TIMES = 200
"""Inventories pack to a fifth or a tenth; DEFLATE, the method of both formats,
can reach a thousandth (zlib's technical notes say 1032 to 1)."""
BLOCK_BYTES = 1 << 20


def require_plausible(path: Path) -> None:
    """Raise where a file unpacks to an absurd size; others pass.

    Parameters
    ----------
    path : Path
        Exists; one that ends in neither ``.zip`` nor ``.gz`` is not looked at.

    Raises
    ------
    InventoryError
        It unpacks to more than 4 GiB, or to more than 200 times its size and
        100 MiB, or it is broken.
    """
    kind = path.suffix.lower()
    try:
        if kind == ".zip":
            with zipfile.ZipFile(path) as archive:
                _judge(path, sum(member.file_size for member in archive.infolist()))
        elif kind == ".gz":
            with gzip.open(path) as stream:
                total = 0
                while block := stream.read(BLOCK_BYTES):
                    total += len(block)
                    _judge(path, total)
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError) as error:
        fault = Fault(f"cannot be unpacked: {error}", str(path), "pack it anew")
        raise InventoryError(fault) from None


def _judge(path: Path, unpacked: int) -> None:
    absurd = unpacked > SMALL_BYTES and unpacked > MOST_TIMES * path.stat().st_size
    if unpacked > MOST_BYTES or absurd:
        fault = Fault(
            f"would unpack to {unpacked >> 20:,} MiB or more",
            str(path),
            "unpack it yourself, look at it, and name the file within",
        )
        raise InventoryError(fault)
