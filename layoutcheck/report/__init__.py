"""Reports: one result, many ways to show it."""

from layoutcheck.report.model import Report
from layoutcheck.report.run import check, check_document, glance

__all__ = ["Report", "check", "check_document", "glance"]
