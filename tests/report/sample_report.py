"""A report made by hand, with one of everything a text can hold. Site, people and places are
invented; no number in it comes from a check."""

from datetime import date

from layoutcheck.report.actions import numbered
from layoutcheck.report.cautions import CAUTIONS, DEFERENCE
from layoutcheck.report.model import (
    At,
    CoolantPart,
    Counts,
    DrainPart,
    Finding,
    FlowPart,
    FreezePart,
    LayoutPart,
    LoosenedPart,
    Measure,
    Move,
    NamedPart,
    PackPart,
    PlaceStatus,
    PlugPart,
    Remaining,
    Report,
    ShutStretch,
    Span,
    Stretch,
    SubjectPart,
    Verdict,
    WaivedBy,
)
from layoutcheck.rules.outcome import Gravity, Outcome, Severity


def feet(number: float) -> Measure:
    """A length of whole or half feet, written as reports write it."""
    whole, inches = int(number), round(number % 1 * 12)
    words = " ".join(
        w for w in (f"{whole} ft" if whole else "", f"{inches} in" if inches else "") if w
    )
    metres = number * 0.3048
    return Measure(value=metres, unit="m", shown=f"{words or '0 in'} ({metres:.3f} m)")


def on(pipe: str, station: float, end: str) -> At:
    return At(pipe=pipe, station=feet(station), from_junction=end)


def finding(
    identity: str,
    rule: str,
    subject: tuple[str, str],
    outcome: Outcome,
    says: str,
    *,
    severity: Severity = Severity.VIOLATION,
    way: tuple[At, ...] = (),
    missing: tuple[str, ...] = (),
    todo: str = "",
    concerns: tuple[NamedPart, ...] = (),
    waiver: WaivedBy | None = None,
) -> Finding:
    return Finding(
        id=identity,
        rule=rule,
        severity=severity,
        gravity=Gravity.FLOOD,
        subject=SubjectPart(kind=subject[0], id=subject[1]),
        outcome=outcome,
        reason="by hand",
        says=says,
        way=way,
        missing=missing,
        todo=todo,
        concerns=concerns,
        waiver=waiver,
    )


A, B, WORK, STOCK = ("plug", "A"), ("plug", "B"), ("work", "valve V7"), ("stock", "carbon dioxide")

FINDINGS = (
    finding(
        "a1",
        "flowing-line-setback",
        A,
        Outcome.BROKEN,
        "1 ft (0.305 m) to flowing line H1 at T2: 1 ft (0.305 m) short of the 2 ft (0.610 m) "
        "asked for.",
        way=(At(junction="T1"), At(element="V3", pipe="P1"), At(junction="T2")),
        todo="Move the plug away from it.",
    ),
    finding(
        "a2",
        "start-temperature",
        A,
        Outcome.UNDECIDED,
        "The water's temperature is not stated.",
        severity=Severity.CAUTION,
        missing=("water temperature at plug A",),
        todo="Measure the water's temperature and state it.",
    ),
    finding("a3", "straight-run", A, Outcome.HOLDS, "Straight."),
    finding("a4", "natural-circulation", A, Outcome.DOES_NOT_APPLY, "No loop."),
    finding("b1", "straight-run", B, Outcome.HOLDS, "Straight."),
    finding(
        "b2",
        "jacket-clearance",
        B,
        Outcome.WAIVED,
        "4 in (0.102 m) of free space; at least 6 in (0.152 m) is needed.",
        waiver=WaivedBy(reason="slim jacket", by="invented foreman", until=date(2027, 3, 31)),
    ),
    finding(
        "c1",
        "plug-spacing",
        ("plugs", "A + B"),
        Outcome.BROKEN,
        "1 ft (0.305 m) between the jackets; 2 ft (0.610 m) is asked for.",
        todo="Move one of the two plugs.",
        concerns=(NamedPart(kind="plug", id="A"), NamedPart(kind="plug", id="B")),
    ),
    finding(
        "w1",
        "isolation",
        WORK,
        Outcome.BROKEN,
        "source MAIN reaches the work by way of J1, J2, V7.",
        way=(At(junction="J1"), At(junction="J2"), At(element="V7")),
        todo="Add a plug or close a valve on this way.",
    ),
    finding("s1", "cylinder-temperature", STOCK, Outcome.HOLDS, "Cool."),
)


def span(low: float, likely: float, high: float, unit: str, word: str) -> Span:
    """An estimate in whole minutes or kilograms."""
    scale = {"s": 60.0}.get(unit, 1.0)
    parts = (
        Measure(value=x * scale, unit=unit, shown=f"{x:g} {word}") for x in (low, likely, high)
    )
    return Span(**dict(zip(("low", "likely", "high"), parts, strict=True)))


KILOGRAMS = span(9, 12, 15, "kg", "kg")
MINUTES = span(35, 45, 55, "s", "min")
FREEZE = FreezePart(
    outcome="closes",
    reason="closes",
    needed_solid_length=feet(0.5),
    time_to_neck_closed=span(25, 30, 40, "s", "min"),
    time_to_plug=MINUTES,
    frost_band=Span(low=feet(0.5), likely=feet(1), high=feet(1.5)),
    time_to_thaw=span(60, 80, 99, "s", "min"),
    time_to_release=span(10, 20, 30, "s", "min"),
    due=MINUTES.high,
    hold=MINUTES.likely,
    coolant=CoolantPart(
        fill=KILOGRAMS,
        freeze=KILOGRAMS,
        hold=KILOGRAMS,
        reserve=KILOGRAMS,
        total=KILOGRAMS,
        on_hand=KILOGRAMS.high,
        cylinder=KILOGRAMS.low,
        cylinders=2,
        comes_in="2 cylinders of 9 kg",
        nozzles=1,
        top_up_interval=MINUTES.low,
        steps=(),
    ),
)
PLUG_A = PlugPart(
    id="A",
    at=on("P1", 1.5, "T1"),
    jacket=feet(1),
    size="NPS 2",
    coolant="carbon dioxide",
    well_placed=False,
    clear_by=None,
    nearest=Move(
        pipe="P1",
        from_junction="T1",
        station=feet(2.5),
        tape=feet(2.5),
        travel=feet(1),
        room=feet(6.5),
        remaining=(
            Remaining(
                id="a2", rule="start-temperature", outcome=Outcome.UNDECIDED, says="-", missing=()
            ),
            Remaining(
                id="new",
                rule="jacket-clearance",
                outcome=Outcome.UNDECIDED,
                says="The free space round this pipe is not stated.",
                missing=(),
            ),
        ),
    ),
    place=PlaceStatus.MOVES,
    no_place=False,
    isolates=True,
    freeze=FREEZE,
    clear=(Stretch(pipe="P1", from_junction="T1", start=feet(2.5), end=feet(9), room=feet(6.5)),),
    shut_out=(
        ShutStretch(
            pipe="P1",
            from_junction="T1",
            start=feet(0),
            end=feet(1),
            rules=("flowing-line-setback", "straight-run"),
        ),
        ShutStretch(
            pipe="P1",
            from_junction="T1",
            start=feet(1),
            end=feet(2.5),
            rules=("flowing-line-setback",),
        ),
    ),
)
PLUG_B = PLUG_A.model_copy(
    update={
        "id": "B",
        "at": on("P1", 3.5, "T1"),
        "nearest": None,
        "place": PlaceStatus.STAYS,
        "well_placed": True,
        "clear_by": feet(3),
        "clear": (),
        "shut_out": (),
    }
)

REPORT = numbered(
    Report(
        version="0.1.0",
        verdict=Verdict.NOT_COMPLIANT,
        layout=LayoutPart(name="Invented site", note="Made by hand.", digest="sha256:" + "1" * 64),
        pack=PackPart(
            name="invented firm",
            digest="sha256:" + "2" * 64,
            loosened=(
                LoosenedPart(
                    rule="plug-spacing", figure="per_inch", built_in="12 in", set_to="10 in"
                ),
            ),
        ),
        units="imperial",
        basis="from the jacket end",
        judged_on=date(2026, 11, 25),
        counts=Counts(holds=3, broken=3, undecided=1, does_not_apply=1, waived=1, fault=0),
        findings=FINDINGS,
        plugs=(PLUG_A, PLUG_B),
        flowing=(
            FlowPart(pipes=("H1", "H2"), why="in at source MAIN, out at outlet O1", certain=True),
            FlowPart(pipes=("H3",), why="", certain=False),
        ),
        drain=DrainPart(volume=Measure(value=0.03, unit="m3", shown="7.93 US gal (30.0 L)")),
        assumptions=("Outlets not stated otherwise may draw: O1.",),
        cautions=CAUTIONS,
        deference=DEFERENCE,
    )
)


def with_verdict(verdict: Verdict, **counts: int) -> Report:
    """The same report with another verdict and other counts."""
    numbers = REPORT.counts.model_copy(update=counts)
    return REPORT.model_copy(update={"verdict": verdict, "counts": numbers})
