"""The freeze log: a template to fill in, and what a filled one tells when held to the schedule."""

from layoutcheck.report.log.judge import judge_log
from layoutcheck.report.log.model import FreezeLog, LogReport
from layoutcheck.report.log.read import read_log
from layoutcheck.report.log.template import NoSchedule, log_csv, log_json, log_template
from layoutcheck.report.log.text import log_text

__all__ = [
    "FreezeLog",
    "LogReport",
    "NoSchedule",
    "judge_log",
    "log_csv",
    "log_json",
    "log_template",
    "log_text",
    "read_log",
]
