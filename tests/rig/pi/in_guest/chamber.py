"""The chamber around the guest's header: the kernel's sensor files as they would be, and the pin of the lamp.

There is no model of an I2C or 1-wire device in this board of QEMU. So the files that the kernel's drivers would show
are laid out below /run/chamber with the kernel's own text and mounted over the places where the program looks. What
they say follows the real output of the header, by the project's own model of an empty chamber and each sensor's lag.
"""

import datetime as dt
import math
import re
import subprocess
import threading
import time
import tomllib
from pathlib import Path

import tomli_w

from controller.settings.chamber_file import find_chamber, read_chamber
from controller.simulator.world import World

LAMP = 17
PROBE = "28-000000000001"
ADDRESS = "1-0044"
ROOT = Path("/run/chamber")
STATE = Path("/var/lib/hangroom")
RUN_DIR = Path("/run/hangroom")
PINS = Path("/sys/kernel/debug/pinctrl/3f200000.gpio-pinctrl-bcm2835/pins")
IN_GUEST = Path(__file__).with_name("kernel_text.toml").exists()
TEXT = tomllib.loads(Path(__file__).with_name("kernel_text.toml").read_text("utf-8") if IN_GUEST else "")
ROOM_C = 18.0
PROBE_S = 120.0  # As the chamber file says of it.


def pin(number: int = LAMP) -> str:
    """Return what the kernel says of a pin: its function and level, as `gpio_out hi`."""
    for line in PINS.read_text().splitlines():
        if line.startswith(f"pin {number} "):
            return re.sub(r"\s+", " ", line.split("function ")[1].split(";")[0])
    raise LookupError(number)


def is_on() -> bool:
    """Say whether the lamp's relay is driven on."""
    now = pin()
    return "out" in now and " hi" in now


class Chamber:
    """Write the chamber file and the sensors' files, and let them follow the lamp."""

    def __init__(self) -> None:
        """Lay everything out and mount it over the kernel's own places."""
        for folder in (STATE, RUN_DIR, Path("/etc/hangroom")):
            folder.mkdir(parents=True, exist_ok=True)
        told = tomllib.loads(find_chamber("insulated-box").read_text("utf-8"))
        told |= {"state_dir": str(STATE), "gpio_chip": "pinctrl-bcm2835", "clock_battery": True}
        told["cutout_tested_on"] = dt.datetime.now(dt.UTC).date() - dt.timedelta(days=1)
        Path("/etc/hangroom/chamber.toml").write_text(tomli_w.dumps(told))
        file = read_chamber(Path("/etc/hangroom/chamber.toml"))
        self.model = World(file, begin_wall_s=time.time(), ambient_c=ROOM_C).model
        self.air_c = self.probe_c = self.model.air_c
        self._lay_out()
        threading.Thread(target=self._follow, daemon=True).start()

    def _lay_out(self) -> None:
        probe, hwmon, device = ROOT / "w1" / PROBE, ROOT / "hwmon/hwmon0", ROOT / "devices" / ADDRESS
        for folder in (probe, hwmon, device, ROOT / "iio"):
            folder.mkdir(parents=True)
        (hwmon / "name").write_text(TEXT["sht4x"]["name"])
        (hwmon / "device").symlink_to(device)
        self._write()
        for here, there in (("w1", "/sys/bus/w1/devices"), ("hwmon", "/sys/class/hwmon")):
            subprocess.run(["mount", "--bind", str(ROOT / here), there], check=True)

    def _write(self) -> None:
        sixteenths = round(self.probe_c * 16)
        milli = sixteenths * 1000 // 16
        first = f"{sixteenths & 0xFF:02x} {sixteenths >> 8:02x} 4b 46 7f ff 0c 10 e8"
        rh_pct = 80.0 + 3.0 * math.sin(time.monotonic() / 60.0)  # As air breathes; one that stands still is a fault.
        _put(ROOT / "w1" / PROBE / "w1_slave", f"{first} : crc=e8 YES\n{first} t={milli}\n")
        _put(ROOT / "hwmon/hwmon0/temp1_input", f"{self.air_c * 1000:.0f}\n")
        _put(ROOT / "hwmon/hwmon0/humidity1_input", f"{rh_pct * 1000:.0f}\n")

    def _follow(self) -> None:
        before_s = time.monotonic()
        while True:
            time.sleep(1.0)
            now_s = time.monotonic()
            lasted_s, before_s = now_s - before_s, now_s
            self.model.lamp_on = is_on()
            self.model.advance(lasted_s)
            self.air_c = self.model.air_c
            self.probe_c += (self.air_c - self.probe_c) * (1.0 - math.exp(-lasted_s / PROBE_S))
            self._write()


def _put(path: Path, text: str) -> None:
    """Replace a file at once: who reads a kernel's file never finds half of it."""
    aside = ROOT / "aside"
    aside.write_text(text)
    aside.replace(path)
