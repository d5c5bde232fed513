"""Invented names of streets, wards, parks and depots."""

import numpy as np

from sample_city.ground import Random, Texts

CITY = "Quellhaven"
WARDS = ("Fennelgate", "Orchard Rise", "Lower Quell", "Tannery Side")
_DEPOTS = ("North Yard", "Weir Yard")
TREES_PER_DEPOT = 80_000

# fmt: off
_FIRST = (
    "Alder", "Amber", "Anvil", "Apple", "Barley", "Basket", "Beacon", "Bell", "Birch", "Bramble",
    "Brass", "Brewer", "Bridle", "Candle", "Carter", "Chalk", "Cherry", "Cider", "Clover",
    "Cobble", "Cooper", "Copper", "Coral", "Crane", "Damson", "Dapple", "Dawn", "Dove", "Drover",
    "Ember", "Falcon", "Fennel", "Ferry", "Finch", "Flax", "Flint", "Forge", "Fox", "Garnet",
    "Glover", "Granary", "Harrow", "Hazel", "Heron", "Hollow", "Honey", "Hop", "Iris", "Ivy",
    "Juniper", "Kestrel", "Kiln", "Lantern", "Lark", "Laurel", "Linden", "Linnet", "Loom",
    "Maple", "Marble", "Martin", "Meadow", "Mercer", "Mill", "Mint", "Moss", "Mulberry", "Myrtle",
    "Nettle", "Oat", "Ochre", "Orchard", "Osier", "Otter", "Paddock", "Pearl", "Pebble", "Plum",
    "Poplar", "Potter", "Quarry", "Quince", "Raven", "Reed", "Ridge", "Rowan", "Rush", "Saddle",
    "Saffron", "Sage", "Sailmaker", "Sedge", "Shale", "Shepherd", "Silver", "Slate", "Sorrel",
    "Sparrow", "Spindle", "Starling", "Stone", "Swallow", "Tailor", "Tallow", "Tanner", "Teasel",
    "Thatch", "Thistle", "Thorn", "Thyme", "Timber", "Vine", "Walnut", "Weaver", "Wheat",
    "Willow", "Wren", "Yarrow", "Yew",
)
# fmt: on
_LAST = ("Street", "Avenue", "Road", "Lane", "Way", "Row", "Terrace", "Drive")
_SIDES = ("", "North ", "South ", "East ", "West ", "Upper ", "Lower ", "Old ", "New ")


def depot_names(trees: int) -> tuple[str, ...]:
    """Name the depots of a city: two, and more in a very large one."""
    more = range(len(_DEPOTS) + 1, trees // TREES_PER_DEPOT + 1)
    return _DEPOTS + tuple(f"Yard {number}" for number in more)


def street_names(count: int, random: Random) -> Texts:
    """Draw street names, all different.

    Parameters
    ----------
    count : int
        How many; numbered once the words have run out.
    random : Generator

    Returns
    -------
    (count,) object of str
    """
    plain = np.array([f"{first} {last}" for last in _LAST for first in _FIRST], dtype=object)
    rounds = -(-count // len(plain))
    names: list[Texts] = [random.permutation(plain)[:count]]
    for number in range(1, rounds):
        side = _SIDES[number] if number < len(_SIDES) else f"{number}th "
        names.append(np.array([side + name for name in random.permutation(plain)], dtype=object))
    return np.concatenate(names)[:count]


def close_names(count: int, random: Random) -> Texts:
    """Draw names of short dead-end streets; they repeat in a large city.

    Parameters
    ----------
    count : int
    random : Generator

    Returns
    -------
    (count,) object of str
    """
    words = np.array(_FIRST, dtype=object)
    order = np.concatenate([random.permutation(words) for _ in range(-(-count // len(words)) or 1)])
    return np.array([f"{word} Close" for word in order[:count]], dtype=object)
