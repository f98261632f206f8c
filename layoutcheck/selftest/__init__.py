"""The self-test: does this installation, on this machine, work figures out rightly?

A damaged install or a miscomputing library would else show first beside a pipe. Each check holds
the program, or a library it leans on, to something known from elsewhere: an exact solution, a
published table, a sum done by hand. The conformance cases hold the whole to the bytes it gave
where it was released.
"""

from layoutcheck.selftest.check import Check, Outcome, Reading, Result, Status
from layoutcheck.selftest.run import SelftestReport, all_checks, run_selftest
from layoutcheck.selftest.text import selftest_text

__all__ = [
    "Check",
    "Outcome",
    "Reading",
    "Result",
    "SelftestReport",
    "Status",
    "all_checks",
    "run_selftest",
    "selftest_text",
]
