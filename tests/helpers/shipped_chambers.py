"""The shipped chambers name no day of a test of their cut-out, for nobody has tested it; a test writes one itself."""

import datetime as dt
import re
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
