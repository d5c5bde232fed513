"""``[outlook]``: how the years ahead are looked at."""

from pydantic import Field

from forestcycle.settings.base import Part


class OutlookRules(Part):
    """Hiring after the planned year, and what counts beyond the last year shown."""

    years_beyond: int = Field(
        default=5,
        ge=0,
        le=20,
        description="Years counted after the last one shown, so that it does not live at the "
        "future's expense.",
    )
    crew_years: int = Field(
        default=3, ge=1, le=30, description="Years for which a whole crew is hired at a time."
    )
    crew_days_paid: float = Field(
        default=0.0,
        ge=0,
        le=1,
        description="Share of a hired crew's days that is paid in any case from the second year "
        "on: 0 pays days worked, as the plan does; 1 is a crew on the payroll.",
    )
