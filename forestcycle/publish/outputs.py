"""All outputs of a plan, in the order in which they are written."""

from forestcycle.publish import (
    city_map,
    crew_lists,
    day_map,
    gpx,
    icalendar,
    notices,
    outlook_folder,
    report,
    sheets,
    styles,
)
from forestcycle.publish.output import Output

OUTPUTS: tuple[Output, ...] = (
    crew_lists.OUTPUT,
    sheets.OUTPUT,
    gpx.OUTPUT,
    icalendar.OUTPUT,
    notices.OUTPUT,
    day_map.OUTPUT,
    city_map.OUTPUT,
    report.OUTPUT,
    styles.OUTPUT,
    outlook_folder.OUTPUT,
)
