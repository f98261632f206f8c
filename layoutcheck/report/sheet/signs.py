"""Signs of a good freeze and of a bad one. Common practice, no published source."""

from __future__ import annotations

from layoutcheck.report.sheet.model import Tick

# Said in these words wherever the sheet tells of it: two orders for one alarm cost lives.
ALARM = "Everybody out, at once. Nobody goes back in until the air is measured fit, from outside."
WATER = (
    "Get clear. Have the water shut off at the place agreed before the start. Only when it has "
    "stopped: close up the line. See 'If a plug goes'."
)

# Metal as cold as liquid nitrogen drips air rich in oxygen. The limit: 29 CFR 1910.146(b).
CONDENSED_AIR: tuple[Tick, ...] = (
    Tick(
        "The oxygen meter also warns above 23.5 % of oxygen. Its alarms are set to: low ______ "
        "high ______",
        "Bare metal with liquid nitrogen on it condenses air, and what drips is rich in oxygen.",
    ),
    Tick(
        "All bare metal that meets liquid nitrogen is wrapped. Below it: no oil, grease, rag or "
        "wood, and a metal tray that lies dry. No flame, no sparks, no hot work in the room."
    ),
)

# What it looks like, and what it means.
GOOD_SIGNS: tuple[tuple[str, str], ...] = (
    (
        "A band of frost rings the bare pipe at both ends of the jacket, all the way round, and "
        "grows evenly.",
        "The cold stays; water stands still.",
    ),
    (
        "The jacket stays full of dry ice or liquid between injections, and takes less and less.",
        "The pipe under it is cold through.",
    ),
    (
        "A bleed that ran while the ice grew slows and stops.",
        "The ice has stopped growing on that side. It does not prove the plug.",
    ),
    (
        "With the pressure it will hold on its far side, and let off on the work's side, nothing "
        "flows and neither gauge moves.",
        "This is the proof. Only this.",
    ),
)

# What it looks like, and what to do.
BAD_SIGNS: tuple[tuple[str, str], ...] = (
    (
        "No frost beyond the jacket, or on one side only, by the plug's earliest time.",
        "Water is moving. Do not open. Find what flows, stop it, go on injecting.",
    ),
    (
        "The jacket empties as fast as it is filled, or frost comes and goes.",
        "Water is moving, the jacket leaks, or a cylinder is warm or empty. Change it, look again.",
    ),
    (
        "A gauge between two closures rises.",
        "Stop injecting. Open the bleed slowly, from the side. Stand clear.",
    ),
    (
        "Frost draws back during the hold.",
        "Top up at once. While the plug still holds, close or cap the line and keep away from it.",
    ),
    ("Water shows at the work, or more runs than a plug that holds lets by.", WATER),
    (
        "A crack, a tick, a dent, a weep at a joint.",
        "Stop injecting, stand clear, do not touch the pipe. Have the water shut off at the agreed "
        "place first; then let it thaw, with everybody away from it.",
    ),
    ("A meter alarms, or anyone has a headache, is short of breath or dizzy.", ALARM),
    (
        "The time to prove the plug by has come, and it is not proven.",
        "Do not open the line. Go on injecting, with air and coolant in hand, to the time to give "
        "up in the plug's part of this sheet. Then stop, let it thaw, and find out why.",
    ),
)
