"""A lamp that burns on while a compressor keeps the air where it is wanted: nothing gets too warm, and nobody sees it.

What gives it away is that the compressor is needed at all. In a ferment whose room is colder than what is wanted there
is nothing to cool, once the meat that was hung has the chamber's temperature.
"""

from typing import Final

from msgspec.structs import replace

from controller.core.watch.memory import IdleWatch
from controller.core.watch.seen import Seen

HOUR_S: Final = 3600.0
RUNS: Final = 3
COLDER_K: Final = 1.0
MEAT_S: Final = 3.0 * 3600.0
HOTTER_K: Final = 10.0
"""Where no thermometer hangs in the room, a day may be so much hotter than the chamber file knows, as for an idle lamp:
holding a batch because of a hot day would cost it. Common practice, no source."""
AS_WANTED_K: Final = 1.0
"""Common practice, no source: twice in an hour a compressor may come after the lamp's last pulse or an open door."""


def hidden_by_cold(watch: IdleWatch, seen: Seen) -> tuple[IdleWatch, str]:
    """Count the runs of an hour while the lamp is off; return what was found, or nothing.

    Not where a colder climate is wanted than was: then the air was warmer than that when the lamp went off.
    """
    cooler, now_s = seen.outputs.get("cooler"), seen.now_s
    if cooler is None or not _has_nothing_to_cool(watch, seen):
        return (watch if watch.hour_s is None else replace(watch, hour_s=None)), ""
    if watch.hour_s is None:
        return replace(watch, hour_s=now_s, hour_runs=cooler.closings), ""
    if now_s - watch.hour_s < HOUR_S:
        return watch, ""
    runs = cooler.closings - watch.hour_runs
    watch = replace(watch, hour_s=now_s, hour_runs=cooler.closings)
    if runs < RUNS:
        return watch, ""
    measured_c = seen.known.ambient_temp_c
    by_file = f"at most {seen.chamber.room_c[1]:g} °C by the chamber file, and {HOTTER_K:g} K more on a hot day"
    room = by_file if measured_c is None else f"{measured_c:.1f} °C"
    text = (
        f"The compressor had to cool {runs} times in an hour although the lamp is off and the room is colder "
        f"({room}) than what is wanted, {seen.wanted.air_temp_c:.1f} °C."
    )
    return replace(watch, found=text), text


def _has_nothing_to_cool(watch: IdleWatch, seen: Seen) -> bool:
    wanted_c = seen.wanted.air_temp_c
    if wanted_c is None or not seen.in_ferment or seen.excused:
        return False
    measured_c = seen.known.ambient_temp_c
    room_c = measured_c if measured_c is not None else seen.chamber.room_c[1] + HOTTER_K
    meat_is_warm = seen.hung_for_s is None or seen.hung_for_s > MEAT_S
    return room_c < wanted_c - COLDER_K and meat_is_warm and watch.first_c < wanted_c + AS_WANTED_K
