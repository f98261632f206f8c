"""What can be done with a layout: the one table of it, for the command line and the service.

A test holds both to it: what one of them offers, the other does too.
"""

from __future__ import annotations

from dataclasses import dataclass

from layoutcheck.report.exports import EXPORTS
from layoutcheck.report.handouts import HANDOUTS


@dataclass(frozen=True)
class Offer:
    """One thing that can be done: the command that does it, and the operations of the service.

    names: those of the handouts or exports that the operation makes of it.
    """

    command: str
    operations: tuple[str, ...]
    names: tuple[str, ...] = ()


def _handouts(*begins: str) -> tuple[str, ...]:
    return tuple(name for name in HANDOUTS if name.startswith(begins))


OFFERS = (
    Offer(
        "check",
        ("checkLayout", "makeHandout"),
        _handouts("report", "issues"),
    ),
    Offer("draw", ("makeHandout",), _handouts("drawing")),
    Offer("sheet", ("makeHandout",), _handouts("sheet", "log-template", "watch")),
    Offer("takeoff", ("makeHandout",), _handouts("takeoff")),
    Offer("plan", ("planLayout",)),
    Offer("log", ("judgeLog", "printLog")),
    Offer("import", ("importFile",)),
    Offer("export", ("exportLayout",), tuple(EXPORTS)),
    Offer("expand", ("exportLayout",), ("layout.json", "layout.yaml")),
    Offer("freeze", ("estimateFreeze",)),
    Offer("record", ("recordSignOff", "listRecords", "showRecord", "verifyRecords")),
    Offer("survey", ("checkLayouts",)),
    Offer("explain", ("listRules", "explainRule")),
    Offer("schema", ("getSchema",)),
    Offer("new", ("getLayoutGuide",)),
)

# What is of one of them by its nature, and why.
ONLY_COMMANDS = {
    "pack": "prints the built-in figures, which GET /v1/rules gives one by one",
    "selftest": "is about this installation",
    "serve": "starts the service",
    "keys": "makes keys of the service, on the machine that runs it",
}
ONLY_OPERATIONS = {
    "keepBase": "spares sending a whole layout again",
    "checkChanges": "spares sending a whole layout again",
    "getVerdict": "a check of which only the verdict is wanted, while one draws",
    "viewLayout": "a check and its drawing as the page moves plugs on it",
    "glanceAtLayout": "a check without the joint mending, while a plug is dragged",
    "postWatch": "lets a second phone follow a freeze",
    "followWatch": "lets a second phone follow a freeze",
    "getHealth": "is about the service",
    "getReadiness": "is about the service",
    "getMetrics": "is about the service",
    "showJob": "is about work that was asked for without waiting",
    "getJobResult": "is about work that was asked for without waiting",
    "cancelJob": "is about work that was asked for without waiting",
}
