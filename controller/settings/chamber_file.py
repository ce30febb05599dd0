"""The chamber file: read, checked, and handed on as what the deciding part goes by.

All problems of a file are told together, each on a line with file, key, value and what would be right. A missing
thermal cut-out is none of them: the file may be simulated and checked, but the plan then refuses all heat and says so.
"""

import datetime as dt
from pathlib import Path

from controller.settings.chamber_checks import check_chamber
from controller.settings.chamber_plan import plan_of
from controller.settings.chamber_tables import (
    ChamberFile,
    LimitsTable,
    ModelTable,
    OutputEntry,
    SensorEntry,
    SensorKind,
)
from controller.settings.reader import read_table
from controller.settings.shipped import find_chamber

__all__ = [
    "ChamberFile",
    "LimitsTable",
    "ModelTable",
    "OutputEntry",
    "SensorEntry",
    "SensorKind",
    "find_chamber",
    "plan_of",
    "read_chamber",
]


def read_chamber(path: Path, today: dt.date | None = None) -> ChamberFile:
    """Return the chamber file, checked.

    Args:
        path: the file.
        today: the day at which the cut-out's test must not lie ahead, else this machine's. Where the clock is not
            trusted, `dt.date.max` leaves this check out.

    Raises:
        SettingsError: one line for each problem.
        NoInputError: there is no such file.
        AccessError: it may not be read.
    """
    table = read_table(path, ChamberFile)
    if today is None:
        # A day more, for the zones that are ahead of UTC.
        today = dt.datetime.now(dt.UTC).date() + dt.timedelta(days=1)
    check_chamber(table, today)
    table.problems.raise_all()
    return table.build(ChamberFile)
