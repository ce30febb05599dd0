"""Whether the door is open: by its contact, else by temperature and humidity that change fast together.

A door brings temperature and vapour towards the room's. So it is guessed where the air got much colder and its humidity
changed within half a minute, or where it got colder and lost a fifth of its vapour within a minute or two.

In a chamber that is colder than its room nothing tells an open door from a lamp that is stuck, and none is guessed. But
air that warmed as fast, and not by the lamp, gets colder when its door is shut, and that is no opening.

A puff of the chamber's own humidifier looks like the first: the mist that evaporates cools the air by kelvins and
lifts the humidity. But mist only adds vapour, and it takes no more heat than the water that was given evaporates with.
A cold plate looks like the second: where something dries the air, only the first is asked. The lamp warms the air too,
but by no more than its power does.
"""

from typing import Final

from msgspec import Struct

from controller.core.chamber.known import HOTTEST_BELIEVED_C
from controller.core.memory import JudgeMemory, Memory
from controller.core.plan import Figures
from controller.core.values import Reading, Readings, Role
from controller.food.air import vapour_pressure_pa

MINUTE_S: Final = 60.0
DOOR_K_PER_MIN: Final = 3.0
DOOR_PCT_PER_MIN: Final = 3.0
DOOR_LASTS_S: Final = 180.0
LEFT_SHARE: Final = 0.8
LEFT_K: Final = 0.3
"""What two looks, 60 to 120 s, show of an open door where nothing dries the air: a fifth of the vapour has left, and it
is colder. 20 s of an open door are half of the air; common practice, no source. A healthy modelled one loses 6 %."""
MIST_COOLS_K_PER_PCT: Final = 0.36
"""How far the air cools by the water that lifts it by 1 %RH at 20 °C, no wall giving any heat back.

0.173 g/m³ (a hundredth of saturation) times 2.5 kJ/g, over 1.2 kg/m³ times 1.006 kJ/(kg K).
"""
KEEPS_VAPOUR: Final = 0.9
"""Mist adds vapour; a tenth less may be the sensor, whose humidity follows later than its temperature."""
LAMP_SHARE: Final = 1.5
"""How much faster than its figures say a lamp may warm the box before it was something else."""
BACK_K: Final = 1.0
"""Such air may end so far below where it began: the walls are colder. Common practice, no source."""
BACK_S: Final = 900.0
"""So long after air has warmed fast its fall is a door that was shut. Common practice, no source."""
DRIERS: Final[tuple[Role, ...]] = ("cooler", "dehumidifier", "fresh_air")
DRIES_ON_S: Final = 300.0
"""So long after it was on a cold plate still takes vapour from the air. Common practice, no source."""

LAMP_FALLS_S: Final = 300.0
"""So long a lamp that was on for long still shows in the air. Common practice, no source."""


class Given(Struct, frozen=True, gc=False):
    """Hold what the chamber itself did to its humidity, by what was commanded up to now."""

    mist_s: float = 0.0  # For how many seconds the humidifier has been on in all,
    lamp_s: float = 0.0  # and the lamp.
    dries: bool = False  # Something takes vapour from the air, or did minutes ago.
    lamp_fell: bool = False  # In a step test the lamp went from full to off moments ago: what was hot above the wall
    # and is gone in minutes, falls faster than 3 K/min under a strong lamp, and no door does it.


NOTHING_GIVEN: Final = Given()


def given(memory: Memory, now_s: float) -> Given:
    """Return what the outputs did to the humidity; they were commanded in the ticks before."""
    dries = False
    for role in DRIERS:
        output = memory.outputs.get(role)
        if output is not None and output.closings and now_s - max(output.on_until_s, output.off_since_s) < DRIES_ON_S:
            dries = True
    learning = memory.learning
    lamp_fell = learning is not None and learning.phase == "off" and now_s - learning.phase_began_s < LAMP_FALLS_S
    return Given(_on_s(memory, "humidifier", now_s), _on_s(memory, "heater", now_s), dries, lamp_fell)


def _on_s(memory: Memory, role: Role, now_s: float) -> float:
    """Return for how many seconds this output has been on in all, up to now."""
    output = memory.outputs.get(role)
    return 0.0 if output is None else output.on_total_s + max(min(output.on_until_s, now_s) - memory.last_s, 0.0)


def see_door(
    memory: JudgeMemory,
    readings: Readings,
    now_s: float,
    oldest_s: float,
    figures: Figures,
    did: Given,
    warmest_c: float,
) -> tuple[bool, JudgeMemory]:
    """Say whether the door is open, and remember what its guess needs.

    Args:
        memory: of the judge.
        readings: of this tick.
        now_s: the monotonic clock.
        oldest_s: a contact that was read before this instant says nothing.
        figures: of the chamber: how much a second of mist does.
        did: what the chamber itself did to its air.
        warmest_c: the room's highest temperature: an open door warms the air no further.
    """
    contact = readings.get("door")
    if isinstance(contact, Reading) and contact.taken_s >= oldest_s:
        return contact.value > 0.5, memory  # noqa: PLR2004
    rh, fast = readings.get("rh"), readings.get("rh_temp")
    if not (isinstance(rh, Reading) and isinstance(fast, Reading) and abs(fast.value) <= HOTTEST_BELIEVED_C):
        return now_s - memory.door_seen_s <= DOOR_LASTS_S, memory
    minute_s = now_s - memory.rh_minute_s
    if minute_s < MINUTE_S / 2:
        return now_s - memory.door_seen_s <= DOOR_LASTS_S, memory
    follows = minute_s < 2 * MINUTE_S
    vapour_pa = vapour_pressure_pa(fast.value, rh.value)
    rose_s, rose_from_c = memory.rose_s, memory.rose_from_c
    was_open = now_s - memory.door_seen_s <= BACK_S  # Then it warms since its door is shut.
    if (
        follows
        and not was_open
        and fast.value <= warmest_c
        and _rose_fast(memory, rh.value, fast.value, minute_s, figures, did.lamp_s)
    ):
        rose_s, rose_from_c = now_s, (rose_from_c if now_s - rose_s <= BACK_S else memory.fast_minute_c)
    goes_back = now_s - rose_s <= BACK_S and fast.value >= rose_from_c - BACK_K
    seen = (
        follows
        and not goes_back
        and (
            (not did.lamp_fell and _fell_fast(memory, rh.value, fast.value, vapour_pa, minute_s, figures, did.mist_s))
            or (not did.dries and _has_left(memory, fast.value, vapour_pa))
        )
    )
    door_seen_s = now_s if seen else memory.door_seen_s
    after = JudgeMemory(
        memory.channels,
        memory.seen,
        memory.firm,
        door_seen_s,
        now_s,
        rh.value,
        fast.value,
        memory.door_open_s,
        did.mist_s,
        memory.mist_minute_s if follows else did.mist_s,
        vapour_pa,
        memory.vapour_minute_pa if follows else 0.0,
        memory.fast_minute_c if follows else fast.value,
        did.lamp_s,
        rose_s,
        rose_from_c,
    )
    return now_s - door_seen_s <= DOOR_LASTS_S, after


def _rose_fast(
    memory: JudgeMemory, rh_pct: float, fast_c: float, minute_s: float, figures: Figures, lamp_s: float
) -> bool:
    """Say whether it got so much warmer, and the humidity changed, that it was the door, and not the lamp."""
    rose_k, changed_pct = fast_c - memory.fast_minute_c, abs(memory.rh_minute_pct - rh_pct)
    if rose_k * 60.0 / minute_s <= DOOR_K_PER_MIN or changed_pct * 60.0 / minute_s <= DOOR_PCT_PER_MIN:
        return False
    return rose_k > LAMP_SHARE * figures.heater_w * (lamp_s - memory.lamp_minute_s) / figures.air_j_per_k


def _fell_fast(
    memory: JudgeMemory,
    rh_pct: float,
    fast_c: float,
    vapour_pa: float,
    minute_s: float,
    figures: Figures,
    mist_s: float,
) -> bool:
    """Say whether it got so much colder, and the humidity changed, that it was the door, and not the own mist."""
    fell_k = memory.fast_minute_c - fast_c
    changed_pct = abs(memory.rh_minute_pct - rh_pct)
    if fell_k * 60.0 / minute_s <= DOOR_K_PER_MIN or changed_pct * 60.0 / minute_s <= DOOR_PCT_PER_MIN:
        return False
    given_s = mist_s - memory.mist_before_s
    is_mist = (
        given_s > 0.0
        and rh_pct > memory.rh_minute_pct
        and vapour_pa >= KEEPS_VAPOUR * memory.vapour_minute_pa
        and fell_k <= MIST_COOLS_K_PER_PCT * figures.mist_pct_per_s * given_s
    )
    return not is_mist


def _has_left(memory: JudgeMemory, fast_c: float, vapour_pa: float) -> bool:
    """Say whether within two looks so much vapour has left, while it got colder, as leaves by an open door only."""
    return vapour_pa < LEFT_SHARE * memory.vapour_before_pa and memory.fast_before_c - fast_c >= LEFT_K
