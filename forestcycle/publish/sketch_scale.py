"""North arrow and scale bar of a paper map."""

import numpy as np
from reportlab.pdfgen.canvas import Canvas

from forestcycle.practice.measures import METRES_PER_FOOT, METRES_PER_MILE
from forestcycle.publish.pdf_text import draw, width
from forestcycle.publish.sketch_frame import Frame, trace


def draw_north(canvas: Canvas, frame: Frame) -> None:
    """Draw the north arrow in the upper right corner.

    Parameters
    ----------
    canvas : Canvas
    frame : Frame
    """
    x, y = frame.left + frame.width - 14, frame.bottom + frame.height - 30
    canvas.setFillGray(1)
    canvas.rect(x - 9, y - 5, 18, 32, stroke=0, fill=1)
    canvas.setFillGray(0)
    path = canvas.beginPath()
    trace(path, np.array([[x, y + 16], [x - 5, y - 1], [x, y + 3], [x + 5, y - 1]]))
    path.close()
    canvas.drawPath(path, stroke=0, fill=1)
    draw(canvas, x, y + 18, "N", 7, bold=True, align="centre")


def draw_scale_bar(canvas: Canvas, frame: Frame, units: str) -> None:
    """Draw the scale bar in the lower left corner.

    Parameters
    ----------
    canvas : Canvas
    frame : Frame
    units : {"metric", "us"}
    """
    metres, text = scale_bar(0.25 * frame.width / frame.scale, units)
    length = metres * frame.scale
    x, y = frame.left + 6, frame.bottom + 6
    canvas.setFillGray(1)
    canvas.rect(x - 3, y - 3, length + width(text, 6.5) + 11, 12, stroke=0, fill=1)
    canvas.setFillGray(0)
    canvas.setLineWidth(0.6)
    canvas.rect(x, y, length, 3, stroke=1, fill=0)
    canvas.rect(x, y, length / 2, 3, stroke=1, fill=1)
    draw(canvas, x + length + 4, y, text, 6.5)


def scale_bar(most_metres: float, units: str) -> tuple[float, str]:
    """Choose a round length for the scale bar.

    Parameters
    ----------
    most_metres : float
        It may not be longer.
    units : {"metric", "us"}

    Returns
    -------
    metres : float
    text : str
        Such as ``200 m`` or ``500 ft``.
    """
    if units == "us":
        feet = _round_down(most_metres / METRES_PER_FOOT)
        if feet < 2000:
            return feet * METRES_PER_FOOT, f"{feet:g} ft"
        miles = _round_down(most_metres / METRES_PER_MILE)
        return miles * METRES_PER_MILE, f"{miles:g} mi"
    metres = _round_down(most_metres)
    return metres, f"{metres:g} m" if metres < 1000 else f"{metres / 1000:g} km"


def _round_down(value: float) -> float:
    """Find the largest 1, 2 or 5 times a power of ten that is not above a value."""
    power = 10.0 ** np.floor(np.log10(value))
    return float(power * max(step for step in (1, 2, 5) if step * power <= value * (1 + 1e-9)))
