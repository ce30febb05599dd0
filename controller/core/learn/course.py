"""The course of a step test: rest, full lamp, off, pulses of mist, cold, off; at most three hours in all.

Every phase ends by its time, and the lamp and the cold also by temperature. What is looked at then is not only what a
thermometer shows but where the air is already: a probe that follows slowly shows less than is true by its pace times
its response time, and that product is added. Common practice, no source, is every figure here that names none.
"""

from typing import Final

from msgspec.structs import replace

from controller.core.batch.stages import Climate
from controller.core.chamber.climate import mist_lift_pct_per_s, mist_top
from controller.core.learn.memory import ENDED, Learning
from controller.core.memory import OutputMemory
from controller.core.plan import Chamber
from controller.core.values import Known, Role

PHASES: Final = ("rest", "heat", "off", "mist", "cool", "after")

REST_S: Final = 600.0
RESTLESS_K: Final = 1.0
"""A chamber that moves so much while it rests, with everything off, was hot or cold a moment ago."""
HEAT_S: Final = 1800.0
OFF_S: Final = 4200.0
OFF_LOADED_S: Final = 2400.0
"""With a load the decay tells nothing of the walls: it takes a day. What is waited for is the after-heat."""
MIST_S: Final = 600.0
COOL_S: Final = 1200.0
AFTER_S: Final = 900.0
LONGEST_S: Final = 10_800.0
"""Three hours: the phases are shorter in all, and whatever delays them, this ends the test."""

RISE_K: Final = 15.0
"""The lamp goes off after this rise: enough for every figure, and little for a load."""
HIGHEST_C: Final = 40.0
BELOW_TRIP_K: Final = 5.0
"""The air gets no warmer than 40 °C, and stays this far below the trip."""
AHEAD_K: Final = 1.5
"""The lamp goes off so much before the highest temperature: what is hot in it still warms the air."""
ROOM_K: Final = 6.0
"""There must be so much room up to the highest temperature, else the step is too small to learn from."""
LOWEST_C: Final = 2.0
COLD_ROOM_K: Final = 5.0
"""The cold goes off at 2 °C, and does not begin less than 5 K above it."""
MARKS_S: Final = 40.0
PULSE_PCT: Final = 5.0
"""One pulse of mist lifts the humidity by so much, as far as the chamber's figures are right,"""
TOO_WET_PCT: Final = 90.0
"""and none is given above this: a wet sensor tells nothing."""


def highest_c(chamber: Chamber) -> float:
    """Return the temperature in °C that the air does not pass in a step test."""
    return min(HIGHEST_C, chamber.limits.trip_c - BELOW_TRIP_K)


def phases_of(chamber: Chamber) -> tuple[str, ...]:
    """Return the phases that this chamber has outputs for."""
    roles = {output.role for output in chamber.outputs}
    has_mist = "humidifier" in roles and "rh" in chamber.channels
    left_out = {*(() if has_mist else ("mist",)), *(() if "cooler" in roles else ("cool", "after"))}
    return tuple(phase for phase in PHASES if phase not in left_out)


def longest_s(phase: str, learning: Learning) -> float:
    """Return the seconds that a phase takes at most."""
    if phase == "off" and learning.loaded_kg > 0.0:
        return OFF_LOADED_S
    times = {"rest": REST_S, "heat": HEAT_S, "off": OFF_S, "mist": MIST_S, "cool": COOL_S, "after": AFTER_S}
    return times.get(phase, 0.0)


def left_s(learning: Learning, chamber: Chamber, now_s: float) -> tuple[float, float]:
    """Return how many seconds the phase still takes at most, and the whole test."""
    phases = phases_of(chamber)
    if learning.phase not in phases:
        return 0.0, 0.0
    here_s = max(longest_s(learning.phase, learning) - (now_s - learning.phase_began_s), 0.0)
    to_come = phases[phases.index(learning.phase) + 1 :]
    return here_s, here_s + sum(longest_s(phase, learning) for phase in to_come)


def went_on(learning: Learning, known: Known, chamber: Chamber, now_s: float) -> Learning:
    """Return the test in the phase that is due now; each begins at its own instant, and none is skipped unsaid.

    Args:
        learning: where it stood.
        known: what the judge believes in this tick.
        chamber: what is fixed while the daemon runs.
        now_s: the monotonic clock.
    """
    learning = _marked(learning, known, now_s)
    if not _is_over(learning, known, chamber, now_s):
        return learning
    phases = phases_of(chamber)
    place = phases.index(learning.phase) + 1
    while place < len(phases):
        left_out = _why_left_out(phases[place], known)
        if not left_out:
            return _begun(learning, phases[place], known, chamber, now_s)
        learning = replace(learning, notes=(*learning.notes, left_out))
        place += 2 if phases[place] == "cool" else 1
    return replace(learning, phase=ENDED, phase_began_s=now_s)


def _marked(learning: Learning, known: Known, now_s: float) -> Learning:
    """Return the test with what both thermometers show; where there is no quicker one the leading one stands twice."""
    if known.air_temp_c is None:
        return learning
    quick_c = known.air_temp_c if known.rh_temp_c is None else known.rh_temp_c
    kept = tuple(mark for mark in learning.marks if now_s - mark[0] <= MARKS_S)
    first_c = known.air_temp_c if learning.first_c is None else learning.first_c
    return replace(learning, marks=(*kept, (now_s, known.air_temp_c, quick_c)), first_c=first_c)


def _is_over(learning: Learning, known: Known, chamber: Chamber, now_s: float) -> bool:
    if now_s - learning.phase_began_s >= longest_s(learning.phase, learning):
        return True
    if learning.phase == "heat":
        rose_k = 0.0 if learning.rested_c is None or known.air_temp_c is None else known.air_temp_c - learning.rested_c
        return rose_k >= RISE_K or _ahead_c(learning, known, chamber, now_s) >= highest_c(chamber) - AHEAD_K
    if learning.phase == "cool":
        return _ahead_c(learning, known, chamber, now_s, cold=True) <= LOWEST_C
    return False


def _ahead_c(learning: Learning, known: Known, chamber: Chamber, now_s: float, *, cold: bool = False) -> float:
    """Return how warm the air will have become when what was on is off, by the pace and response of each thermometer.

    What is hot in the lamp, or cold in the plate, goes on for about the lamp's own time constant. An instant that
    nobody knows anything of counts as the far end: the phase is over.
    """
    if known.air_temp_c is None or not learning.marks:
        return float("-inf") if cold else float("inf")
    first_s, *first = learning.marks[0]
    responses = chamber.response_s.get("air_temp", 0.0), chamber.response_s.get("rh_temp", 0.0)
    far = max if not cold else min
    found = [known.air_temp_c] if known.highest_c is None or cold else [known.highest_c]
    for first_c, value_c, response_s in zip(first, learning.marks[-1][1:], responses, strict=True):
        pace = (value_c - first_c) / (now_s - first_s) if now_s > first_s else 0.0
        found.append(value_c + pace * (response_s + chamber.figures.lamp_s))
    return far(found)


def _why_left_out(phase: str, known: Known) -> str:
    """Return why a phase cannot be; empty where it can."""
    if phase == "mist" and known.rh_pct is None:
        return "The humidifier was left out: no humidity could be believed."
    if phase == "mist" and (known.rh_pct or 0.0) > TOO_WET_PCT:
        return f"The humidifier was left out: the air was at {known.rh_pct:.0f} % already, limit {TOO_WET_PCT:g} %."
    if phase == "cool" and (known.air_temp_c is None or known.air_temp_c < LOWEST_C + COLD_ROOM_K):
        shown = "not known" if known.air_temp_c is None else f"{known.air_temp_c:.1f} °C"
        return f"The cooling was left out: the air was {shown}, at least {LOWEST_C + COLD_ROOM_K:g} °C is wanted."
    return ""


def _begun(learning: Learning, phase: str, known: Known, chamber: Chamber, now_s: float) -> Learning:
    learning = replace(learning, phase=phase, phase_began_s=now_s)
    if phase == "heat":
        return _rested(learning, known)
    if phase == "mist":
        return replace(learning, pulse_s=_pulse_s(known, chamber))
    return learning


def _rested(learning: Learning, known: Known) -> Learning:
    """Return the test at the end of its rest; one that did not come to rest ends here, and not hours later."""
    air_c, first_c = known.air_temp_c, learning.first_c
    if air_c is None or first_c is None:
        return replace(learning, phase=ENDED, because="there was no good air temperature at rest")
    if abs(air_c - first_c) > RESTLESS_K:
        because = (
            f"the chamber was not at rest, {air_c - first_c:+.1f} K in {REST_S / 60:.0f} min with all off, limit "
            f"{RESTLESS_K:g} K (let it stand open for an hour, shut it, wait another)"
        )
        return replace(learning, phase=ENDED, because=because)
    return replace(learning, rested_c=air_c)


def _pulse_s(known: Known, chamber: Chamber) -> float:
    """Return how long one pulse of mist is: never more than the loops may give, and no shorter than it can be."""
    output = chamber.output("humidifier")
    if output is None or known.air_temp_c is None:
        return 0.0
    wanted_s = PULSE_PCT / max(mist_lift_pct_per_s(chamber, known.air_temp_c), 1e-3)
    most_s = mist_top(chamber, known.air_temp_c) * output.window_s
    return max(min(wanted_s, most_s), output.min_on_s)


def climate_of(learning: Learning, chamber: Chamber) -> Climate:
    """Return what is wanted while a step test runs: heat up to its highest temperature, in its one phase."""
    heats = learning.phase == "heat"
    return Climate(highest_c(chamber) if heats else None, None, heat=heats, mist=learning.phase == "mist")


def duty_of(learning: Learning, chamber: Chamber) -> dict[Role, float]:
    """Return the duty (0..1) of the one output that this phase is about."""
    if learning.phase == "heat":
        return {"heater": 1.0}
    if learning.phase == "cool":
        return {"cooler": 1.0}
    output = chamber.output("humidifier")
    if learning.phase == "mist" and output is not None:
        return {"humidifier": min(learning.pulse_s / output.window_s, 1.0)}
    return {}


ONLY: Final[dict[str, frozenset[Role]]] = {
    "heat": frozenset({"heater", "master"}),
    "mist": frozenset({"humidifier"}),
    "cool": frozenset({"cooler"}),
}
ALWAYS: Final[frozenset[Role]] = frozenset({"sounder"})


def off_now(learning: Learning, chamber: Chamber) -> set[Role]:
    """Return the outputs that may not be on in this phase: all but the one it is about, and the sounder."""
    return {output.role for output in chamber.outputs} - ONLY.get(learning.phase, frozenset()) - ALWAYS


def with_new_windows(outputs: dict[Role, OutputMemory]) -> dict[Role, OutputMemory]:
    """Return the outputs with no window begun: a phase's own must not reach into the next, or behind the test."""
    fresh = {}
    for role, output in outputs.items():
        if role in ALWAYS:
            fresh[role] = output
        else:
            fresh[role] = replace(output, window_ends_s=float("-inf"), on_ends_s=float("-inf"), carry_s=0.0)
    return fresh
