"""plausible-values: what is stated is what such a thing can be, or is said to be meant."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from itertools import groupby

from layoutcheck.document.models import Asked
from layoutcheck.document.plausible import Ask, Question, What, questions
from layoutcheck.network.stretches import TOLERANCE
from layoutcheck.quantities import (
    UnitSystem,
    show_air_change_rate,
    show_area,
    show_duration,
    show_length,
    show_mass,
    show_pressure,
    show_temperature,
)
from layoutcheck.rules.base import Rule
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.facts import Fact, meant_field
from layoutcheck.rules.outcome import Gravity, Judgement, Outcome, Severity, Subject
from layoutcheck.rules.planning import jacket_of

_Show = Callable[[float, UnitSystem], str]


class PlausibleValues(Rule):
    """What is stated of a thing is what such a thing can be.

    Reason: A unit that is one off, or a digit too many, gives a sound answer for another site.
    Figure: Such as pipes of 20 mm to 300 m, jackets of 0.1 to 1.2 m, mains over 1 bar, work of half
        an hour to two days; the whole list is in layoutcheck/document/plausible.py.
    Source: common practice, no published source.
    Does not apply: To what is not stated, and to a jacket as long as a plan's for its pipe. What
        can not be at all is refused on reading.
    Undecided: Where a value lies outside its range. Mend it, or name its field where it stands:
        "meant": "length".
    Does not see: Slips that stay within the range.
    """

    name = "plausible-values"
    severity = Severity.CAUTION
    gravity = Gravity.FLOOD
    gravity_reason = "A slip in one figure answers for another site"
    reason = "A unit one off or a digit too many gives a sound answer for another site."
    as_stated = True

    def asks(self, case: Case) -> Iterator[tuple[Asked, str]]:
        """Ask of each value outside its range."""
        yield from ((q.of, q.field) for q in _questions(case))

    def judge(self, case: Case) -> Iterator[Judgement]:
        """Judge each thing of which something is asked."""
        asked = sorted(_questions(case), key=lambda q: (q.kind, q.id, q.field, q.ask))
        for (kind, name), rows in groupby(asked, key=lambda q: (q.kind, q.id)):
            yield self._judge(case, Subject(kind, name), list(rows))
        if not asked:
            subject = Subject("layout", "values")
            yield self.says(subject, Outcome.HOLDS, "plausible", "No value is odd.")

    def _judge(self, case: Case, subject: Subject, rows: list[Question]) -> Judgement:
        open_ones = [q for q in rows if not q.meant]
        shown = open_ones or rows
        sentence = " ".join(_in_words(q, case.layout.units) for q in shown)
        if not open_ones:
            sentence += " The document says that this is meant."
            return self.says(subject, Outcome.HOLDS, "meant", sentence)
        fields = list(dict.fromkeys(q.field for q in open_ones))
        words = " and ".join(f'"{field}"' for field in fields)
        return self.says(
            subject,
            Outcome.UNDECIDED,
            " + ".join(dict.fromkeys(f"{q.field}: {q.ask.value}" for q in open_ones)),
            sentence,
            missing=tuple(
                Fact(f"whether {f} of {_called(subject)} is meant", meant_field(subject))
                for f in fields
            ),
            todo=f'Correct {_called(subject)}, or write "meant": {words} on it.',
        )


def _questions(case: Case) -> Iterator[Question]:
    own = {p.id for p in case.plugs if _as_planned(case, p)}
    found = questions(case.layout)
    return (q for q in found if (q.kind, q.field) != ("plug", "jacket") or q.id not in own)


def _as_planned(case: Case, plug: PlacedPlug) -> bool:
    """Tell whether a jacket is as long as the pack has a plan choose it for this size."""
    return abs(plug.jacket - jacket_of(case.pack, plug.inches)) <= TOLERANCE


def _called(subject: Subject) -> str:
    same = subject.kind == subject.id
    return f"the {subject.kind}" if same else f"{subject.kind} {subject.id}"


def _count(value: float, units: UnitSystem) -> str:
    del units
    return f"{value:g}"


_SHOW: Mapping[What, _Show] = {
    What.LENGTH: show_length,
    What.AREA: show_area,
    What.PRESSURE: show_pressure,
    What.TEMPERATURE: show_temperature,
    What.DURATION: lambda value, _: show_duration(value),
    What.MASS: show_mass,
    What.COUNT: _count,
    What.RATE: lambda value, _: show_air_change_rate(value),
}
_SENTENCES: Mapping[Ask, str] = {
    Ask.LOW: "{field} {value} is less than the {limit} that is usual.",
    Ask.HIGH: "{field} {value} is more than the {limit} that is usual.",
    Ask.HIGH_WATER: "The water stands {value} above its junction, more than {limit}.",
    Ask.COLD_STORE: "Stored at {value}, far colder than the air that is stated.",
    Ask.FLAT_ROOM: "volume over floor area makes the room {value} high, past {limit}.",
    Ask.MUCH_AIR: "The air is changed {value}, more than {limit}.",
    Ask.OPEN_PROVEN: "Stated to stand open at both moments, and proven to be tight.",
}


def _in_words(question: Question, units: UnitSystem) -> str:
    show = _SHOW[question.what]
    text = _SENTENCES[question.ask].format(
        field=question.field.replace("_", " "),
        value=show(question.value, units),
        limit=show(question.limit, units),
    )
    return text[0].upper() + text[1:]
