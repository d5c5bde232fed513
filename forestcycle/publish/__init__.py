"""What people see: crew lists, sheets, maps, notices, the report and the page that links them."""

from forestcycle.publish.publishing import publish

__all__ = ["publish"]
