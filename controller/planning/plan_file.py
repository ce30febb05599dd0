"""The file in which a plan is kept until the batch begins: `start --plan FILE` takes it."""

import datetime as dt
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

import msgspec
from msgspec import Struct

from controller.core.sheet import Sheet
from controller.errors import DataError, NoInputError
from controller.planning.hours.day import DAY_S
from controller.planning.sheet import Plan
from controller.records.csv_text import printable
from controller.records.durable import replace_whole
from controller.records.untrusted import require_sane, why_not

FORMAT: Final = "hangroom plan 1"
OLD_S: Final = DAY_S
"""A plan whose stuffing is longer past than this is none any more: its hours are over, the meat is another."""


class KeptPlan(Struct, frozen=True, kw_only=True):
    """Hold a plan as it lies in its file."""

    format: str = FORMAT
    profile: str
    chamber: str
    made_wall_s: float
    stuffed_wall_s: float
    sheet: Sheet


def keep_plan(path: Path, plan: Plan) -> None:
    """Write a plan into its file, whole or not at all. Raises StorageError where it cannot be written."""
    kept = KeptPlan(
        profile=plan.profile.name,
        chamber=plan.chamber,
        made_wall_s=plan.made_wall_s,
        stuffed_wall_s=plan.times.stuffed_s,
        sheet=plan.sheet,
    )
    replace_whole(
        path, msgspec.json.format(msgspec.json.encode(kept), indent=1) + b"\n", force=True, keep_previous=False
    )


def take_plan(path: Path, *, profile: str, chamber: str, timezone: str, now_wall_s: float) -> KeptPlan:
    """Return the plan in a file, for a batch that begins now.

    Raises:
        NoInputError: there is no such file.
        DataError: it is no plan, or of another profile or chamber, or its day is over.
    """
    try:
        kept = msgspec.json.decode(path.read_bytes(), type=KeptPlan)
        require_sane(msgspec.to_builtins(kept))
    except (FileNotFoundError, IsADirectoryError) as error:
        raise NoInputError(f"--plan {path}: there is no such file; hangroom plan ... --keep FILE makes one.") from error
    except (ValueError, RecursionError) as error:
        raise DataError(f"--plan {path}: is no plan that hangroom plan --keep has written: {why_not(error)}") from error
    if kept.profile != profile:
        raise DataError(
            f"--plan {path}: is a plan for {printable(kept.profile)}, not for {profile}; make one for this profile."
        )
    if kept.chamber != chamber:
        raise DataError(
            f"--plan {path}: was made for the chamber {printable(kept.chamber)}, and this is {chamber}; plan again."
        )
    if now_wall_s - kept.stuffed_wall_s > OLD_S:
        day = dt.datetime.fromtimestamp(kept.stuffed_wall_s, ZoneInfo(timezone))
        raise DataError(f"--plan {path}: its stuffing was on {day:%Y-%m-%d %H:%M}; its hours are over, plan again.")
    return kept
