import gzip
import zipfile

import pytest

from forestcycle.errors import InventoryError
from forestcycle.inventory.packed import require_plausible

ZEROS = bytes(110 << 20)


def zipped(path, data):
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("trees.gpkg", data)
    return path


def test_bombs_are_refused_and_honest_packs_are_not(tmp_path):
    bombs = [zipped(tmp_path / "a.zip", ZEROS), tmp_path / "a.gz"]
    bombs[1].write_bytes(gzip.compress(ZEROS))
    for bomb in bombs:
        with pytest.raises(InventoryError, match="would unpack to"):
            require_plausible(bomb)
    honest = [zipped(tmp_path / "b.zip", b"tree" * 9000), tmp_path / "b.gz"]
    honest[1].write_bytes(gzip.compress(b"tree" * 9000))
    for pack in honest:
        require_plausible(pack)


@pytest.mark.parametrize("name", ["c.zip", "c.gz"])
def test_a_broken_pack_is_said_to_be_broken(tmp_path, name):
    path = tmp_path / name
    path.write_bytes(gzip.compress(bytes(5000))[:-9])
    with pytest.raises(InventoryError, match="cannot be unpacked"):
        require_plausible(path)
