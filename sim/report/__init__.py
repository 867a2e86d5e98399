"""A report as text, as JSON and as a picture."""

from sim.report.as_json import report_json, report_schema
from sim.report.loads_picture import loads_picture
from sim.report.picture import margin_picture
from sim.report.text import report_text

__all__ = ["loads_picture", "margin_picture", "report_json", "report_schema", "report_text"]
