"""What the packer needs to know of a crew, in its own numbers."""

from forestcycle.settings import Crew
from forestcycle.settings.crews import Skill

SKILL_BIT: dict[Skill, int] = {"ground": 1, "climb": 2, "lift": 4, "line_clearance": 8}


def crew_skill_bits(crew: Crew) -> int:
    """Bits of a crew's skills; anyone can work from the ground.

    Parameters
    ----------
    crew : Crew

    Returns
    -------
    int
        Of ``SKILL_BIT``.
    """
    bits = SKILL_BIT["ground"]
    for skill in crew.skills:
        bits |= SKILL_BIT[skill]
    return bits


def leaves_depot(crew: Crew) -> float:
    """Minute of the day at which a crew leaves the depot, set-up done.

    Parameters
    ----------
    crew : Crew

    Returns
    -------
    float
    """
    return crew.shift_start.hour * 60.0 + crew.shift_start.minute + crew.setup_minutes
