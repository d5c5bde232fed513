"""Damage that needs no knowledge of the format: flips, cuts, repeats, encodings."""

from collections.abc import Callable
from random import Random

Spoil = Callable[[bytes, Random], bytes]


def flip(data: bytes, random: Random) -> bytes:
    """Change a few bits, as a bad disk or cable does."""
    spoilt = bytearray(data)
    for _ in range(random.choice([1, 4, 32, 256])):
        spoilt[random.randrange(len(spoilt))] ^= 1 << random.randrange(8)
    return bytes(spoilt)


def overwrite(data: bytes, random: Random) -> bytes:
    """Put zeros, ones or noise over a block."""
    size = random.choice([4, 100, 4096])
    at = random.randrange(len(data))
    block = random.choice([bytes(size), b"\xff" * size, random.randbytes(size)])
    return (data[:at] + block + data[at + size :])[: len(data)]


def cut_short(data: bytes, random: Random) -> bytes:
    """Stop in the middle, as a broken download does."""
    return data[: random.randrange(len(data))]


def leave_out(data: bytes, random: Random) -> bytes:
    """Lose a block; what follows moves up."""
    at = random.randrange(len(data))
    return data[:at] + data[at + random.choice([1, 50, 4096]) :]


def repeat(data: bytes, random: Random) -> bytes:
    """Say a block many times."""
    at = random.randrange(len(data))
    block = data[at : at + random.choice([1, 80, 2000])]
    return data[:at] + block * random.choice([2, 30, 200]) + data[at:]


def swap(data: bytes, random: Random) -> bytes:
    """Exchange two blocks."""
    size = random.choice([1, 64, 4096])
    one, two = sorted(random.randrange(len(data)) for _ in range(2))
    two = max(two, one + size)
    first, second = data[one : one + size], data[two : two + size]
    return data[:one] + second + data[one + size : two] + first + data[two + size :]


def nothing(_: bytes, random: Random) -> bytes:
    """Leave an empty file, or nearly."""
    return random.choice([b"", b"\n", b"\x00", b"\xef\xbb\xbf", b"\xff\xfe", b" " * 4096])


def something_else(_: bytes, random: Random) -> bytes:
    """Give a file of another kind the name."""
    kinds = [b"PK\x03\x04", b"%PDF-1.7\n", b"<html>", b"{}", b"[]", b"\x89PNG\r\n\x1a\n"]
    kinds += [b"SQLite format 3\x00", b'{"type": "FeatureCollection", "features": []}']
    return random.choice(kinds) + random.randbytes(random.choice([0, 7, 5000]))


def re_encode(data: bytes, random: Random) -> bytes:
    """Save the text in another encoding, with or without its mark."""
    text = data.decode("utf-8", "replace").replace("a", random.choice(["a", "ä", "木", "\x00"]), 40)
    encoding = random.choice(["utf-16", "utf-16-be", "utf-32", "utf-8-sig", "cp1252", "utf-7"])
    mark = random.choice([b"", b"", b"\xef\xbb\xbf", b"\xff\xfe"])
    return mark + text.encode(encoding, "replace")


ANY: tuple[Spoil, ...] = (
    flip, overwrite, cut_short, leave_out, repeat, swap, nothing, something_else
)  # fmt: skip
TEXT: tuple[Spoil, ...] = (*ANY, re_encode)
