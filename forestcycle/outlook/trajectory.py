"""What happens year by year under one way of choosing visits."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

MEASURES: dict[str, str] = {
    "trees": "trees standing",
    "visits": "visits made",
    "minutes": "crew minutes, travel included",
    "direct_cents": "direct cost of visits besides the crews",
    "worth_done": "worth of the visits made",
    "worth_undone": "worth of the visits not made in that year",
    "on_recall": "trees not overdue at the year's end",
    "overdue": "trees overdue at the year's end",
    "young": "young trees",
    "young_on_recall": "young trees not overdue at the year's end",
    "due_unvisited": "trees due and not visited by the year's end",
    "structural": "structural faults still correctable at the year's end, expected",
    "corrected": "structural faults corrected in the year, expected",
    "past_correcting": "structural faults that went past correcting in the year, expected",
    "dose_owed": "live crown still to be taken, in whole crowns",
}
MEASURE = {name: place for place, name in enumerate(MEASURES)}
"""Place of each in arrays of all of them."""


@dataclass(frozen=True)
class Trajectory:
    """Expected figures of every year and ward.

    Attributes
    ----------
    wards : tuple of str
    measures : dict of str to (years, wards) float64
        Keys and meanings in ``MEASURES``.
    crews : (years, kinds) float64
        Crews hired.
    crew_days : (years, kinds) float64
        Crew-days paid.
    cents : (years,) float64
        Crews and direct costs.
    """

    wards: tuple[str, ...]
    measures: dict[str, FloatArray]
    crews: FloatArray
    crew_days: FloatArray
    cents: FloatArray

    @property
    def years(self) -> int:
        """Number of years."""
        return len(self.cents)

    def city(self, measure: str) -> FloatArray:
        """Return a measure over all wards, shape (years,).

        Parameters
        ----------
        measure : str
            One of ``MEASURES``.

        Returns
        -------
        (years,) float64
        """
        total: FloatArray = self.measures[measure].sum(axis=1)
        return total

    def share(self, part: str, whole: str) -> FloatArray:
        """Return one measure over another for the whole city, 1 where there is nothing.

        Parameters
        ----------
        part, whole : str
            Of ``MEASURES``.

        Returns
        -------
        (years,) float64
        """
        return _share(self.city(part), self.city(whole))

    def ward_share(self, part: str, whole: str) -> FloatArray:
        """Return one measure over another, shape (years, wards), 1 where there is nothing.

        Parameters
        ----------
        part, whole : str
            Of ``MEASURES``.

        Returns
        -------
        (years, wards) float64
        """
        return _share(self.measures[part], self.measures[whole])


def _share(part: FloatArray, whole: FloatArray) -> FloatArray:
    return np.divide(part, whole, out=np.ones_like(whole), where=whole > 0)
