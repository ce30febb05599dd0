"""Chambers with more sensors than the bench has, or with one only, and what is asked of their alarms."""

from msgspec.structs import replace

from controller.core.alarms.memory import Alarm
from controller.core.plan import Chamber
from controller.core.values import Channel
from tests.helpers.bench_chamber import CHAMBER, Bench

MORE: dict[Channel, float] = {
    "air_temp_2": 120.0, "rh_2": 8.0, "core_temp": 20.0, "ambient_temp": 120.0, "evaporator_temp": 120.0,
    "door": 0.5, "heater_live": 0.5, "heater_current": 0.5, "cooler_current": 0.5, "cutout": 0.5, "fan_turns": 0.5,
}  # fmt: skip


def with_more(*channels: Channel) -> Chamber:
    """Return the bench's chamber with these sensors too."""
    more = {channel: MORE[channel] for channel in channels}
    return replace(CHAMBER, channels=(*CHAMBER.channels, *more), response_s={**CHAMBER.response_s, **more})


ALONE = replace(CHAMBER, channels=("air_temp",), response_s={"air_temp": 120.0})
"""A chamber with one thermometer and nothing else."""


def alarms(bench: Bench) -> list[tuple[str, str]]:
    """Return row and priority of what is active."""
    return [(alarm.row, alarm.priority) for alarm in bench.memory.alarms if alarm.active]


def the_alarm(bench: Bench) -> Alarm:
    """Return the one alarm that there is."""
    (alarm,) = bench.memory.alarms
    return alarm


def alive(bench: Bench, minutes: float, **says: float) -> Bench:
    """Let minutes pass in which each of these sensors moves by one step of a DS18B20, as a healthy one does."""
    for number in range(round(minutes * 12.0)):
        bench.tick(**{channel: value + (number % 24 // 12) / 16.0 for channel, value in says.items()})
    return bench


def seconds_until_alarm(bench: Bench, limit_s: float = 200.0) -> float:
    """Return after how many seconds an alarm is active, while the sensors say what they say now."""
    began_s = bench.now_s
    while not any(alarm.active for alarm in bench.memory.alarms):
        bench.tick()
        assert bench.now_s - began_s <= limit_s, "no alarm"
    return bench.now_s - began_s
