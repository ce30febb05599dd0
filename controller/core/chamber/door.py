"""Whether the door is open: by its contact, else by temperature and humidity that fall fast together."""

from typing import Final

from controller.core.memory import JudgeMemory
from controller.core.values import Reading, Readings

MINUTE_S: Final = 60.0
DOOR_K_PER_MIN: Final = 3.0
DOOR_PCT_PER_MIN: Final = 3.0
DOOR_LASTS_S: Final = 180.0


def see_door(memory: JudgeMemory, readings: Readings, now_s: float, oldest_s: float) -> tuple[bool, JudgeMemory]:
    """Say whether the door is open, and remember what its guess needs.

    Args:
        memory: of the judge.
        readings: of this tick.
        now_s: the monotonic clock.
        oldest_s: a contact that was read before this instant says nothing.
    """
    contact = readings.get("door")
    if isinstance(contact, Reading) and contact.taken_s >= oldest_s:
        return contact.value > 0.5, memory  # noqa: PLR2004
    rh, fast = readings.get("rh"), readings.get("rh_temp")
    if not (isinstance(rh, Reading) and isinstance(fast, Reading)):
        return now_s - memory.door_seen_s <= DOOR_LASTS_S, memory
    minute_s = now_s - memory.rh_minute_s
    if minute_s < MINUTE_S / 2:
        return now_s - memory.door_seen_s <= DOOR_LASTS_S, memory
    fell_k = (memory.fast_minute_c - fast.value) * 60.0 / minute_s
    fell_pct = abs(memory.rh_minute_pct - rh.value) * 60.0 / minute_s
    seen = minute_s < 2 * MINUTE_S and fell_k > DOOR_K_PER_MIN and fell_pct > DOOR_PCT_PER_MIN
    door_seen_s = now_s if seen else memory.door_seen_s
    after = JudgeMemory(
        memory.channels, memory.seen, memory.firm, door_seen_s, now_s, rh.value, fast.value, memory.door_open_s
    )
    return now_s - door_seen_s <= DOOR_LASTS_S, after
