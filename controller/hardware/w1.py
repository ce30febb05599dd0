"""DS18B20 on the 1-wire bus, read through w1thermsensor; every way in which that fails becomes a named fault.

The library tells most failures apart only by accident (IndexError, UnicodeDecodeError), gives 127.94 °C for a sensor
without enough power, loses the errno, and takes a file that was cut off in the middle of its second line for a
temperature. So it is handed a path that keeps what was read, and its answer is believed only if the text is whole.
Fresh or hanging, plausible or not: that is judged elsewhere.
"""

import errno
import functools
import io
import os
from pathlib import Path
from typing import Any, Final

from controller.core.values import Fault

DEVICES: Final = Path("/sys/bus/w1/devices")
FAMILY: Final = "28-"  # DS18B20.
THERMOMETERS: Final = frozenset({"10", "22", "28", "3b", "42"})
"""The first two digits of what w1_therm takes for a thermometer: DS18S20, DS1822, DS18B20, DS1825, DS28EA00 (kernel
6.1, w1_therm.rst and w1_family.h). A bus without a sensor may show numbers that begin with 00: they are noise."""
LOW_SUPPLY_C: Final = 127.5
"""A conversion without enough power leaves 0x07FF in the scratchpad, 127.94 °C (kernel 6.1, w1_therm.rst); with 9 bits
the last three of it mean nothing. The probe itself reaches 125 °C, so nothing true lies above this."""
NO_REPLY_C: Final = -127.0  # What programs write for a bus without an answer. Common practice, no source.
ALL_ZERO: Final = "00 00 00 00 00 00 00 00 00"


def thermometers_on(devices: Path = DEVICES) -> tuple[str, ...]:
    """Return the ids of all thermometers that the kernel has found on the bus, sorted; none where there is no bus."""
    try:
        names = [device.name for device in devices.iterdir()]
    except OSError:
        return ()
    return tuple(sorted(name for name in names if name[2:3] == "-" and name[:2].lower() in THERMOMETERS))


class ProbeOnWire:
    """Read one DS18B20 by its 1-wire id, such as `28-000005443322`."""

    def __init__(self, id: str, devices: Path = DEVICES) -> None:
        """Take note of the id; the sensor need not be there yet."""
        self.name = id
        self._id = id.removeprefix(FAMILY)
        self._devices = devices

    def read_c(self) -> float | Fault:
        """Measure and return the temperature in °C, or the named fault. Takes 0.75 s; may hang if the kernel does."""
        seen = _SeenFile(self._devices / self.name / "w1_slave")
        try:
            value_c = self._ask_library(seen)
        except Exception as error:  # noqa: BLE001 the library lets errors of many families escape
            return name_fault(error, seen)
        if value_c >= LOW_SUPPLY_C:
            return Fault("low_supply", f"{self.name}: {value_c} °C, the probe has not enough power")
        if value_c == NO_REPLY_C:
            return Fault("no_reply", f"{self.name}: {value_c} °C")
        if not is_whole(seen.text):
            return Fault("half_read", f"{self.name}: {seen.text!r}")
        return value_c

    def _ask_library(self, seen: "_SeenFile") -> float:
        library = load_library()

        class AtOurDirectory(library.W1ThermSensor):  # type: ignore[misc,name-defined] # not typed
            BASE_DIRECTORY = self._devices

        sensor = AtOurDirectory(sensor_type=library.Sensor.DS18B20, sensor_id=self._id)
        sensor.sensorpath = seen
        return float(sensor.get_temperature(library.Unit.DEGREES_C))


class _SeenFile:
    """Be the path that the library opens, and remember what it got: the text, or the errno."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.text = ""
        self.errno: int | None = None

    def open(self, mode: str) -> io.StringIO:
        try:
            with self.path.open(mode, encoding="utf-8") as file:
                self.text = str(file.read())
        except OSError as error:
            self.errno = error.errno
            raise
        return io.StringIO(self.text)


@functools.cache
def load_library() -> Any:  # noqa: ANN401 w1thermsensor is not typed
    """Import w1thermsensor without letting it run modprobe: the kernel's module is the system's matter."""
    os.environ["W1THERMSENSOR_NO_KERNEL_MODULE"] = "1"
    import w1thermsensor

    return w1thermsensor


def name_fault(error: Exception, seen: _SeenFile) -> Fault:
    """Return the fault that this error of the library stands for, given what the kernel had said."""
    device = seen.path.parent.name
    kind = type(error).__name__
    if kind == "NoSensorFoundError":
        if seen.errno in {None, errno.ENOENT, errno.ENODEV}:
            return Fault("missing", f"{device}: not on the 1-wire bus")
        return Fault("bus_error", f"{device}: {errno.errorcode.get(seen.errno or 0, str(seen.errno))}")
    if kind == "ResetValueError":
        return Fault("power_on_value", f"{device}: 85.000 °C, reset before it had measured")
    if kind == "SensorNotReadyError":
        return _name_not_ready(device, seen.text)
    if isinstance(error, (IndexError, ValueError)):  # UnicodeDecodeError is a ValueError.
        return Fault("half_read", f"{device}: {seen.text!r}")
    return Fault("bus_error", f"{device}: {error}")


def _name_not_ready(device: str, text: str) -> Fault:
    """Tell apart what the library calls not ready: nothing, zeros, a failed checksum, or half a line."""
    first = text.split("\n", maxsplit=1)[0].rstrip()
    if not first:
        return Fault("empty", f"{device}: bad checksum, vanished, or failed conversion")
    if first.endswith("NO"):
        return Fault("checksum", f"{device}: {first}")
    if first.startswith(ALL_ZERO):
        return Fault("no_reply", f"{device}: all zeros, the data wire is shorted to ground")
    return Fault("half_read", f"{device}: {text!r}")


def is_whole(text: str) -> bool:
    """Say whether both lines are there to their end and carry the same nine bytes (kernel, w1_therm.c)."""
    lines = text.splitlines()
    if len(lines) != 2 or not text.endswith("\n"):  # noqa: PLR2004 two lines
        return False
    scratchpad = lines[0].split()[:9]
    temperature = lines[1].partition(" t=")[2]
    return lines[1].split()[:9] == scratchpad and temperature.removeprefix("-").isdigit()
