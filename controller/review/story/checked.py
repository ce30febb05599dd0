"""The checks of instruments around a batch: the last one before it, those during it, the first one after it."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

from controller.core.values import CheckEntry
from controller.errors import AccessError, DataError
from controller.records.batch_folder import BATCHES
from controller.records.csv_text import time_text
from controller.records.instruments import read_checks

NEAR_BEFORE_S: Final = 400.0 * 86_400.0
"""A year, and a month of grace: an older check tells nothing of this batch; common practice, no source."""


def checks_around(folder: Path, began_s: float, end_s: float) -> dict[str, Any]:
    """Return what was checked, and when, beside the batch.

    Args:
        folder: of the batch; the checks of its chamber lie two folders above it.
        began_s: its begin.
        end_s: its end, or the last that is known of it.

    Returns:
        `known`: false where the folder does not lie in a chamber's own, as a copy: nothing is known then, which is not
        the same as no check. `list`: one object a check; `when` is before, during or after.
    """
    if folder.resolve().parent.name != BATCHES:
        return {"known": False, "list": []}
    try:
        checks = read_checks(folder.resolve().parent.parent)
    except (AccessError, DataError):
        return {"known": False, "list": []}
    near = [check for check in sorted(checks, key=_at_s) if check.at_wall_s >= began_s - NEAR_BEFORE_S]
    return {"known": True, "list": [_object(check, when) for check, when in _chosen(near, began_s, end_s)]}


def _at_s(check: CheckEntry) -> float:
    return check.at_wall_s


def _chosen(checks: Sequence[CheckEntry], began_s: float, end_s: float) -> list[tuple[CheckEntry, str]]:
    last_before: dict[str, CheckEntry] = {}
    first_after: dict[str, CheckEntry] = {}
    during = []
    for check in checks:
        if check.at_wall_s < began_s:
            last_before[check.check.instrument] = check
        elif check.at_wall_s <= end_s:
            during.append((check, "during"))
        else:
            first_after.setdefault(check.check.instrument, check)
    before = [(check, "before") for check in last_before.values()]
    return [*before, *during, *((check, "after") for check in first_after.values())]


def _object(entry: CheckEntry, when: str) -> dict[str, Any]:
    check = entry.check
    return {
        "time": time_text(entry.at_wall_s),
        "when": when,
        "instrument": check.instrument,
        "method": check.method,
        "unit": check.unit,
        "error": check.error,
        "offset": check.offset,
        "slope_pct": check.slope_pct,
        "verdict": check.verdict,
        "actor": entry.actor,
        "note": entry.note,
    }
