"""Measures in words: metric, or in the units of the United States."""

from dataclasses import dataclass

CM_PER_INCH = 2.54
CM_PER_FOOT = 12 * CM_PER_INCH
METRES_PER_FOOT = CM_PER_FOOT / 100
METRES_PER_MILE = 5280 * METRES_PER_FOOT
KG_PER_POUND = 0.45359237


@dataclass(frozen=True)
class Measures:
    """Writes measures in the units that people read.

    Attributes
    ----------
    units : {"metric", "us"}
    """

    units: str = "metric"

    def diameter(self, centimetres: float, *, decimals: int = 0) -> str:
        """Write a diameter of trunk, branch or cut.

        Parameters
        ----------
        centimetres : float
        decimals : int
            Of centimetres; inches have one more.

        Returns
        -------
        str
            ``26 cm`` or ``10.2 in``.
        """
        if self.units == "us":
            return f"{centimetres / CM_PER_INCH:.{decimals + 1}f} in"
        return f"{centimetres:.{decimals}f} cm"

    def length(self, metres: float) -> str:
        """Write a height or the width of a crown.

        Parameters
        ----------
        metres : float

        Returns
        -------
        str
            ``9.1 m`` or ``30 ft``.
        """
        if self.units == "us":
            return f"{100 * metres / CM_PER_FOOT:.0f} ft"
        return f"{metres:.1f} m"

    def weight(self, kilograms: float) -> str:
        """Write a weight of brush.

        Parameters
        ----------
        kilograms : float

        Returns
        -------
        str
            ``40 kg`` or ``88 lb``.
        """
        if self.units == "us":
            return f"{kilograms / KG_PER_POUND:.0f} lb"
        return f"{kilograms:.0f} kg"
