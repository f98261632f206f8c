"""A crew with a phone: what it taps, at which second, and what it reads on the screen."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from tests.page.conftest import FIXTURES

START = datetime(2026, 11, 25, 7, 0, 0, tzinfo=UTC)
ZONE = "Europe/Berlin"  # an hour ahead of UTC in November
_TIME = re.compile(r"(\d\d):(\d\d):(\d\d)")
_NOW = ("START", "INJECT since", "TOP UP since", "TOP-UP MISSED", "STOP:")
_BUTTON = re.compile(r"^(?:WE GO ON: )?(INJECTION|TOP-UP) (\d+) (BEGINS|ENDS)$")


@dataclass
class Tap:
    """A feeding as it was tapped: the clock on site, to the second."""

    plug: str
    feed: str
    number: int
    began: str
    ended: str = ""
    mass: str = ""


@dataclass
class Crew:
    """Holds the phone. late: how long it takes to tap what is due, s, by turns."""

    page: Any
    url: str
    late: tuple[int, ...] = (0,)
    now: float = START.timestamp() * 1000
    taps: dict[tuple[str, str, int], Tap] = field(default_factory=dict)
    turn: int = 0

    def clock(self) -> str:
        """Give the clock on site, as the log writes it."""
        return datetime.fromtimestamp(self.now / 1000 + 3600, UTC).strftime("%Y-%m-%d %H:%M:%S")

    def wait(self, seconds: float) -> None:
        self.page.clock.fast_forward(int(seconds * 1000))
        self.now += int(seconds * 1000)
        self.page.wait_for_timeout(30)

    def press(self, name: str, *, within: Any = None) -> None:
        (within or self.page).get_by_role("button", name=name, exact=True).click()
        self.page.wait_for_timeout(60)

    # --- before the start

    def open(
        self, site: str = "plant-room-mended", *, layout: dict[str, Any] | None = None
    ) -> None:
        """Open a site on the page, then the part for the freeze, at a clock that stands still."""
        data = layout or json.loads((FIXTURES / f"{site}.json").read_text("utf-8"))
        self.page.clock.install(time=START)
        self.page.goto(self.url)
        kept = {"layout": data, "fileName": f"{site}.json"}
        self.page.evaluate(
            "k => localStorage.setItem('layoutcheck page 1', JSON.stringify(k))", kept
        )
        self.page.goto(self.url + "watch.html")

    def tick_all(self, name: str = "A. Reed") -> int:
        """Give a name, and tick all that the sheet asks; give how many ticks there were."""
        self.page.get_by_role("button", name="GO TO THE TICKS").wait_for(timeout=60_000)
        self.page.get_by_text("it opens without a network").wait_for()
        self.page.get_by_label("Who holds this phone").fill(name)
        self.press("GO TO THE TICKS")
        count = 0
        while self.page.get_by_role("button", name="DONE").count():
            text = self.page.locator("h1").inner_text()
            gaps = self.page.get_by_label("What goes in the gaps")
            if gaps.count():
                gaps.fill("seen, B. Stone (invented)")
            self.page.get_by_role("button", name="DONE").click()
            self.page.wait_for_function(
                "t => document.querySelector('h1').innerText.trim() !== t", arg=text.strip()
            )
            count += 1
        self.press("TO THE JACKETS")
        return count

    def stand_still(self) -> None:
        """Have time go on only when the crew says so, from a whole second."""
        self.page.clock.pause_at(datetime.fromtimestamp(self._shown() / 1000 + 2, UTC))
        self.now = self._shown()
        self.wait((1000 - self.now % 1000) / 1000)
        self.now = self._shown()

    def _shown(self) -> float:
        return float(self.page.evaluate("Date.now()"))

    # --- while it freezes

    def jackets(self) -> dict[str, tuple[str, str]]:
        """Give for each jacket, the most urgent first: what it is to do, and its one button."""
        found = {}
        for section in self.page.locator(".jacket").all():
            plug = section.get_attribute("aria-label").removeprefix("Plug ")
            acts = [b.inner_text() for b in section.locator(".p-act").all()]
            act = next((a for a in acts if _BUTTON.match(a)), "")
            found[plug] = (section.locator(".do").inner_text(), act)
        return found

    def section(self, plug: str) -> Any:
        return self.page.locator(f".jacket[aria-label='Plug {plug}']")

    def tap(self, plug: str) -> None:
        """Tap the one button of a jacket, and note it."""
        text, act = self.jackets()[plug]
        found = _BUTTON.match(act)
        assert found, (plug, text, act)
        feed, number = found[1], int(found[2])
        self.press(act, within=self.section(plug))
        key = (plug, feed, number)
        if found[3] == "BEGINS":
            self.taps[key] = Tap(plug, feed, number, self.clock())
        else:
            self.taps[key].ended = self.clock()

    def weigh(self, plug: str) -> None:
        """Write what went in, as it is proposed, where it is asked for."""
        button = self.section(plug).get_by_role("button", name=re.compile(r"^WRITE [\d.]+ \w+$"))
        if not button.count():
            return
        label = self.section(plug).locator(".weigh .dial span").inner_text()
        said = re.search(r"(injection|top-up) (\d+)", label)
        assert said
        key = (plug, said[1].upper(), int(said[2]))
        self.taps[key].mass = button.inner_text().removeprefix("WRITE ")
        button.click()
        self.page.wait_for_timeout(60)

    def until(self, text: str) -> float:
        """How long until what a jacket says is due, s; 0 where it is due now."""
        if text.startswith(_NOW):
            return 0.0
        found = _TIME.search(text)
        assert found, text
        seconds = int(found[1]) * 3600 + int(found[2]) * 60 + int(found[3])
        here = datetime.fromtimestamp(self.now / 1000 + 3600, UTC)
        today = here.hour * 3600 + here.minute * 60 + here.second
        return float((seconds - today + 43_200) % 86_400 - 43_200)

    def go_on(self, until: float, *, skip: str = "") -> None:
        """Do what is due, each time a little late, until so many s from the start."""
        while True:
            told = self.jackets()
            for plug in told:
                if plug != skip:
                    self.weigh(plug)
            due = {
                p: self.until(t) for p, (t, _) in told.items() if p != skip and "stopped" not in t
            }
            plug = min(due, key=lambda p: due[p])
            late = self.late[self.turn % len(self.late)] if due[plug] > 0 else 0
            wait = max(0.0, due[plug]) + late
            if self.since_start() + wait > until:
                self.wait(max(0.0, until - self.since_start()))
                return
            self.wait(wait)
            self.turn += 1
            self.tap(plug)

    def since_start(self) -> float:
        return self.now / 1000 - self.begun

    begun: float = 0.0

    def start(self) -> None:
        """Begin the first injection at each jacket, one right after the other."""
        self.begun = self.now / 1000
        for plug in list(self.jackets()):
            self.tap(plug)
            self.wait(4)

    # --- what is written

    def write(self, plug: str, leaf: str) -> Any:
        """Open what can be written at a jacket; give the page of one thing."""
        self.press("WRITE WHAT YOU SEE", within=self.section(plug))
        found = self.page.locator(f".leaf[aria-label='{leaf}']")
        found.scroll_into_view_if_needed()
        return found

    def frost(self, plug: str, a: str, b: str) -> str:
        leaf = self.write(plug, f"{plug}: frost")
        one, two = leaf.get_by_role("slider").all()
        one.fill(a)
        two.fill(b)
        self.press("WRITE FROST", within=leaf)
        return self.clock()

    def tested(self, plug: str, text: str = "60 psi far, 0 psi here, B. Stone") -> str:
        leaf = self.write(plug, f"{plug}: pressure test passed")
        leaf.get_by_label("Gauges, and who watched").fill(text)
        self.press("NOTHING MOVED: WRITE", within=leaf)
        return self.clock()

    def pressed(self, plug: str, leaf: str, button: str) -> str:
        self.press(button, within=self.write(plug, leaf))
        return self.clock()

    def saved(self, leaf: str, button: str) -> Path:
        """Save something from the log's own screen."""
        plug = next(iter(self.jackets()))
        self.pressed(plug, "The log out", "LOG, SECOND PHONE, RECORD")
        with self.page.expect_download(timeout=90_000) as waiting:
            self.press(button, within=self.page.locator(f".leaf[aria-label='{leaf}']"))
        self.press("BACK")
        return Path(waiting.value.path())
