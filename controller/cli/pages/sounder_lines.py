"""When the sounder was last tried, and whether it was heard."""

from pathlib import Path

from controller.cli.say import show_time
from controller.core.alarms.memory import Heard
from controller.core.alarms.sounder import tell_due
from controller.errors import AccessError, DataError, UnavailableError
from controller.records.status import SounderStatus, read_status


def read_sounder(state_dir: Path) -> SounderStatus:
    """Return what the daemon last knew of the sounder; where it cannot be asked, that it was never tried."""
    try:
        return read_status(state_dir).sounder or SounderStatus()
    except (AccessError, DataError, UnavailableError):
        return SounderStatus()


def tell_sounder(sounder: SounderStatus | None, now_s: float, timezone: str) -> str:
    """Return one sentence or two on the sounder; empty where there is none."""
    if sounder is None:
        return ""
    at_s = sounder.tried_wall_s
    if at_s is None:
        return tell_due(None, now_s)
    due = tell_due(Heard(at_s, sounder.by, sounder.heard), now_s)
    if not sounder.heard:
        return due
    last = f"The sounder was heard in a test on {show_time(at_s, timezone)} by {sounder.by or 'somebody'}."
    return f"{last} {due}" if due else last
