"""The Raspberry Pi guest's commands: `python -m tests.rig.pi killed | hour` (as root; see `tests.rig.pi.image`).

`killed`: the running daemon is killed five times while its lamp burns, once with the kernel's switch that keeps
released outputs driven and once without; then `hangroom-relays-off` is run as the service runs it.
`hour`: the real command leads the first hour of a ferment; what it takes of memory and processor is told.
"""

import argparse
import statistics
import sys
from typing import Any

from tests.rig.pi.guest import Story, tell
from tests.rig.pi.image import why_no_pi


def off_s(run: dict[str, Any]) -> float | None:
    """Return when the lamp's pin was driven off or became an input, in seconds after the kill.

    By the kernel's trace; it has no line of a pin that becomes an input by being released, so then by the first look.
    """
    if run["after_kill"].startswith("gpio_in"):
        looked: float = run["looked_after_s"]
        return looked
    traced = [at_s for at_s, what in run["trace"] if "set 0" in what or " in " in what]
    seen: float | None = run["off_seen_after_s"]
    return min(traced) if traced else seen


def table_of_kills(story: Story) -> list[str]:
    """Return what the kills have shown, as a person reads it."""
    runs = [one for one in story.told if "run" in one]
    lines = [story.heading]
    if not runs:
        return [*lines, story.printed[-3000:]]
    lines.append(f"{'kill':<6}{'pin right after':<22}{'off after s':>12}{'safe-off took s':>17}{'code':>6}  at the end")
    for run in runs:
        after = run["off_seen_after_s"]
        shown = off_s(run)
        lines.append(
            f"{run['run'] + 1:<6}{run['after_kill']:<22}{'-' if shown is None else f'{shown:.3f}':>12}"
            f"{run['safe_off_took_s']:>17.2f}{run['safe_off_code']:>6}  {run['at_the_end']}"
            f"{'' if run['trace'] else f'  (seen by asking: {after})'}"
        )
    lines.append(f"left alone for ten seconds after the first kill: {runs[0]['ten_seconds_later']}")
    shown_s = [at_s for run in runs if (at_s := off_s(run)) is not None]
    if shown_s:
        lines.append(f"kill to relay off: median {statistics.median(shown_s):.3f} s, worst {max(shown_s):.3f} s")
    lines.append(f"({story.seconds:.0f} s of this machine)")
    return lines


def run() -> int:
    """Read the options and tell what was asked for."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("do", choices=("killed", "hour"))
    options.add_argument("--printed", action="store_true", help="print all that the guest has printed")
    chosen = options.parse_args()
    if why_not := why_no_pi():
        print(f"NO RASPBERRY PI GUEST: {why_not}")
        return 69
    if chosen.do == "hour":
        story = tell("hour", persist=True, skipping=True)
        print(story.heading, *story.told, f"({story.seconds:.0f} s of this machine)", sep="\n")
        print(story.printed if chosen.printed or len(story.told) < 2 else "")
        return 0 if len(story.told) > 1 else 1
    for persist in (True, False):
        story = tell("killed", persist=persist)
        print("\n".join(table_of_kills(story)), end="\n\n", flush=True)
        if chosen.printed:
            print(story.printed)
    return 0


if __name__ == "__main__":
    sys.exit(run())
