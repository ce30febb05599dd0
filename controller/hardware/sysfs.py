"""Humidity sensors through the kernel's own drivers: one reader for hwmon (SHT3x, SHT4x) and IIO (BME280, DHT22).

Both give temperature in thousandths of °C and humidity in thousandths of a per cent (kernel 6.1,
Documentation/ABI/testing/sysfs-class-hwmon and sysfs-bus-iio); IIO may give `(raw + offset) * scale` in the same
units. The numbers in `hwmon3` and `iio:device0` are not stable, so the device is looked for by its address on the
bus or by its driver, at the first read and again after each failure.
"""

import errno
from pathlib import Path
from typing import Final, Literal

from controller.core.values import Fault

Kind = Literal["sht3x", "sht4x", "bme280", "dht22"]
Quantity = Literal["temp", "rh"]

HWMON: Final = Path("/sys/class/hwmon")
IIO: Final = Path("/sys/bus/iio/devices")
DRIVERS: Final[dict[Kind, tuple[str, ...]]] = {
    "sht3x": ("sht3x",),
    "sht4x": ("sht4x",),
    "bme280": ("bme280",),
    "dht22": ("dht11",),  # The driver of this name reads DHT11, DHT21 and DHT22.
}
FILES: Final[dict[Quantity, tuple[str, str]]] = {
    "temp": ("temp1_input", "in_temp"),
    "rh": ("humidity1_input", "in_humidityrelative"),
}


class KernelSensor:
    """Read one humidity sensor; `address` is the kernel's name of the device (`1-0044`), or "" for the only one."""

    def __init__(self, kind: Kind, address: str = "", hwmon: Path = HWMON, iio: Path = IIO) -> None:
        """Take note of the address; the sensor need not be there yet."""
        self.name = address or kind
        self._wanted = {address} if address else set(DRIVERS[kind])
        self._roots = (hwmon, iio)
        self._folder: Path | None = None

    def read(self) -> dict[Quantity, float | Fault]:
        """Return temperature in °C and relative humidity in per cent, each a value or the named fault."""
        return {"temp": self._read_one("temp"), "rh": self._read_one("rh")}

    def _read_one(self, quantity: Quantity) -> float | Fault:
        try:
            if self._folder is None:
                self._folder = self._find()
            return read_thousandths(self._folder, quantity) / 1000.0
        except OSError as error:
            self._folder = None
            if error.errno in {errno.ENOENT, errno.ENODEV}:
                return Fault("missing", f"{self.name}: {error.strerror}")
            return Fault("bus_error", f"{self.name}: {errno.errorcode.get(error.errno or 0, str(error))}")
        except ValueError as error:
            self._folder = None
            return Fault("half_read", f"{self.name}: {error}")

    def _find(self) -> Path:
        found = [folder for root in self._roots if root.is_dir() for folder in root.iterdir() if self._fits(folder)]
        if len(found) != 1:
            what = "no such device" if not found else f"{len(found)} such devices, give the address of one"
            raise FileNotFoundError(errno.ENOENT, what)
        return found[0]

    def _fits(self, folder: Path) -> bool:
        return not self._wanted.isdisjoint(names_of(folder))


def names_of(folder: Path) -> tuple[str, ...]:
    """Return what a device of one of the two classes is called: its address, its own name, its driver's name."""
    try:
        name = (folder / "name").read_text(encoding="utf-8").strip()
    except OSError:
        return ()  # Going away just now, or no sensor.
    # hwmon has a link to its device; an IIO device stands inside its own.
    link = folder / "device"
    device = link.resolve() if link.exists() else folder.resolve().parent
    return device.name, name, (device / "driver").resolve().name


def humidity_sensors_on(hwmon: Path = HWMON, iio: Path = IIO) -> tuple[tuple[Kind, str], ...]:
    """Return the kind and the address of every humidity sensor that the kernel shows, sorted; none where none is."""
    found: set[tuple[Kind, str]] = set()
    for root in (hwmon, iio):
        for folder in root.iterdir() if root.is_dir() else ():
            address, *names = names_of(folder) or ("",)
            found.update((kind, address) for kind, drivers in DRIVERS.items() if not set(drivers).isdisjoint(names))
    return tuple(sorted(found))


def read_thousandths(folder: Path, quantity: Quantity) -> float:
    """Return the quantity in thousandths of °C or of a per cent. Raises OSError as the kernel does, ValueError."""
    hwmon, iio = FILES[quantity]
    if (folder / hwmon).exists():
        return _number(folder / hwmon)
    if (folder / f"{iio}_input").exists():
        return _number(folder / f"{iio}_input")
    raw = _number(folder / f"{iio}_raw")
    offset = folder / f"{iio}_offset"
    return (raw + (_number(offset) if offset.exists() else 0.0)) * _number(folder / f"{iio}_scale")


def _number(path: Path) -> float:
    """Read one number. The kernel ends it with a newline; without it, it is only a part."""
    text = path.read_text(encoding="utf-8")
    if not text.endswith("\n"):
        raise ValueError(f"{path.name} gave {text!r}")
    return float(text)
