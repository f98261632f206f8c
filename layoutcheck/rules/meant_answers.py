"""meant-answers: each 'meant' in the document answers something that is asked."""

from __future__ import annotations

from collections.abc import Iterator

from layoutcheck.document.models import Asked, Layout
from layoutcheck.rules.base import Rule
from layoutcheck.rules.case import Case
from layoutcheck.rules.outcome import Gravity, Judgement, Outcome, Severity, Subject
from layoutcheck.rules.registry import all_rules


class MeantAnswers(Rule):
    """Each 'meant' in the document answers something that is asked.

    Reason: A word that answers nothing today answers the next slip before anybody has seen it.
    Figure: None.
    Source: common practice, no published source.
    Does not apply: Where the document has no 'meant'.
    Undecided: Never.
    Does not see: Whether the one who wrote it had looked.
    """

    name = "meant-answers"
    cures = frozenset()
    severity = Severity.ADVICE
    gravity = Gravity.DELAY
    gravity_reason = "A word without a question hides the next slip"
    reason = "A word that answers nothing today answers the next slip unseen."
    as_stated = True

    def judge(self, case: Case) -> Iterator[Judgement]:
        """Judge each thing of which something is meant."""
        said = [(kind, item) for kind, item in _things(case.layout) if item.meant]
        if not said:
            subject, none = Subject("layout", "meant"), "Nothing is marked as meant."
            yield self.says(subject, Outcome.DOES_NOT_APPLY, "none", none)
            return
        rules = all_rules().values()
        asked = {(_key(thing), word) for rule in rules for thing, word in rule.asks(case)}
        for kind, item in said:
            idle = [word for word in item.meant if (_key(item), word) not in asked]
            yield self._judge(_subject(kind, item), idle)

    def _judge(self, subject: Subject, idle: list[str]) -> Judgement:
        if not idle:
            return self.says(subject, Outcome.HOLDS, "answers", "What is marked as meant is odd.")
        words = " and ".join(f'"{word}"' for word in idle)
        return self.says(
            subject,
            Outcome.BROKEN,
            f"answers nothing: {', '.join(idle)}",
            f'"meant": {words} has no question to answer: nothing of the kind is odd here.',
            todo=f'Take {words} out of "meant".',
        )


def _things(layout: Layout) -> Iterator[tuple[str, Asked]]:
    """Give everything of which something may be asked, each with what it is called."""
    yield "layout", layout
    site = layout.site
    lists = {
        "junction": layout.junctions,
        "pipe": layout.pipes,
        "valve": layout.valves,
        "pump": layout.pumps,
        "equipment": layout.equipment,
        "source": layout.sources,
        "outlet": layout.outlets,
        "plug": layout.plugs,
        "room": site.rooms,
        "stock": site.stock,
    }
    for kind, items in lists.items():
        yield from ((kind, item) for item in items)
    parts = (("work", layout.work), ("site", site), ("planning", layout.planning))
    yield from ((kind, part) for kind, part in parts if part is not None)


def _subject(kind: str, item: Asked) -> Subject:
    return Subject(kind, _name(item) or kind)


def _key(item: Asked) -> tuple[type[Asked], str]:
    return type(item), _name(item)


def _name(item: Asked) -> str:
    """Give a thing's id, or its coolant; nothing where it is the only one of its kind."""
    return str(getattr(item, "id", None) or getattr(item, "coolant", None) or "")
