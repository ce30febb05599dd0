"""Which sensors this machine has, and what each of them shows now: for an interview, before there is a chamber file."""

import re
import time
from collections.abc import Callable, Sequence
from typing import Final

from msgspec import Struct

from controller.core.values import Fault, Reading
from controller.hardware.sensors import HUNG_S, Device, Reader, Roots, make_device
from controller.hardware.sysfs import humidity_sensors_on
from controller.hardware.w1 import thermometers_on
from controller.settings.chamber_tables import SensorEntry
from controller.settings.found import Found

DS18B20: Final = re.compile(r"28-[0-9a-f]{12}")


class Live(Struct, frozen=True):
    """Hold what one sensor shows now. `rh_pct` is None for a thermometer."""

    temp_c: float | Fault
    rh_pct: float | Fault | None = None


def find_sensors(roots: Roots | None = None) -> tuple[tuple[Found, ...], tuple[str, ...]]:
    """Return the sensors that a chamber file can name, thermometers first, and the ids of other thermometers."""
    roots = roots or Roots()
    ids = thermometers_on(roots.w1)
    usable = [id for id in ids if DS18B20.fullmatch(id)]
    humid = [Found(kind, address) for kind, address in humidity_sensors_on(roots.hwmon, roots.iio)]
    return (*(Found("ds18b20", id) for id in usable), *humid), tuple(id for id in ids if id not in usable)


class LiveSensors:
    """Read every sensor that was found, each in a thread of its own, until closed."""

    def __init__(
        self,
        found: Sequence[Found],
        roots: Roots | None = None,
        *,
        every_s: float,
        now: Callable[[], float] = time.monotonic,
    ) -> None:
        """Begin to read."""
        self._now = now
        self._readers = {
            one.name: Reader(_maker(one, roots or Roots()), every_s=every_s, hung_s=HUNG_S, now=now) for one in found
        }

    def newest(self) -> dict[str, Live]:
        """Return by name what each shows. Never waits, never raises."""
        now_s = self._now()
        shown: dict[str, Live] = {}
        for name, reader in self._readers.items():
            words = {channel: _value(word) for channel, word in reader.newest(now_s).items()}
            temp_c = words.get("air_temp", words.get("rh_temp", Fault("unread", name)))
            shown[name] = Live(temp_c, words.get("rh"))
        return shown

    def close(self) -> None:
        """Ask every thread to end."""
        for reader in self._readers.values():
            reader.end()


def _value(word: Reading | Fault) -> float | Fault:
    return word if isinstance(word, Fault) else word.value


def _maker(one: Found, roots: Roots) -> Callable[[], Device]:
    entry = (
        SensorEntry(channel="rh", kind=one.kind, address=one.name)
        if one.humid
        else SensorEntry(channel="air_temp", kind=one.kind, id=one.name)
    )
    return lambda: make_device(entry, None, roots)
