"""Read tables of delimited text: every cell as text, nothing guessed, nothing lost."""

import codecs
import gzip
import warnings
import zlib
from pathlib import Path

import pandas as pd

from forestcycle.errors import Fault, InventoryError

DELIMITERS = (",", ";", "\t", "|")
MOST_BYTES = 4 << 30
BLOCK_BYTES = 1 << 20
FALLBACK = "cp1252"
UTF_16 = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
"""How a spreadsheet's "Unicode text" begins."""
DECIMAL_COMMA = r"[-+]?\d+,\d+"


def read_delimited(
    path: Path, *, columns: list[str] | None = None, rows: int | None = None
) -> pd.DataFrame:
    """Read a table of delimited text.

    Parameters
    ----------
    path : Path
        With a header line; UTF-16 if it begins with that byte order mark,
        UTF-8, or else Windows-1252; packed with gzip if it ends in ``.gz``.
        The delimiter is the one of comma, semicolon, tab and bar that is most
        frequent in the header.
    columns : list of str, optional
        Only these.
    rows : int, optional
        Only the first so many.

    Returns
    -------
    DataFrame
        All text, empty cells as empty text. In a file delimited by
        semicolons, columns of numbers with a decimal comma get a point.

    Raises
    ------
    InventoryError
        Not such a table, broken, or longer than 4 GiB unpacked.
    """
    header, encoding = _header(path)
    delimiter = max(DELIMITERS, key=header.count)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", pd.errors.ParserWarning)
            table = pd.read_csv(
                path,
                sep=delimiter,
                dtype=str,
                keep_default_na=False,
                index_col=False,
                encoding=encoding,
                encoding_errors="replace",
                compression="gzip" if path.suffix.lower() == ".gz" else None,
                usecols=columns,
                nrows=rows,
            )
    except pd.errors.EmptyDataError:
        raise InventoryError(Fault("is empty", str(path), "save it anew")) from None
    except pd.errors.ParserWarning:
        fault = Fault(
            "rows have more cells than the first line",
            str(path),
            "begin the file with the line of column names, one for each column",
        )
        raise InventoryError(fault) from None
    except (ValueError, OSError, EOFError, zlib.error) as error:
        reason = " ".join(str(error).split())
        raise InventoryError(
            Fault(f"not a table of delimited text: {reason}", str(path), "correct that line")
        ) from None
    return _decimal_points(table) if delimiter == ";" else table


def _header(path: Path) -> tuple[str, str]:
    """Read the header line, and find out the encoding from the whole file."""
    encoding, total, first = "utf-8-sig", 0, b""
    decoder = codecs.getincrementaldecoder(encoding)()
    try:
        with gzip.open(path) if path.suffix.lower() == ".gz" else path.open("rb") as stream:
            while block := stream.read(BLOCK_BYTES):
                if not first and block.startswith(UTF_16):
                    encoding = "utf-16"
                    decoder = codecs.getincrementaldecoder(encoding)()
                first, total = first or block, total + len(block)
                if total > MOST_BYTES:
                    fault = Fault("unpacks to more than 4 GiB", str(path), "use a GeoPackage")
                    raise InventoryError(fault)
                if encoding != FALLBACK and not _decodes(block, decoder):
                    encoding = FALLBACK
    except (OSError, EOFError, zlib.error) as error:
        fault = Fault(f"cannot be read: {error}", str(path), "pack or save it anew")
        raise InventoryError(fault) from None
    lines = first.decode(encoding, errors="replace").splitlines()
    return (lines[0] if lines else ""), encoding


def _decodes(block: bytes, decoder: codecs.IncrementalDecoder) -> bool:
    try:
        decoder.decode(block)
    except UnicodeDecodeError:
        return False
    return True


def _decimal_points(table: pd.DataFrame) -> pd.DataFrame:
    for name in table.columns:
        cells = table[name]
        filled = cells != ""
        comma = cells.str.fullmatch(DECIMAL_COMMA).astype(bool)
        if comma.any() and comma.sum() * 2 >= filled.sum():
            table[name] = cells.where(~comma, cells.str.replace(",", "."))
    return table
