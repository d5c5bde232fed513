"""One chart of the report, for screen and paper alike."""

from collections.abc import Callable
from dataclasses import dataclass

from matplotlib.axes import Axes


@dataclass(frozen=True)
class Chart:
    """One chart: its words for those who cannot see it, its size in inches, how to draw it."""

    name: str
    words: str
    size: tuple[float, float]
    draw: Callable[[Axes], None]
