"""Packed files: bombs, paths out of the archive, sets that are not whole."""

import gzip
import struct
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path
from random import Random

BLOCK = 16 << 20
ENDINGS = (".zip", ".gz")


def pack(path: Path, random: Random) -> Path:
    """Pack a sound file in a way that does harm, beside it; return the pack."""
    return random.choice(WAYS)(path, random)


def _bomb(path: Path, random: Random) -> Path:
    """Zip a file whose contents go on as zeros for gigabytes, with or without saying so."""
    there = random.choice([0.5, 4, 40])
    blocks = int(there * (1 << 30)) // BLOCK
    start = path.read_bytes()
    packer = zlib.compressobj(9, zlib.DEFLATED, -15)
    head = packer.compress(start) + packer.flush(zlib.Z_FULL_FLUSH)
    body = packer.compress(bytes(BLOCK)) + packer.flush(zlib.Z_FULL_FLUSH)
    data = head + body * min(blocks, 400) + packer.flush()
    size = len(start) + BLOCK * min(blocks, 400)
    said = random.choice([size, size, len(start), 0xFFFFFFFE])
    return _zip_of(path, data, min(said, 0xFFFFFFFE))


def _zip_of(path: Path, data: bytes, said: int) -> Path:
    """Write a zip by hand, so that it may say what is not so."""
    name = path.name.encode()
    common = struct.pack("<HHHHHIIIHH", 20, 0, 8, 0, 33, 0, len(data), said, len(name), 0)
    local = b"PK\x03\x04" + common + name
    central = b"PK\x01\x02" + struct.pack("<H", 20) + common
    central += struct.pack("<HHHII", 0, 0, 0, 0, 0) + name
    at = len(local) + len(data)
    end = b"PK\x05\x06" + struct.pack("<HHHHIIH", 0, 0, 1, 1, len(central), at, 0)
    packed = path.with_name(path.name + ".zip")
    packed.write_bytes(local + data + central + end)
    return packed


def _gzip_bomb(path: Path, random: Random) -> Path:
    """Repeat one packed block of zeros after a sound beginning."""
    block = gzip.compress(bytes(BLOCK))
    packed = path.with_name(path.name + ".gz")
    packed.write_bytes(gzip.compress(path.read_bytes()) + block * random.choice([20, 120, 300]))
    return packed


def _zip_with(path: Path, random: Random) -> Path:
    """Zip the file under names that lead elsewhere, or with others beside it."""
    packed = path.with_name(path.name + ".zip")
    names = random.choice(
        [
            ["../../../escaped" + path.suffix],
            ["/var/escaped" + path.suffix],
            ["CON" + path.suffix],
            [path.name, path.name],
            ["a" * 300 + path.suffix],
            [path.name + "/" + path.name],
            ["notes.txt"],
            [],
            ["trees.shp"],
            ["trees.shp", "trees.dbf"],
            ["../" + "".join(random.choices("ab/.", k=12)) + path.suffix],
            [f"{number}.txt" for number in range(3000)],
        ]
    )
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for number, name in enumerate(dict.fromkeys(names)):
            archive.writestr(name, path.read_bytes() if number < 3 else b"x")
    return packed


def _nested(path: Path, random: Random) -> Path:
    """Zip a zip of a zip."""
    inner = path
    for depth in range(random.choice([2, 4])):
        packed = path.with_name(f"nested{depth}.gpkg.zip")
        with zipfile.ZipFile(packed, "w") as archive:
            archive.write(inner, inner.name)
        inner = packed
    return inner


def _cut(path: Path, random: Random) -> Path:
    """Stop in the middle of a sound pack, or change a byte of it."""
    whole = _zip_with_one(path) if random.random() < 0.5 else _gzip_with_one(path)
    data = bytearray(whole.read_bytes())
    if random.random() < 0.5:
        del data[random.randrange(len(data)) :]
    else:
        data[random.randrange(len(data))] ^= 0xFF
    whole.write_bytes(data)
    return whole


def _zip_with_one(path: Path) -> Path:
    packed = path.with_name(path.name + ".zip")
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.write(path, path.name)
    return packed


def _gzip_with_one(path: Path) -> Path:
    packed = path.with_name(path.name + ".gz")
    packed.write_bytes(gzip.compress(path.read_bytes(), 1))
    return packed


WAYS: tuple[Callable[[Path, Random], Path], ...] = (
    _bomb, _gzip_bomb, _zip_with, _zip_with, _nested, _cut, _cut
)  # fmt: skip
