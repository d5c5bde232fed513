"""Scientific names: one spelling for each, and a suggestion for the misspelt."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import lru_cache

import numpy as np
import numpy.typing as npt
import pandas as pd

from forestcycle.inventory.convert import text
from forestcycle.inventory.schema import UNKNOWN

Mask = npt.NDArray[np.bool_]

NO_NAME = frozenset(
    {
        "dead",
        "empty",
        "misc",
        "missing",
        "mixed",
        "none",
        "not",
        "other",
        "planting",
        "removed",
        "site",
        "species",
        "stump",
        "to",
        "tree",
        "unidentified",
        "unknown",
        "unspecified",
        "vacant",
        "various",
    }
)
HYBRID_MARKS = frozenset({"x", "×", "✕", "✖"})
RANKS_AND_DOUBTS = frozenset({"cf", "aff", "nr", "?"})
GENUS_ONLY = frozenset({"sp", "spp", "species", "hybrid", "hybrids", "cv", "cultivar", "cvs"})
QUOTE = re.compile(r"""[‘’`´"“”]""")
QUOTED = re.compile(r"""(['‘’`´"“”]).*?(['‘’`´"“”]|$)""")
BRACKETED = re.compile(r"\([^)]*\)?|\[[^]]*\]?")
GENUS = re.compile(r"[A-Z][a-zë]+(-[a-zë]+)?")
EPITHET = re.compile(r"[a-zëï]{2,}(-[a-zëï]+)*")
GENUS_LIKENESS, EPITHET_LIKENESS = 0.84, 0.8
"""How like the right word a misspelt one is at the least (`difflib`): one wrong letter in six is
0.83. Of genera there are many, and some are like each other."""
MOST_SUGGESTIONS = 2_000


@dataclass(frozen=True)
class Name:
    """A scientific name in its parts.

    Attributes
    ----------
    genus : str
        Empty where the text is no scientific name.
    epithet : str
        Empty for a genus alone.
    hybrid_genus, hybrid : bool
        Whether a multiplication sign stands before the genus or the epithet.
    surely : bool
        False where the epithet was capitalised and may be something else.
    """

    genus: str
    epithet: str = ""
    hybrid_genus: bool = False
    hybrid: bool = False
    surely: bool = True

    def __str__(self) -> str:
        genus = f"×{self.genus}" if self.hybrid_genus else self.genus
        mark = "× " if self.hybrid else ""
        return f"{genus} {mark}{self.epithet}" if self.epithet else genus

    @property
    def key(self) -> str:
        """The name without case and hybrid marks, by which names are compared."""
        return f"{self.genus} {self.epithet}".strip().casefold()


def parse_name(raw: str) -> Name:
    """Take a scientific name apart.

    Parameters
    ----------
    raw : str
        Such as ``Acer rubrum 'October Glory'``, ``Prunus spp.``,
        ``PLATANUS X HISPANICA``, ``Tilia cordata Mill.``.

    Returns
    -------
    Name
        Genus and species; cultivar, variety, author and doubt are left out.
        Hybrid marks follow the International Code of Nomenclature for algae,
        fungi, and plants, appendix H: a multiplication sign, or x.
    """
    plain = BRACKETED.sub(" ", QUOTED.sub(" ", raw.replace("×", " × ")))
    words = [
        word for word in plain.replace("_", " ").split() if _bare(word) not in RANKS_AND_DOUBTS
    ]
    if plain == plain.upper() or plain == plain.lower():
        words = [word.lower() for word in words]
    hybrid_genus = bool(words) and words[0].lower() in HYBRID_MARKS
    words = words[1:] if hybrid_genus else words
    if not words or _bare(words[0]) in NO_NAME:
        return Name("")
    genus = words[0][:1].upper() + words[0][1:]
    if not GENUS.fullmatch(genus):
        return Name("")
    rest = words[1:]
    hybrid = bool(rest) and rest[0].lower() in HYBRID_MARKS
    rest = rest[1:] if hybrid else rest
    return _with_epithet(genus, rest[0] if rest else "", hybrid_genus, hybrid)


def _bare(word: str) -> str:
    return word.casefold().strip(".,;:")


def _whole(raw: str) -> str:
    """Bring a name to one spacing, case and kind of quote, and leave nothing out."""
    return " ".join(QUOTE.sub("'", raw).split()).casefold()


def _with_epithet(genus: str, word: str, hybrid_genus: bool, hybrid: bool) -> Name:  # noqa: FBT001
    epithet = word.strip(",;:")
    surely = epithet == epithet.lower()
    lowered = epithet.lower()
    if _bare(epithet) in GENUS_ONLY | NO_NAME or not EPITHET.fullmatch(lowered):
        return Name(genus, hybrid_genus=hybrid_genus)
    return Name(genus, lowered, hybrid_genus, hybrid, surely)


class KnownSpecies:
    """The names that the tables know, to look names up in.

    Parameters
    ----------
    names : iterable of str
        Species and genera; the genus of each species counts as known.
    """

    def __init__(self, names: Iterable[str]) -> None:
        parsed = {name: parse_name(name) for name in names}
        self._whole = {_whole(spelled): spelled for spelled in parsed if parsed[spelled].epithet}
        self._spelling: dict[str, str] = {}
        for spelled in sorted(parsed, key=len):  # the species before its cultivars
            if parsed[spelled].epithet:
                self._spelling.setdefault(parsed[spelled].key, spelled)
        self._genera = {name.genus for name in parsed.values() if name.genus}
        self._anagrams = {_letters(genus): genus for genus in self._genera}
        self._epithets: dict[str, list[str]] = {}
        for name in parsed.values():
            if name.epithet:
                self._epithets.setdefault(name.genus, []).append(name.epithet)
        self._nearest_genus = lru_cache(maxsize=MOST_SUGGESTIONS)(self._search_genus)

    def __bool__(self) -> bool:
        return bool(self._genera)

    def resolve(self, name: Name) -> tuple[str, str]:
        """Settle on a name.

        Parameters
        ----------
        name : Name

        Returns
        -------
        species : str
            In the tables' spelling where they have it; the genus where the
            species looks misspelt; ``unknown`` where the genus does.
        suggestion : str
            What may have been meant; empty if there is nothing to say.
        """
        if name.key in self._spelling:
            return self._spelling[name.key], ""
        if name.genus in self._genera:
            return self._within_genus(name)
        genus = self._nearest_genus(name.genus)
        if genus:
            return UNKNOWN, self._suggest(Name(genus, name.epithet))
        return (str(name) if name.epithet and name.surely else UNKNOWN), ""

    def listed(self, raw: str) -> str:
        """Return the tables' spelling of a name they have in full, cultivar too; else nothing.

        Parameters
        ----------
        raw : str
            As the city writes it.

        Returns
        -------
        str
        """
        return self._whole.get(_whole(raw), "")

    def knows_genus(self, name: Name) -> bool:
        """Whether the tables have the genus.

        Parameters
        ----------
        name : Name

        Returns
        -------
        bool
        """
        return name.genus in self._genera

    def _within_genus(self, name: Name) -> tuple[str, str]:
        if not name.epithet:
            return name.genus, ""
        near = get_close_matches(
            name.epithet, self._epithets.get(name.genus, []), n=1, cutoff=EPITHET_LIKENESS
        )
        if near:
            return name.genus, self._spelling[Name(name.genus, near[0]).key]
        return (str(name) if name.surely else name.genus), ""

    def _suggest(self, name: Name) -> str:
        species, suggestion = self.resolve(name)
        return suggestion or species

    def _search_genus(self, genus: str) -> str:
        """Find the genus that has these letters in another order, or else one like it."""
        near = get_close_matches(genus, self._genera, n=1, cutoff=GENUS_LIKENESS)
        return self._anagrams.get(_letters(genus), near[0] if near else "")


def _letters(word: str) -> str:
    return "".join(sorted(word.casefold()))


@dataclass(frozen=True)
class SpeciesColumn:
    """A species column made ours.

    Attributes
    ----------
    species : Series of str
        ``unknown`` where it is not to be had.
    doubtful : (n,) bool
        Missing, no scientific name, likely misspelt, or not in the tables.
    suggestion : (n,) array of str
        What may have been meant; empty for none.
    """

    species: pd.Series
    doubtful: Mask
    suggestion: npt.NDArray[np.object_]


def read_species(
    column: pd.Series, *, known: Iterable[str] = (), meanings: Mapping[str, str] | None = None
) -> SpeciesColumn:
    """Read scientific names.

    Parameters
    ----------
    column : Series
    known : iterable of str
        Names that the tables have; without any, every well-formed name passes.
    meanings : mapping of str to str, optional
        The city's name to the scientific one; case does not matter.

    Returns
    -------
    SpeciesColumn
    """
    cells = text(column)
    codes, uniques = pd.factorize(cells)
    tables = KnownSpecies(known)
    own = {" ".join(name.split()).casefold(): meaning for name, meaning in (meanings or {}).items()}
    read = [_read_one(own.get(cell.casefold(), cell), tables) for cell in uniques]
    species, doubtful, suggestion = (
        np.array(part, dtype=object) for part in (zip(*read, strict=True) if read else ((), (), ()))
    )
    return SpeciesColumn(
        pd.Series(species[codes], index=column.index, dtype="str"),
        doubtful[codes].astype(bool),
        suggestion[codes],
    )


def _read_one(raw: str, tables: KnownSpecies) -> tuple[str, bool, str]:
    listed = tables.listed(raw)
    if listed:
        return listed, False, ""
    name = parse_name(raw)
    if not name.genus:
        return UNKNOWN, True, ""
    if not tables:
        return (str(name) if name.surely else name.genus), False, ""
    species, suggestion = tables.resolve(name)
    return species, bool(suggestion) or not tables.knows_genus(name), suggestion


def doubtful_names(column: pd.Series, known: Iterable[str]) -> dict[str, str]:
    """List the names that the tables do not know, with what may have been meant.

    Parameters
    ----------
    column : Series
    known : iterable of str
        Names that the tables have.

    Returns
    -------
    dict of str to str
        The city's name to ours, empty where nothing is like it; the most frequent first.
    """
    counts = text(column).value_counts()
    names = [str(name) for name in counts.index if name]
    read = read_species(pd.Series(names, dtype="str"), known=known)
    return {
        name: suggestion
        for name, doubtful, suggestion in zip(names, read.doubtful, read.suggestion, strict=True)
        if doubtful
    }
