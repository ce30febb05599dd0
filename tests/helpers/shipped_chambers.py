"""The shipped chambers name no day of a test of their cut-out, for nobody has tested it; a test writes one itself."""

import datetime as dt
import re
from pathlib import Path
from typing import Final

from controller.settings.chamber_file import ChamberFile, find_chamber, read_chamber
from controller.simulator.cutout import with_tested_cutout

DAY: Final = dt.date(2026, 1, 2)


def shipped_chamber(name: str, today: dt.date | None = None) -> ChamberFile:
    """Return a shipped chamber whose modelled cut-out was tested."""
    file = read_chamber(find_chamber(name)) if today is None else read_chamber(find_chamber(name), today)
    assert file.cutout_tested_on is None
    return with_tested_cutout(file, dt.datetime(DAY.year, DAY.month, DAY.day, tzinfo=dt.UTC).timestamp())


def with_day(text: str) -> str:
    """Return the text of a chamber file in which the day of the test is written as a person would."""
    written, times = re.subn(r"^# cutout_tested_on = \S+", f"cutout_tested_on = {DAY}", text, flags=re.MULTILINE)
    assert times == 1
    return written


def deciding_seldom(name: str, folder: Path) -> Path:
    """Write a shipped chamber that decides every 8 s, the longest that a file may say: hours in two thirds the time."""
    lines = find_chamber(name).read_text("utf-8").splitlines()
    path = folder / f"{name}-seldom.toml"
    path.write_text("\n".join(["tick_s = 8.0", *(line for line in lines if not line.startswith("tick_s"))]), "utf-8")
    return path
