"""What breaks a step test off: whatever forbids heat, an open door, a batch that needs the chamber, the time."""

from collections.abc import Iterable

from msgspec.structs import replace

from controller.core.fault_table import ROWS
from controller.core.learn.course import LONGEST_S, highest_c, off_now, with_new_windows
from controller.core.learn.memory import ENDED, Learning
from controller.core.memory import Batch, Memory
from controller.core.plan import Chamber
from controller.core.values import Event, Known, Role

WORDS = {
    "rest": "everything is off, the thermometers are looked at",
    "heat": "the lamp is on",
    "off": "everything is off, the chamber cools by itself",
    "mist": "the humidifier gives pulses",
    "cool": "the cooling is on",
    "after": "everything is off again",
}
"""What each phase is, for people."""


def broken_off(learning: Learning, because: str, now_s: float) -> Learning:
    """Return the test as over, with the reason."""
    return replace(learning, phase=ENDED, phase_began_s=now_s, because=because)


def why_broken(
    learning: Learning, known: Known, blocks: Iterable[str], leading: Batch | None, now_s: float, last_s: float
) -> str:
    """Return why a step test cannot go on, in words; empty where it can.

    Args:
        learning: where it stands.
        known: what the judge believes.
        blocks: why no heat may be given in this tick; that the phase wants none is no reason.
        leading: the batch that leads the climate, if one has come back into the chamber.
        now_s: the monotonic clock.
        last_s: the instant of the tick before.
    """
    if leading is not None:
        return f"{leading.id} needs the chamber"
    if known.door_open:
        contact = "the door was opened"
        return contact if "door" in known.contacts else f"{contact}, as far as the air tells: no contact watches it"
    block = next((one for one in blocks if one != "state"), "")  # That the phase wants no heat is no reason.
    if block:
        return "no good air temperature for some seconds" if block == "settling" else f"{block}: {ROWS[block].title}"
    if now_s - learning.began_s > LONGEST_S:
        return f"it took longer than {LONGEST_S / 3600.0:g} hours"
    if now_s - last_s > HOLE_S:
        return f"nothing was measured for {now_s - last_s:.0f} s"
    return ""


HOLE_S = 60.0
"""A loop that was blocked for so long leaves a hole in what is to be learned from."""


SHOWN_SHARE = 0.25
"""Figures that are guessed may be wrong by a factor of two, and a probe be slow. Common practice, no source."""


def held_to_course(
    memory: Memory,
    known: Known,
    blocks: Iterable[str],
    blocked: set[Role],
    leading: Batch | None,
    chamber: Chamber,
    now_s: float,
) -> tuple[Memory, set[Role]]:
    """Return the memory and the outputs that may not be on: of a test that was broken off just now all of them."""
    learning = memory.learning
    if learning is None:
        return memory, blocked
    because = ""
    if not learning.ended:
        because = why_broken(learning, known, blocks, leading, now_s, memory.last_s)
        because = because or _shows_no_lamp(learning, known, chamber, now_s)
    if because:
        learning = broken_off(learning, because, now_s)
        memory = replace(memory, learning=learning, outputs=with_new_windows(memory.outputs))
    return memory, blocked | off_now(learning, chamber)


def _shows_no_lamp(learning: Learning, known: Known, chamber: Chamber, now_s: float) -> str:
    """Return why the thermometer is not to be believed under a strong lamp; empty where it may be.

    A3 waits until 12 K are missing wholly. Here the lamp is out, too, as soon as it should, by the chamber's figures,
    have brought all that the test may reach, and hardly any of it is shown.
    """
    if learning.phase != "heat" or learning.rested_c is None or known.air_temp_c is None:
        return ""
    figures = chamber.figures
    holds_j_per_k = figures.air_j_per_k + figures.wall_j_per_k + learning.loaded_kg * figures.meat_j_per_kg_k
    expected_k = figures.heater_w * (now_s - learning.phase_began_s) / holds_j_per_k
    rose_k = known.air_temp_c - learning.rested_c
    if learning.rested_c + expected_k < highest_c(chamber) or rose_k >= SHOWN_SHARE * expected_k:
        return ""
    return (
        f"the air thermometer shows {rose_k:+.1f} K after {(now_s - learning.phase_began_s) / 60.0:.0f} min of lamp, "
        f"{expected_k:.0f} K were expected: does the lamp burn, and does the probe hang inside and move?"
    )


def still_on(learning: Learning | None) -> Learning | None:
    """Return the test unless it ended in the tick before: its last row has been handed over."""
    return None if learning is None or learning.ended else learning


def phase_told(before: Learning | None, after: Learning | None) -> tuple[Event, ...]:
    """Return what is told of a step test after a tick, if its phase is another one than before."""
    if before is None or after is None or before.phase == after.phase:
        return ()
    if not after.ended:
        return (Event("learn", f"Step test {after.name}: {WORDS[after.phase]}."),)
    if after.because:
        text = f"Step test {after.name} broken off: {after.because}. All outputs are off; nothing was changed."
        return (Event("learn", text),)
    left_out = "".join(f" {note}" for note in after.notes)
    text = f"Step test {after.name} is over; all outputs are off.{left_out} See: hangroom learn --result"
    return (Event("learn", text),)
