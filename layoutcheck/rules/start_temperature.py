"""start-temperature: the water is at 68 degF or colder when the freeze starts."""

from __future__ import annotations

from layoutcheck.quantities import show_temperature_pair
from layoutcheck.quantities.rough import rough_duration
from layoutcheck.rules.base import COMMON_PRACTICE, PlugRule, plug_subject
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.declared import Blank, Cure, Reach, RestsOn, Role
from layoutcheck.rules.estimates import freeze_from, freeze_of, water_temperature
from layoutcheck.rules.facts import Fact
from layoutcheck.rules.outcome import Amount, Dimension, Gravity, Judgement, Outcome, Severity
from layoutcheck.rules.pack import Figure, Tighter


class StartTemperature(PlugRule):
    """The water under a jacket is at 68 degF (20 degC) or colder when the freeze starts.

    Reason: Warmer water holds more heat and moves more by itself, so a freeze takes longer and
        uses more coolant, and may not close. In pipe that is not level the warm water below rises
        to the plug and has to be cooled with it: hours, where the column is long.
    Figure: 68 degF (20 degC), by the warmest pipe that the jacket covers.
    Source: common practice, no published source. No published ceiling was found.
    Does not apply: Never; every plug is judged.
    Undecided: Where neither a pipe under the jacket nor the site states the water's temperature.
    Does not see: How the temperature changes while the crew waits. How much longer a warmer
        start takes is computed with the freezing time.
    """

    name = "start-temperature"
    cures = frozenset({Cure.MOVE, Cure.WAIT})
    rests_on = RestsOn.PIPE
    spoils = Reach.PIPE
    role = Role.STARTS_COLD
    needs = frozenset({Blank.WATER})
    severity = Severity.CAUTION
    gravity = Gravity.DELAY
    gravity_reason = "Warm water takes longer and more coolant, or never closes"
    reason = "Warmer water takes longer and more coolant to freeze, and may not close."
    figures = (
        Figure(
            key="warmest",
            built_in="68 degF",
            dimension=Dimension.TEMPERATURE,
            tighter=Tighter.LESS,
            source=COMMON_PRACTICE,
            meaning="Warmest water at the start of a freeze.",
        ),
    )

    def judge_plug(self, case: Case, plug: PlacedPlug) -> Judgement:
        """Judge one plug where it stands."""
        limit = case.pack.number(self.name, "warmest")
        actual = water_temperature(case, plug)
        if actual is None:
            return self.says(
                plug_subject(plug),
                Outcome.UNDECIDED,
                "not stated",
                "The water's temperature is not stated.",
                required=Amount(limit, Dimension.TEMPERATURE),
                missing=(Fact(f"water temperature at plug {plug.id}", "site.water_temperature"),),
                todo="Measure the water's temperature and state it.",
            )
        # A thousandth of a kelvin is far below any thermometer and above rounding.
        warm = actual > limit + 1e-3
        shown, most = show_temperature_pair(actual, limit, case.layout.units)
        more = _how_much_more(case, plug, limit) if warm else ""
        return self.says(
            plug_subject(plug),
            Outcome.BROKEN if warm else Outcome.HOLDS,
            "too warm" if warm else "cold enough",
            f"The water is at {shown}; it must be {most} or colder.{more}",
            measured=Amount(actual, Dimension.TEMPERATURE),
            required=Amount(limit, Dimension.TEMPERATURE),
            gives=_once_cool(case, plug, limit) if warm else (),
            todo="Let the water cool first." if warm else "",
        )


def _once_cool(case: Case, plug: PlacedPlug, limit: float) -> tuple[str, ...]:
    """Give what the freeze misses from this start, and not from the limit."""
    now = freeze_of(case, plug).missing
    cool = freeze_from(case, plug, limit).missing if now else ()
    return tuple(m for m in now if m not in cool)


def _how_much_more(case: Case, plug: PlacedPlug, limit: float) -> str:
    """Say how much longer the freeze takes and how much more coolant than from the limit."""
    now = freeze_of(case, plug).answer
    if now is None:
        return ""
    if now.time_to_plug is None or now.heat_taken is None:
        return f" From this start: {now.reason}"
    cool = freeze_from(case, plug, limit).answer
    if cool is None or cool.time_to_plug is None or cool.heat_taken is None:
        return ""
    time, base = now.time_to_plug, cool.time_to_plug.likely
    share = now.heat_taken.likely / cool.heat_taken.likely - 1.0
    return (
        f" It likely takes about {rough_duration(time.likely, 'up')}, perhaps "
        f"{rough_duration(time.high, 'up')}, instead of {rough_duration(base)}, and "
        f"{100 * share:.0f} % more heat to take out with coolant."
    )
