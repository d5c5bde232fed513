"""Shares as people read them: whole percentages that never claim all or none too soon."""


def percentage(share: float) -> str:
    """Write a share as a percentage without the sign.

    Parameters
    ----------
    share : float
        0 to 1, or beyond.

    Returns
    -------
    str
        Whole; with one decimal where ``100`` or ``0`` would be nearly true: 0.9988 is ``99.9``.
    """
    percent = 100 * share
    if 99.5 <= percent < 100:
        return f"{min(percent, 99.9):.1f}"
    if 0 < percent < 0.5:
        return f"{max(percent, 0.1):.1f}"
    return f"{percent:.0f}"
