"""Judge every reading before anything is decided from it.

A reading is good until something speaks against it: a code that the sensor gives for its own troubles, a value that
this chamber cannot have, a jump, a rate that air and probe cannot follow, a number that stands still while another
sensor moves, or plain age. A damaged or missing reading never renews anything: the newest *good* one simply grows
older, and the gate counts its age.

Probes differ in speed: a bare humidity sensor follows the air in seconds, a thermometer in a steel sleeve in minutes.
Compared as they are, two healthy witnesses are several kelvin apart whenever the lamp is on. So each witness is
slowed to the slowest probe's response first; rate and agreement are judged on these slowed values.
"""

from math import exp, isfinite
from typing import Final

from msgspec.structs import replace

from controller.core.chamber.door import DOOR_LASTS_S, LAMP_SHARE, NOTHING_GIVEN, Given, see_door
from controller.core.chamber.known import CODES_C, COLDEST_EVAPORATOR_C, HOTTEST_BELIEVED_C, known_of, temperatures
from controller.core.memory import ChannelMemory, JudgeMemory
from controller.core.plan import WET_PCT, Chamber, Limits
from controller.core.values import CONTACTS, HUMIDITY, WITNESSES, Channel, Fault, FaultKind, Known, Reading, Readings

NEW_LEVEL: Final = 3
NEW_LEVEL_K: Final = 1.0
NEW_LEVEL_PCT: Final = 5.0
"""So many readings after a jump that agree within so much are a new level and no error."""
SUDDEN_RH_S: Final = 30.0

DAMAGED: Final[frozenset[FaultKind]] = frozenset(
    {"checksum", "empty", "half_read", "bus_error", "power_on_value", "low_supply", "no_reply"}
)
"""What a reading becomes on its way, or in a sensor without enough power. That a sensor is gone is another matter."""
OF_LOOKS: Final = 100
READ_EVERY_S: Final = 2.5
"""No sensor is read more often than that."""

MINUTE_S: Final = 60.0
SLOWEST_S: Final = 120.0
"""Rate and agreement are judged at least as slow as a bare DS18B20 in still air."""


def judge(
    memory: JudgeMemory, readings: Readings, now_s: float, chamber: Chamber, given: Given = NOTHING_GIVEN
) -> tuple[JudgeMemory, Known]:
    """Judge all readings of one tick and say what is known now.

    Args:
        memory: what was remembered of the channels.
        readings: the newest `Reading` or `Fault` of every channel of the chamber.
        now_s: the monotonic clock.
        chamber: limits and the response times of the probes.
        given: what the chamber itself did to its air.
    """
    oldest_contact_s = now_s - chamber.limits.fresh_s
    door_open, memory = see_door(memory, readings, now_s, oldest_contact_s, chamber.figures, given, chamber.room_c[1])
    open_s = now_s if door_open and "door" in chamber.channels else memory.door_open_s
    # A box that was just shut warms or cools as no lamp and no room could; a contact says only that it is shut.
    excused = door_open or given.lamp_fell or now_s - open_s <= DOOR_LASTS_S
    slowest_s = max(SLOWEST_S, *chamber.response_s.values()) if chamber.response_s else SLOWEST_S
    channels: dict[Channel, ChannelMemory] = {}
    faults: dict[Channel, FaultKind] = {}
    contacts: dict[Channel, bool] = {}
    for channel in chamber.channels:
        if channel in CONTACTS:
            word = readings.get(channel)
            if isinstance(word, Reading) and word.taken_s >= oldest_contact_s:
                contacts[channel] = word.value > 0.5  # noqa: PLR2004 - half of 1.0
                continue
            # One that is silent says nothing, neither yes nor no; since when is all that is remembered.
            channels[channel] = memory.channels.get(channel) or ChannelMemory(Reading(0.0, now_s))
            faults[channel] = "missing" if word is None else word.kind if isinstance(word, Fault) else "stale"
            continue
        before = memory.channels.get(channel) or ChannelMemory()
        after = _judge_one(channel, before, readings.get(channel), now_s, chamber, slowest_s, excused, memory)
        channels[channel] = after
        if after.fault is not None:
            faults[channel] = after.fault
    seen, firm = temperatures(memory, channels, readings, now_s - chamber.limits.lost_s)
    judged = replace(memory, channels=channels, seen=seen, firm=firm, door_open_s=open_s)
    return judged, known_of(channels, faults, seen, firm, contacts, door_open=door_open)


def _judge_one(
    channel: Channel,
    before: ChannelMemory,
    reading: Reading | Fault | None,
    now_s: float,
    chamber: Chamber,
    slowest_s: float,
    door_open: bool,  # noqa: FBT001
    memory: JudgeMemory,
) -> ChannelMemory:
    limits = chamber.limits
    if isinstance(reading, Reading):
        if reading.taken_s == before.newest_s:
            return _aged(before, now_s, limits)
        fault = impossible(channel, reading.value, limits)
        if fault is None:
            return _follow(channel, before, reading, chamber, slowest_s, door_open, memory)
        return _failed(before, fault, reading.taken_s)
    return _failed(before, "missing" if reading is None else reading.kind, before.newest_s)


def impossible(channel: Channel, value: float, limits: Limits) -> FaultKind | None:
    """Say what is wrong with the bare number, or None: a code of the sensor, no number, or out of its range."""
    if not isfinite(value):
        return "not_a_number"
    if channel in HUMIDITY:
        return None if limits.lowest_rh_pct <= value <= limits.highest_rh_pct else "out_of_range"
    if value in CODES_C:
        return CODES_C[value]
    highest_c = HOTTEST_BELIEVED_C if channel == "core_temp" else limits.highest_c
    lowest_c = COLDEST_EVAPORATOR_C if channel == "evaporator_temp" else limits.lowest_c
    return None if lowest_c <= value <= highest_c else "out_of_range"


def _failed(before: ChannelMemory, fault: FaultKind, newest_s: float) -> ChannelMemory:
    damaged, looks = before.damaged, before.looks
    if damaged or fault in DAMAGED:
        damaged, looks = _counted(before, damaged=fault in DAMAGED)
    return ChannelMemory(
        good=before.good,
        newest_s=newest_s,
        fault=fault,
        in_a_row=before.in_a_row,
        slowed_c=before.slowed_c,
        minute_s=before.minute_s,
        minute_c=before.minute_c,
        rate_k_per_min=before.rate_k_per_min,
        same_value=before.same_value,
        same_since_s=before.same_since_s,
        same_reference=before.same_reference,
        same_moved=before.same_moved,
        damaged=damaged,
        looks=looks,
    )


def _counted(before: ChannelMemory, *, damaged: bool) -> tuple[tuple[int, ...], int]:
    """Return which of the last 100 looks were damaged, and the number of the next one; counted only while some were."""
    number = before.looks
    kept = tuple(one for one in before.damaged if number - one < OF_LOOKS)
    if damaged:
        kept = (*kept, number)
    return kept, number + 1


def _aged(before: ChannelMemory, now_s: float, limits: Limits) -> ChannelMemory:
    """Return a channel without a new reading: what it was, or lost when that is too old."""
    if before.fault is None and (before.good is None or now_s - before.good.taken_s > limits.lost_s):
        return _failed(before, "stale", before.newest_s)
    return before


def _follow(
    channel: Channel,
    before: ChannelMemory,
    reading: Reading,
    chamber: Chamber,
    slowest_s: float,
    door_open: bool,  # noqa: FBT001
    memory: JudgeMemory,
) -> ChannelMemory:
    """Judge a possible value against its own past and against the other sensors."""
    limits, value, taken_s = chamber.limits, reading.value, reading.taken_s
    good = before.good
    if (
        good is not None
        and abs(value - good.value) > limits.jump_k
        and _is_sudden(channel, good, reading, chamber, leaps=bool(before.odd), door_open=door_open)
    ):
        within = NEW_LEVEL_PCT if channel in HUMIDITY else NEW_LEVEL_K
        agreeing = all(abs(value - other) <= within for other in before.odd)
        odd = (*before.odd, value) if agreeing else (value,)
        if len(odd) < NEW_LEVEL:
            return replace(_failed(before, "jump", taken_s), odd=odd)
        before = ChannelMemory()  # A new level: forget the old one.
    slowed_c, minute_s, minute_c, rate = _slow(channel, before, reading, chamber, slowest_s)
    same_since_s, reference, moved = _same(channel, before, reading, memory, chamber)
    fault: FaultKind | None = None
    # A minute is judged when it is over: half a minute later the quick thermometer may have come back from the puff.
    is_judged = minute_s != before.minute_s or before.fault is not None
    too_fast = is_judged and channel in WITNESSES and not door_open and _is_too_fast(rate, chamber)
    if too_fast and not _goes_along(channel, rate, minute_c, memory, chamber):
        fault = "rate"
    elif (before.fault == "frozen" and before.same_value == value) or (
        moved and _is_frozen(channel, value, taken_s - same_since_s, chamber)
    ):
        fault = "frozen"
    is_good = fault is None
    in_a_row = _in_a_row(before, reading, limits) if is_good else before.in_a_row
    damaged: tuple[int, ...] = ()
    looks = 0
    if before.damaged and not _was_lost(good, reading, chamber):
        damaged, looks = _counted(before, damaged=False)
    return ChannelMemory(
        reading if is_good else good,
        taken_s,
        fault,
        in_a_row,
        (),
        slowed_c,
        minute_s,
        minute_c,
        rate,
        value,
        same_since_s,
        reference,
        damaged,
        looks,
        moved,
    )


def _was_lost(good: Reading | None, reading: Reading, chamber: Chamber) -> bool:
    """Say whether a run of damaged readings was so long that it was an alarm of its own, and no matter of a share."""
    allowed = chamber.thresholds.damaged_in_a_row + 0.5
    return good is None or reading.taken_s - good.taken_s > allowed * max(chamber.tick_s, READ_EVERY_S)


def _is_too_fast(rate_k_per_min: float, chamber: Chamber) -> bool:
    """Say whether air cannot change so fast; a strong lamp in a small box may do what its figures say.

    What the full lamp lifts in a minute falls in a minute when it goes off: the air goes back to its walls.
    """
    figures, limit = chamber.figures, chamber.limits.rate_k_per_min
    lamp_k_per_min = 60.0 * figures.heater_w / (figures.air_j_per_k + figures.wall_j_per_k)
    lamp_k_per_min = max(lamp_k_per_min, figures.lamp_k_per_min)  # The air alone follows a lamp before the wall does.
    return abs(rate_k_per_min) > max(limit, LAMP_SHARE * lamp_k_per_min)


def _goes_along(
    channel: Channel, rate_k_per_min: float, slowed_c: float, memory: JudgeMemory, chamber: Chamber
) -> bool:
    """Say whether another thermometer goes at least half as fast the same way: then it is the air.

    Mist and a cold plate cool it: a minute of a strong humidifier in a dry box takes 5 K. An open door warms a box that
    is colder than its room. Rising together beyond the warmest room is no excuse: something burns. A quick
    thermometer shows by itself what the leading one, if it is quicker than its file says, shows before it is slowed.
    """
    if rate_k_per_min >= 0.0 and slowed_c > chamber.room_c[1]:
        return False
    way = 1.0 if rate_k_per_min >= 0.0 else -1.0
    others = [memory.channels.get(other) for other in WITNESSES if other != channel]
    return any(
        one is not None and one.fault in {None, "rate"} and _went_k(one, way) >= abs(rate_k_per_min) / 2.0
        for one in others
    )


def _went_k(one: ChannelMemory, way: float) -> float:
    """Return how far up (1) or down (-1) a thermometer went in its last minute, or has gone since if that is more."""
    if one.slowed_c is None or one.good is None:
        return 0.0
    went_k = max(way * one.rate_k_per_min, way * (one.slowed_c - one.minute_c))
    if one.good.taken_s < one.minute_s:
        return went_k  # What was good last lies before this minute, and says nothing of it.
    return max(went_k, way * (one.good.value - one.minute_c))


def _in_a_row(before: ChannelMemory, reading: Reading, limits: Limits) -> int:
    """Count good readings; the count begins anew only where a gap between them was long enough to cut the heat."""
    if before.good is None or reading.taken_s - before.good.taken_s > limits.fresh_s:
        return 1
    return before.in_a_row + 1


def _is_sudden(
    channel: Channel, good: Reading, reading: Reading, chamber: Chamber, *, leaps: bool, door_open: bool
) -> bool:
    """Say whether a change that is large for a thermometer came at once, and is large for this sensor too.

    One that has leapt goes on being asked for consistent readings, however long it takes.
    """
    passed_s = reading.taken_s - good.taken_s
    if channel not in HUMIDITY:
        return leaps or passed_s <= MINUTE_S
    large = abs(reading.value - good.value) > chamber.thresholds.jump_rh_pct
    return large and not door_open and (leaps or passed_s <= SUDDEN_RH_S)


def _slow(
    channel: Channel, before: ChannelMemory, reading: Reading, chamber: Chamber, slowest_s: float
) -> tuple[float | None, float, float, float]:
    """Return the slowed value, the reference of the rate (instant, value), and the rate in K/min."""
    if channel not in WITNESSES:
        return None, before.minute_s, before.minute_c, 0.0
    value, taken_s = reading.value, reading.taken_s
    lag_s = slowest_s - chamber.response_s.get(channel, SLOWEST_S)
    if before.slowed_c is None:
        return value, taken_s, value, 0.0
    slowed_c = value
    if lag_s > 0.0:
        slowed_c = before.slowed_c + (value - before.slowed_c) * (1.0 - exp((before.newest_s - taken_s) / lag_s))
    since_s = taken_s - before.minute_s
    if since_s >= MINUTE_S:
        return slowed_c, taken_s, slowed_c, (slowed_c - before.minute_c) / since_s * 60.0
    return slowed_c, before.minute_s, before.minute_c, before.rate_k_per_min


def _same(
    channel: Channel, before: ChannelMemory, reading: Reading, memory: JudgeMemory, chamber: Chamber
) -> tuple[float, float | None, bool]:
    """Return since when the very same number comes, what another sensor showed then, and whether it moved since."""
    if before.same_value != reading.value:
        return reading.taken_s, None, False  # The other sensor is looked at when the number comes a second time.
    if before.same_moved or (channel not in WITNESSES and channel != "rh"):
        return before.same_since_s, before.same_reference, before.same_moved
    reference, other = before.same_reference, _other(channel, memory)
    if reference is None or other is None:
        return before.same_since_s, other if reference is None else reference, False
    return before.same_since_s, reference, abs(other - reference) >= chamber.thresholds.frozen_move_k


def _other(channel: Channel, memory: JudgeMemory) -> float | None:
    """Return a slowed good temperature of another witness, the only fair measure of "the chamber has moved"."""
    for witness in WITNESSES:
        if witness != channel and not (channel == "rh" and witness == "rh_temp"):
            other = memory.channels.get(witness)
            if other is not None and other.fault is None:
                return other.slowed_c
    return None


def _is_frozen(channel: Channel, value: float, same_for_s: float, chamber: Chamber) -> bool:
    """Say whether a number has stood still for too long while the chamber moved; never on standing still alone."""
    if channel != "rh":
        return same_for_s >= chamber.limits.frozen_s
    # Saturated air shows the same number for hours.
    return same_for_s >= chamber.thresholds.frozen_rh_s and value < WET_PCT
