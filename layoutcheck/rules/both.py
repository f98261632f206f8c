"""Judge a rule in both readings of what is not stated of pipes, and take what both agree on.

The first reading has each unknown pipe as short and as wide as it can be, the second as long and as
narrow. What a rule says of a subject stands only where it can not turn with the unknown: where
both readings agree, or where the worst of them holds already.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from layoutcheck.document.unstated import Unstated
from layoutcheck.rules.base import Rule
from layoutcheck.rules.case import Case
from layoutcheck.rules.facts import Fact
from layoutcheck.rules.outcome import Judgement, Outcome, Subject

# So many facts are asked for one by one; more of them are asked for together.
_MOST_ASKED = 6

_BAD = {Outcome.BROKEN, Outcome.UNDECIDED}
_GOOD = {Outcome.HOLDS, Outcome.DOES_NOT_APPLY}


def in_both(
    rule: Rule, case: Case, judge: Callable[[Case], Iterable[Judgement]]
) -> list[Judgement]:
    """Judge by one rule, in both readings where a length or a size is not stated.

    A rule that fails is an outcome of its own, never a silence.
    """
    first = _safely(rule, lambda: judge(case))
    longest = case.longest
    if longest is None or rule.as_stated:
        return first
    last = {j.subject: j for j in _safely(rule, lambda: judge(longest))}
    asked = {j.subject: j for j in first}
    subjects = dict.fromkeys((*asked, *last))
    return [_agreed(rule, case, s, asked.get(s), last.get(s)) for s in subjects]


def _agreed(
    rule: Rule, case: Case, subject: Subject, worst: Judgement | None, best: Judgement | None
) -> Judgement:
    """Take what stands of one subject however the unknown turns out."""
    for judged in (worst, best):
        if judged is not None and judged.outcome is Outcome.FAULT:
            return judged
    if worst is None or best is None:
        return _not_known(rule, case, subject, worst, best)
    if rule.longer_is_safer and worst.outcome in _GOOD:
        return worst if worst.measured == best.measured else _at_least(case, worst)
    if _core(worst) == _core(best):
        return worst
    if worst.outcome is best.outcome is Outcome.BROKEN:
        # How much is wrong may hang on the unknown; that something is does not.
        return replace(best, where=worst.where, way=worst.way)
    return _not_known(rule, case, subject, worst, best)


def _at_least(case: Case, judgement: Judgement) -> Judgement:
    """Say of a length that it is the shortest it can be."""
    asked = wanted(_facts_for(case, judgement.subject, judgement))
    told = f"this is the least it can be; not stated: {', '.join(asked)}"
    return replace(judgement, assumed=(*judgement.assumed, told))


def _core(judgement: Judgement) -> Judgement:
    """Leave out of a judgement what is numbered anew in each reading."""
    return replace(judgement, where=None, way=())


def _not_known(
    rule: Rule, case: Case, subject: Subject, worst: Judgement | None, best: Judgement | None
) -> Judgement:
    told = [j for j in (worst, best) if j is not None]
    asked = _facts_for(case, subject, worst)
    fields = " and ".join(sorted({u.field for u in asked}))
    pipes = list(dict.fromkeys(u.pipe for u in asked))
    named = ", ".join(pipes[:_MOST_ASKED]) + (", …" if len(pipes) > _MOST_ASKED else "")
    missing = (*wanted(asked), *(m for j in told for m in j.missing))
    return rule.says(
        subject,
        Outcome.UNDECIDED,
        "pipe not stated",
        f"The {fields} of pipe {named} is not stated, and the answer depends on it.",
        way=() if worst is None else worst.way,
        where=None if worst is None else worst.where,
        missing=tuple(dict.fromkeys(missing)),
        todo="Measure it on site and state it.",
        concerns=told[0].concerns,
    )


def wanted(asked: Sequence[Unstated]) -> tuple[str, ...]:
    """Say which facts of pipes are to be stated; many of them in one line for each field."""
    if len(asked) <= _MOST_ASKED:
        return tuple(Fact(u.says, u.path) for u in asked)
    lines = []
    for field in sorted({u.field for u in asked}):
        ids = [u.pipe for u in asked if u.field == field]
        named = ", ".join(ids[:_MOST_ASKED])
        more = f" and {len(ids) - _MOST_ASKED} more" if len(ids) > _MOST_ASKED else ""
        words = f"{field} of pipes {named}{more} (/pipes/*/{field})"
        lines.append(Fact(words, f"pipes.*.{field}"))
    return tuple(lines)


def _facts_for(case: Case, subject: Subject, judged: Judgement | None) -> tuple[Unstated, ...]:
    """Give the unknown facts of the pipes on a judgement's way and of the plug's own pipe.

    Where that names none, the answer may hang on any of them.
    """
    network = case.network
    way = set(judged.way) if judged is not None else set()
    near = set()
    if judged is not None and subject.kind in {"plug", "plugs"}:
        named = {f"plug {subject.id}", *judged.concerns}
        near = {p.pipe for p in case.plugs if f"plug {p.id}" in named}
    for name in case.unstated:
        if any(way.issuperset(network.ends[i].tolist()) for i in network.pieces_of[name]):
            near.add(name)
    some = [u for name, facts in case.unstated.items() if name in near for u in facts]
    return tuple(some or (u for facts in case.unstated.values() for u in facts))


def _safely(rule: Rule, judge: Callable[[], Iterable[Judgement]]) -> list[Judgement]:
    try:
        return list(judge())
    except Exception as error:
        return [
            Judgement(
                rule.name,
                Subject("rule", rule.name),
                Outcome.FAULT,
                f"failed: {type(error).__name__}",
                f"The rule failed on this layout ({type(error).__name__}); nothing it would have "
                "said is known. This is a fault of layoutcheck.",
                todo="Report it, with the layout if you may share it.",
            )
        ]
