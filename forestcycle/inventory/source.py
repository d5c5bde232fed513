"""Where a layer lives: the file or database, the name within it, and whether it is safe to open."""

import hashlib
import zipfile
from dataclasses import dataclass
from pathlib import Path

from forestcycle.errors import Fault, InventoryError
from forestcycle.inventory.atomic import companions
from forestcycle.inventory.database import Database
from forestcycle.inventory.packed import require_plausible
from forestcycle.settings import CycleSettings
from forestcycle.settings.address import is_address

VECTOR_ENDINGS = (".fgb", ".geojson", ".geojsonl", ".gdb", ".gml", ".gpkg", ".json", ".kml", ".shp")
TABLE_ENDINGS = (".csv", ".parquet", ".sqlite", ".tab", ".tsv", ".txt", ".xlsx")
PACKED_ENDINGS = (".gz", ".zip")
FILE_ENDINGS = frozenset(VECTOR_ENDINGS + TABLE_ENDINGS + PACKED_ENDINGS)
TEXT_ENDINGS = (".csv", ".tsv", ".txt", ".csv.gz", ".tsv.gz", ".txt.gz")
SHAPEFILE_PARTS = (".shp", ".shx", ".dbf", ".prj", ".cpg")
BLOCK_BYTES = 1 << 20


@dataclass(frozen=True)
class Source:
    """A file and, where it holds several, the layer meant.

    Attributes
    ----------
    path : Path
    layer : str or None
        None: the file's only layer, or the one that fits best.
    """

    path: Path
    layer: str | None = None

    def __str__(self) -> str:
        return f"{self.path}, layer {self.layer}" if self.layer else str(self.path)


@dataclass(frozen=True)
class Table:
    """A table or view of a database.

    Attributes
    ----------
    database : Database
    layer : str or None
        ``table`` or ``schema.table``; None: the one that fits best.
    """

    database: Database
    layer: str | None = None

    def __str__(self) -> str:
        return f"{self.database}, table {self.layer}" if self.layer else str(self.database)


def inventory_place(named: str, folder: Path) -> Path | Database:
    """Find the file or the database that ``city.inventory`` means.

    Parameters
    ----------
    named : str
    folder : Path
        To which relative file names refer.

    Returns
    -------
    Path or Database
        Need not exist.
    """
    return Database(named) if is_address(named) else folder / named


def layer_of(place: Path | Database, layer: str | None) -> Source | Table:
    """Name a layer of a file, or a table of a database.

    Parameters
    ----------
    place : Path or Database
    layer : str or None
        None: the first with points, on reading.

    Returns
    -------
    Source or Table
    """
    return Table(place, layer) if isinstance(place, Database) else Source(place, layer)


def locate(text: str, folder: Path, inventory: Path | Database) -> Source | Table:
    """Find the layer that a ``[layers]`` setting means.

    Parameters
    ----------
    text : str
        ``"roads"``: a layer of the inventory file, or a table of the
        inventory's database; ``"roads.shp"``: a file;
        ``"other.gpkg:roads"``: a layer of another file.
    folder : Path
        To which relative file names refer.
    inventory : Path or Database
        The inventory.

    Returns
    -------
    Source or Table
        Need not exist.
    """
    file, colon, layer = text.rpartition(":")
    if colon and _names_file(file):
        return Source(folder / file, layer)
    if _names_file(text):
        return Source(folder / text)
    return layer_of(inventory, text)


def books_path(settings: CycleSettings, folder: Path) -> Path:
    """Say where the crews' returns are kept: named in the settings, else beside the inventory.

    Parameters
    ----------
    settings : CycleSettings
    folder : Path
        To which relative file names refer; the books of a database lie there.

    Returns
    -------
    Path
        Need not exist: nothing may have been recorded yet.
    """
    if settings.layers.books:
        return folder / settings.layers.books
    inventory = inventory_place(settings.city.inventory, folder)
    if isinstance(inventory, Database):
        return folder / f"{inventory.name}_books.gpkg"
    return inventory.with_name(f"{inventory.stem}_books.gpkg")


def _names_file(text: str) -> bool:
    return Path(text).suffix.lower() in FILE_ENDINGS


def is_delimited_text(path: Path) -> bool:
    """Whether a file is a table of delimited text, packed with gzip or not.

    Parameters
    ----------
    path : Path

    Returns
    -------
    bool
        By the ending of its name.
    """
    return path.name.lower().endswith(TEXT_ENDINGS)


def require_readable(path: Path) -> None:
    """Raise unless a file exists and nobody is in the middle of changing it.

    Parameters
    ----------
    path : Path
        A file, or a folder that is a data set of its own.

    Raises
    ------
    InventoryError
        Missing; or a write-ahead log or journal with content lies beside it,
        so that the file alone is not the whole truth; or it is packed and would
        unpack to an absurd size.
    """
    if not _is_there(path):
        near = sorted(item.name for item in path.parent.glob("*") if _names_file(item.name))
        remedy = f"files there: {', '.join(near[:8])}" if near else "check the name and the folder"
        raise InventoryError(Fault("no such file", str(path), remedy))
    require_plausible(path)
    for companion in companions(path)[:2]:
        if companion.exists() and companion.stat().st_size > 0:
            raise InventoryError(
                Fault(
                    f"another program has it open with changes not yet in the file "
                    f"({companion.name})",
                    str(path),
                    "close it there, or open and close it once in a GIS, and try again",
                )
            )


def _is_there(path: Path) -> bool:
    try:
        return path.exists()
    except OSError:  # no file can have such a name
        return False


def gdal_name(path: Path) -> str:
    """Name a file as GDAL wants it, packed ones with their prefix.

    Parameters
    ----------
    path : Path
        Exists.

    Returns
    -------
    str

    Raises
    ------
    InventoryError
        A zip file that is broken or holds no data set.
    """
    full = str(path.absolute())
    if path.suffix.lower() == ".gz":
        return f"/vsigzip/{full}"
    if path.suffix.lower() == ".zip":
        return f"/vsizip/{full}/{_data_set_in_zip(path)}"
    return full


def _data_set_in_zip(path: Path) -> str:
    try:
        with zipfile.ZipFile(path) as archive:
            names = archive.namelist()
    except (zipfile.BadZipFile, OSError) as error:
        raise InventoryError(
            Fault(f"cannot be unpacked: {error}", str(path), "pack it anew")
        ) from None
    sets = [name for name in names if _names_file(name) and not name.startswith("__MACOSX")]
    if not sets:
        raise InventoryError(
            Fault("holds no vector file", str(path), "pack a GeoPackage or a whole Shapefile")
        )
    if len(sets) > 1:
        raise InventoryError(
            Fault(
                f"holds {len(sets)} vector files: {', '.join(sets[:8])}",
                str(path),
                "unpack it and name the one meant",
            )
        )
    return sets[0]


def sha256_of(path: Path) -> str:
    """Compute the SHA-256 of a data set.

    Parameters
    ----------
    path : Path
        A file; with a Shapefile its companions count, with a folder its files.

    Returns
    -------
    str
        Hexadecimal.
    """
    digest = hashlib.sha256()
    for file in _files_of(path):
        with file.open("rb") as stream:
            while block := stream.read(BLOCK_BYTES):
                digest.update(block)
    return digest.hexdigest()


def _files_of(path: Path) -> list[Path]:
    if path.is_dir():
        return sorted(item for item in path.rglob("*") if item.is_file())
    if path.suffix.lower() == ".shp":
        parts = [path.with_suffix(ending) for ending in SHAPEFILE_PARTS]
        return [part for part in parts if part.exists()]
    return [path]
