"""The service's log: one JSON object a line, on standard error, without what a layout holds."""

from __future__ import annotations

import json
import logging
import sys
from datetime import UTC, datetime

from layoutcheck_service.work.engine import InnerFault
from layoutcheck_service.work.worker import told

# What every record of the logging package has; what else stands in one is ours.
_COMMON = frozenset(vars(logging.makeLogRecord({}))) | {"message", "asctime", "color_message"}
_OURS = ("layoutcheck_service", "uvicorn")


class Lines(logging.Formatter):
    """Writes a record as one line of JSON.

    An error is written by its class and the places it came through. Its text may hold a name or a
    number of a layout, and is written only where every detail was asked for.
    """

    def __init__(self, *, texts: bool) -> None:
        """texts: whether the texts of errors are written too."""
        super().__init__()
        self._texts = texts

    def format(self, record: logging.LogRecord) -> str:
        """Write one record."""
        line: dict[str, object] = {
            "time": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "event": record.getMessage(),
        }
        line |= {k: v for k, v in vars(record).items() if k not in _COMMON and v is not None}
        error = record.exc_info[1] if record.exc_info else None
        if error is not None:
            line |= self._error(error)
        return json.dumps(line, default=str)  # ASCII: no character of it can turn a terminal

    def _error(self, error: BaseException) -> dict[str, object]:
        if isinstance(error, InnerFault):
            line: dict[str, object] = {"error": error.kind, "through": error.told}
            return {**line, "text": error.text} if self._texts else line
        line = {"error": type(error).__name__, "through": told(error)}
        return {**line, "text": str(error)} if self._texts else line


def start_logging(level: str) -> None:
    """Let the service and its server write to standard error from a level on."""
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(Lines(texts=level == "debug"))
    for name in _OURS:
        logger = logging.getLogger(name)
        logger.handlers = [handler]
        logger.setLevel(level.upper())
        logger.propagate = False
    # Other libraries may put anything into a complaint.
    logging.getLogger().addHandler(logging.NullHandler())
