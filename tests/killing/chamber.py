"""A chamber on disk for the real command: chamber file, state and run folder, and the kernel's files of its sensors."""

import datetime as dt
import tomllib
from pathlib import Path
from typing import Final

import tomli_w

from controller.settings.chamber_file import find_chamber

TEXT: Final = Path(__file__).parents[1] / "data" / "kernel_text.toml"
PROBE: Final = "28-000000000001"
ADDRESS: Final = "1-0044"


class ChamberOnDisk:
    """Hold the places of one chamber below a folder, and make them."""

    def __init__(self, root: Path) -> None:
        """Write the shipped insulated box with folders of its own and the shortest tick."""
        self.root = root
        self.state = root / "state"
        self.run_dir = root / "run"
        self.tree = root / "sys"
        self.file = root / "chamber.toml"
        self.state.mkdir(parents=True)
        self.run_dir.mkdir()
        self._make_sensors()
        told = tomllib.loads(find_chamber("insulated-box").read_text("utf-8"))
        told |= {"state_dir": str(self.state), "tick_s": 1.0, "clock_battery": True}
        told["cutout_tested_on"] = dt.datetime.now(dt.UTC).date() - dt.timedelta(days=1)
        told["limits"] |= {"log_every_s": 10.0}
        self.file.write_text(tomli_w.dumps(told), "utf-8")

    def _make_sensors(self) -> None:
        text = tomllib.loads(TEXT.read_text("utf-8"))
        probe = self.tree / "w1" / PROBE
        probe.mkdir(parents=True)
        (probe / "w1_slave").write_text(text["w1_slave"]["good"])
        hwmon = self.tree / "hwmon" / "hwmon0"
        hwmon.mkdir(parents=True)
        (self.tree / "iio").mkdir()
        for name, value in text["sht4x"].items():
            (hwmon / name).write_text(value)
        device = self.tree / "devices" / ADDRESS
        device.mkdir(parents=True)
        (hwmon / "device").symlink_to(device)
