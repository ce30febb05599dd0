"""What the kernel's files give, and what they could give: half lines, other units, a driver that speaks differently."""

import math
import random
import tomllib
from pathlib import Path
from typing import Final

from controller.core.memory import Inputs
from controller.core.step import step
from controller.core.values import Channel, Fault, Reading
from controller.hardware.machine import look_at
from controller.hardware.sysfs import KernelSensor
from controller.hardware.w1 import ProbeOnWire
from tests.fuzz.harness import Target, require_readable
from tests.fuzz.mutate import ODD_NUMBERS, spoil_bytes
from tests.fuzz.of_files import TODAY
from tests.fuzz.ticks import Run
from tests.helpers.shipped_chambers import shipped_chamber

TEXT: Final = Path(__file__).parents[1] / "data" / "kernel_text.toml"
PROBE: Final = "28-000544332211"
COMPUTER: Final = {
    "class/hwmon/hwmon1/name": "rpi_volt\n",
    "class/hwmon/hwmon1/in0_lcrit_alarm": "0\n",
    "class/thermal/thermal_zone0/type": "cpu-thermal\n",
    "class/thermal/thermal_zone0/temp": "48312\n",
    "class/watchdog/watchdog0/identity": "Broadcom BCM2835 Watchdog timer\n",
    "class/watchdog/watchdog0/state": "active\n",
    "class/watchdog/watchdog0/bootstatus": "32\n",
    "class/watchdog/watchdog0/options": "0x8180\n",
    "class/watchdog/watchdog0/timeout": "15\n",
    "module/pinctrl_bcm2835/parameters/persist_gpio_outputs": "N\n",
}


class KernelTexts(Target):
    """Spoil the texts of a 1-wire probe and of a humidity sensor; decide a tick on what comes of them."""

    name = "kernel"
    share = 2.0

    def prepare(self, folder: Path) -> None:
        """Make a tree of the kernel's files."""
        self._texts = tomllib.loads(TEXT.read_text("utf-8"))
        self._folder = folder
        for name in COMPUTER:
            (folder / "sys" / name).parent.mkdir(parents=True, exist_ok=True)
        for place in (folder / "w1" / PROBE, folder / "hwmon" / "hwmon0", folder / "iio" / "iio:device0"):
            place.mkdir(parents=True)
        (folder / "hwmon" / "hwmon0" / "name").write_text("sht4x\n")
        (folder / "iio" / "iio:device0" / "name").write_text("bme280\n")
        self._run = Run(shipped_chamber("old-fridge", TODAY))

    def make(self, rng: random.Random) -> dict[str, bytes]:
        """Return the texts of all files."""
        goods: list[str] = [self._texts["w1_slave"]["good"], *self._texts["w1_slave"].values()]
        made = {f"sys/{name}": self._spoiled(rng, text.encode()) for name, text in COMPUTER.items()}
        made |= {f"w1/{PROBE}/w1_slave": self._spoiled(rng, rng.choice(goods).encode())}
        for name in ("temp1_input", "humidity1_input"):
            made[f"hwmon/hwmon0/{name}"] = self._spoiled(rng, self._texts["sht4x"][name].encode())
        for name in ("in_temp_raw", "in_temp_scale", "in_temp_offset", "in_humidityrelative_input"):
            made[f"iio/iio:device0/{name}"] = self._spoiled(rng, b"2500\n")
        return made

    def _spoiled(self, rng: random.Random, good: bytes) -> bytes:
        if rng.random() < 0.2:
            return rng.choice(ODD_NUMBERS).encode() + rng.choice((b"\n", b""))
        return spoil_bytes(rng, good) if rng.random() < 0.5 else good

    def of_bytes(self, data: bytes) -> dict[str, bytes]:
        """Return them as every text."""
        return dict.fromkeys(self.make(random.Random(0)), data)

    def feed(self, made: dict[str, bytes]) -> bool:
        """Read, and decide a tick."""
        for name, data in made.items():
            (self._folder / name).write_bytes(data)
        hwmon, iio = self._folder / "hwmon", self._folder / "iio"
        found: dict[Channel, float | Fault] = {"air_temp": ProbeOnWire(PROBE, self._folder / "w1").read_c()}
        first, second = KernelSensor("sht4x", "", hwmon, iio).read(), KernelSensor("bme280", "", hwmon, iio).read()
        found["rh"], found["rh_temp"] = first["rh"], first["temp"]
        found["core_temp"], found["ambient_temp"] = second["rh"], second["temp"]
        look_at(self._folder, sys=self._folder / "sys", dev=self._folder)
        self._run.now_s += 5.0
        readings = {
            channel: value if isinstance(value, Fault) else Reading(value, self._run.now_s)
            for channel, value in found.items()
        }
        for value in found.values():
            if isinstance(value, Fault):
                require_readable(value.kind)
            else:
                require_readable(f"{value:.3f}")
        inputs = Inputs(self._run.now_s, self._run.wall_s + self._run.now_s, True, readings)
        self._run.memory, outcome = step(self._run.memory, inputs, self._run.chamber)
        known = outcome.known
        for figure in (known.air_temp_c, known.rh_pct, known.highest_c, known.core_temp_c, known.ambient_temp_c):
            if figure is not None and not math.isfinite(figure):
                raise AssertionError(f"{figure} is believed: {known}")
        self._run.outcome = outcome
        self._run.look()
        return not isinstance(found["air_temp"], Fault)
