"""What is known once every reading was judged, for all who decide."""

from math import isfinite
from typing import Final

from controller.core.memory import ChannelMemory, JudgeMemory
from controller.core.values import WITNESSES, Channel, FaultKind, Known, Reading, Readings
from controller.food.air import vapour_pressure_pa

CODES_C: Final[dict[float, FaultKind]] = {85.0: "power_on_value", 127.9375: "low_supply", -127.0: "no_reply"}
"""What a DS18B20, its driver or its library gives instead of an error. Data sheet and kernel documentation w1_therm."""

COLDEST_EVAPORATOR_C: Final = -50.0
"""The plate of a fridge has -10 to -25 °C while it runs; a DS18B20 shows no less than -55 °C (data sheet)."""
HOTTEST_BELIEVED_C: Final = 120.0
"""A witness that shows more than the chamber's range may be near a fire; above this it is only broken."""

NEVER_S: Final = float("-inf")

STILL_A_WITNESS: Final = frozenset({None, "rate", "jump"})
"""Control does not use these, but their disagreement with the others counts: one fault must not hide another."""


def temperatures(
    memory: JudgeMemory, channels: dict[Channel, ChannelMemory], readings: Readings, oldest_s: float
) -> tuple[dict[Channel, Reading], dict[Channel, Reading]]:
    """Return what each witness showed last, and last without a jump; a damaged read must not hide a hot witness."""
    seen: dict[Channel, Reading] = {}
    firm: dict[Channel, Reading] = {}
    for witness in WITNESSES:
        channel = channels.get(witness)
        if channel is None:
            continue
        reading = readings.get(witness)
        newest = reading if isinstance(reading, Reading) and _is_a_temperature(reading.value) else None
        last = newest or memory.seen.get(witness)
        last_firm = newest if newest is not None and channel.fault != "jump" else memory.firm.get(witness)
        if last is not None and last.taken_s >= oldest_s:
            seen[witness] = last
        if last_firm is not None and last_firm.taken_s >= oldest_s:
            firm[witness] = last_firm
    return seen, firm


def known_of(
    channels: dict[Channel, ChannelMemory],
    faults: dict[Channel, FaultKind],
    seen: dict[Channel, Reading],
    firm: dict[Channel, Reading],
    contacts: dict[Channel, bool],
    *,
    door_open: bool,
) -> Known:
    """Return what is believed after all channels were judged."""

    def good(channel: Channel) -> float | None:
        memory = channels.get(channel)
        if memory is None or memory.fault is not None or memory.good is None:
            return None
        return memory.good.value

    slowed: dict[Channel, float] = {}
    still_since_s = NEVER_S
    for witness in WITNESSES:
        memory = channels.get(witness)
        if memory is None or memory.slowed_c is None:
            continue
        if memory.fault in STILL_A_WITNESS:
            slowed[witness] = memory.slowed_c
        elif memory.fault != "frozen":
            continue
        still_since_s = max(still_since_s, memory.same_since_s)
    highest = max(seen.values(), key=_value, default=None)
    highest_firm = max(firm.values(), key=_value, default=None)
    air, wet = channels.get("air_temp"), channels.get("rh")
    rh_pct, rh_temp_c, air_temp_c = good("rh"), good("rh_temp"), good("air_temp")
    beside_c = rh_temp_c if rh_temp_c is not None else air_temp_c
    values = slowed.values()
    damaged: dict[Channel, int] = {}
    for channel, memory in channels.items():
        if memory.damaged:
            damaged[channel] = len(memory.damaged)
    return Known(
        air_temp_c=air_temp_c,
        rh_pct=rh_pct,
        rh_temp_c=rh_temp_c,
        core_temp_c=good("core_temp"),
        ambient_temp_c=good("ambient_temp"),
        rh_2_pct=good("rh_2") if "rh_2" in channels else None,
        evaporator_temp_c=good("evaporator_temp"),
        highest_c=None if highest is None else highest.value,
        highest_firm_c=None if highest_firm is None else highest_firm.value,
        highest_firm_s=NEVER_S if highest_firm is None else highest_firm.taken_s,
        pressure_pa=None if rh_pct is None or beside_c is None else vapour_pressure_pa(beside_c, rh_pct),
        good_air_taken_s=NEVER_S if air is None or air.good is None else air.good.taken_s,
        good_rh_taken_s=NEVER_S if wet is None or wet.good is None else wet.good.taken_s,
        good_in_a_row=0 if air is None else air.in_a_row,
        spread_k=max(values) - min(values) if len(slowed) > 1 else None,
        slowed_c=slowed,
        door_open=door_open,
        faults=faults,
        contacts=contacts,
        damaged_of_100=damaged,
        still_since_s=still_since_s,
    )


def _value(reading: Reading) -> float:
    return reading.value


def _is_a_temperature(value: float) -> bool:
    return isfinite(value) and value not in CODES_C and abs(value) <= HOTTEST_BELIEVED_C
