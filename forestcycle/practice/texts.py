"""Texts for many trees from few words: each distinct text is built once."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from forestcycle.practice.catalogue import FloatArray, IntArray

ObjectArray = npt.NDArray[np.object_]


@dataclass(frozen=True)
class Texts:
    """A text for each entry, as a position in a list of distinct ones.

    Attributes
    ----------
    code : ndarray of int64
    words : ndarray of object
    """

    code: IntArray
    words: ObjectArray

    @property
    def values(self) -> ObjectArray:
        """The text of each entry."""
        return self.words[self.code]

    def at(self, entries: npt.NDArray[np.bool_]) -> "Texts":
        """Return the texts of some entries.

        Parameters
        ----------
        entries : (n,) bool

        Returns
        -------
        Texts
        """
        return Texts(self.code[entries], self.words)


def where(condition: npt.NDArray[np.bool_], text: str) -> Texts:
    """Return one text where a condition holds, else nothing.

    Parameters
    ----------
    condition : (n,) bool
    text : str

    Returns
    -------
    Texts
    """
    return Texts(condition.astype(np.int64), np.array(["", text], dtype=object))


def distinct(values: ObjectArray) -> Texts:
    """Return texts that stand in an array already.

    Parameters
    ----------
    values : (n,) object of str

    Returns
    -------
    Texts
    """
    code, words = pd.factorize(values)
    return Texts(code.astype(np.int64), np.asarray(words, dtype=object))


def from_numbers(numbers: IntArray | FloatArray, template: str) -> Texts:
    """Return ``template`` filled with each number, empty for 0.

    Parameters
    ----------
    numbers : (n,) int64 or float64
    template : str
        With ``{}`` where the number goes.

    Returns
    -------
    Texts
    """
    code, found = pd.factorize(numbers)
    words = _objects([template.format(f"{number:g}") if number else "" for number in found])
    return Texts(code.astype(np.int64), words)


def together(parts: Sequence[Texts], separator: str = " ") -> Texts:
    """Return the parts of each entry as one text, leaving out empty ones.

    Parameters
    ----------
    parts : sequence of Texts
        At least one, all of one length.
    separator : str

    Returns
    -------
    Texts
    """
    joined = parts[0]
    for part in parts[1:]:
        joined = _pair(joined, part, separator)
    return joined


def _pair(first: Texts, second: Texts, separator: str) -> Texts:
    code, keys = pd.factorize(first.code * len(second.words) + second.code)
    left, right = np.divmod(np.asarray(keys, dtype=np.int64), max(len(second.words), 1))
    words = [
        separator.join(filter(None, pair))
        for pair in zip(first.words[left], second.words[right], strict=True)
    ]
    return Texts(code.astype(np.int64), _objects(words))


def listed(tree: IntArray, phrases: Texts, trees: int, separator: str = "; ") -> Texts:
    """Return each tree's phrases as one text, in their order.

    Parameters
    ----------
    tree : ndarray of int64
        Sorted, one entry per phrase.
    phrases : Texts
    trees : int
    separator : str

    Returns
    -------
    Texts
        One entry per tree, empty where it has no phrase.
    """
    position = np.arange(len(tree)) - np.searchsorted(tree, tree, side="left")
    code = np.zeros(trees, dtype=np.int64)
    words = [""]
    for step in range(int(position.max(initial=-1)) + 1):
        rows = np.flatnonzero(position == step)
        so_far = Texts(code[tree[rows]], _objects(words))
        longer = _pair(so_far, Texts(phrases.code[rows], phrases.words), separator)
        code[tree[rows]] = longer.code + len(words)
        words.extend(longer.words)
    return Texts(code, _objects(words))


def _objects(words: Sequence[str]) -> ObjectArray:
    texts = np.empty(len(words), dtype=object)
    texts[:] = words
    return texts
