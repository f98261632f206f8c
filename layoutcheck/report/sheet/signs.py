"""Signs of a good freeze and of a bad one. Common practice, no published source."""

from __future__ import annotations

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
        "With the pressure let off on the work's side nothing flows, and the gauge on the far side "
        "does not move.",
        "This is the proof. Only this.",
    ),
)

# What it looks like, and what to do.
BAD_SIGNS: tuple[tuple[str, str], ...] = (
    (
        "No frost beyond the jacket, or on one side only, by the time the plug may stand.",
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
        "Frost draws back during the hold, or water shows at the work.",
        "Top up at once and close the line up. See 'If a plug goes'.",
    ),
    (
        "A crack, a tick, a dent, a weep at a joint.",
        "Stop injecting, stand clear, do not touch the pipe. Let it thaw behind shut valves.",
    ),
    (
        "A meter alarms, or anyone has a headache, is short of breath or dizzy.",
        "Everybody out. Air the room. Nobody goes back in to save the job.",
    ),
    (
        "The plug is due, and not proven.",
        "Do not open. Go on injecting only with air, coolant and time in hand; else let it thaw.",
    ),
)
