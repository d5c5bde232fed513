"""What people see: crew lists, sheets, maps, notices, the report and the page that links them."""

from forestcycle.publish.output import Edition, Link, Output, Paper, Tables
from forestcycle.publish.outputs import OUTPUTS
from forestcycle.publish.publishing import publish

__all__ = ["OUTPUTS", "Edition", "Link", "Output", "Paper", "Tables", "publish"]
