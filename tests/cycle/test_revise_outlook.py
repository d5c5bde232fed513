"""A plan that keeps an outlook is revised: its report still tells of the years ahead."""

from forestcycle.publish import publish
from forestcycle.publish.outlook_folder import KEPT
from tests.cycle.revision_city import FROM, copy_of, done, make_planned_city, record, revise, table
from tests.publish.example_outlook import write_example_outlook


def test_the_revised_plans_report_still_tells_of_the_years_ahead(tmp_path):
    city = copy_of(make_planned_city(tmp_path / "planned"), tmp_path / "city")
    plan = city / "plan"
    outlook = city / "outlook"
    write_example_outlook(outlook, city="Quellhaven", draws=40, currency="USD")
    publish(plan, outlook=outlook)
    stops = table(city, "stops")
    record(city, done(stops[stops["date"] < str(FROM)]))
    lost = stops.loc[(stops["crew"] == "One") & (stops["date"] >= str(FROM)), "date"].min()
    answer = revise(city, lost_days=((lost.date(), "One"),))
    assert answer.written
    report = (plan / "report" / "report.html").read_text(encoding="utf-8")
    assert "The years ahead, 2027 to 2031" in report
    assert "50,000" in report
    assert (plan / KEPT / "outlook.json").exists()
    assert (plan / KEPT / "summary_intervals.csv").exists()
    assert (plan / "report" / "figures" / "years_ahead.csv").exists()
