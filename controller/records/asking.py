"""Be the person's side of the request box: post a request, wait for its one answer, take it back."""

import contextlib
import grp
import os
import time
from collections.abc import Callable
from pathlib import Path
from typing import Final

import msgspec

from controller.core.requests import Request
from controller.core.values import Answer
from controller.errors import AccessError, DataError, StorageError, TryAgainError, UnavailableError
from controller.records.durable import sync_folder, write_all
from controller.records.request_box import SAFE_NAME, Envelope, answer_file, make_box, requests_of
from controller.records.status import is_alive

FILE_MODE: Final = 0o660
LOOK_EVERY_S: Final = 0.1
ROOT: Final = 0
"""The group that may do everything; whoever is in it needs no password for the whole machine."""


def post(state_dir: Path, request: Request, *, boot_id: str, boottime_s: float, typed_wall_s: float) -> None:
    """Put a request into the box; when this returns it is on disk.

    Args:
        state_dir: the folder that holds everything.
        request: what is asked; its id must be new.
        boot_id: the name of this boot, see `this_boot`.
        boottime_s: CLOCK_BOOTTIME of now, in seconds.
        typed_wall_s: now, seconds since 1970 UTC.

    Raises:
        AccessError: this person may not write there; the message names the group to join.
        StorageError: the disk failed.
        DataError: the id cannot be the name of a file.
    """
    if not SAFE_NAME.fullmatch(request.id):
        raise DataError(f"request id {request.id!r}: only letters, digits, points and hyphens can be in it")
    envelope = Envelope(boot_id=boot_id, boottime_s=boottime_s, typed_wall_s=typed_wall_s, request=request)
    name = f"{request.id}.json"
    new = requests_of(state_dir) / "new"
    aside = requests_of(state_dir) / "tmp" / name
    try:
        make_box(state_dir)
        _write_aside(aside, msgspec.json.encode(envelope))
        _put_in(aside, new / name)
    except PermissionError as error:
        raise AccessError(_who_may(state_dir)) from error
    except OSError as error:
        raise StorageError(f"{new}: the request could not be written: {error.strerror or error}") from error


def _put_in(aside: Path, place: Path) -> None:
    """Move a request into the box and force it; where that fails, take it out again: its typist is told so.

    Raises:
        OSError: it is not in the box, or (it says so) may still be.
    """
    try:
        aside.rename(place)
    except OSError:
        with contextlib.suppress(OSError):
            aside.unlink()
        raise
    try:
        sync_folder(place.parent)
    except OSError as error:
        try:
            place.unlink()
        except FileNotFoundError:
            return  # The daemon has taken it, so its answer comes.
        except OSError:
            said = f"{error.strerror}; it may lie there all the same: look with hangroom status before you say it again"
            raise OSError(error.errno, said) from error
        raise


def _write_aside(path: Path, data: bytes) -> None:
    fd = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, FILE_MODE)
    try:
        os.fchmod(fd, FILE_MODE)  # The daemon is another user of the same group, whatever the person's umask says.
        write_all(fd, data)
        os.fsync(fd)
    except OSError:
        path.unlink(missing_ok=True)
        raise
    finally:
        os.close(fd)


def _who_may(state_dir: Path) -> str:
    place = _nearest(requests_of(state_dir))
    return f"{place}: you may not write there; {who_may(place)}"


def _nearest(place: Path) -> Path:
    """Return this place, or the nearest one above it that can be seen."""
    return next(folder for folder in (place, *place.absolute().parents) if _is_there(folder))


def who_may(place: Path) -> str:
    """Return which group may use a place and how to join it; nobody is ever told to join the group of root.

    Where the place itself cannot be seen, the nearest folder above it speaks for it.
    """
    group_id = _nearest(place).stat().st_gid
    if group_id == ROOT:
        return "only root may. Whoever set it up can give the folder to the group hangroom."
    try:
        group = grp.getgrgid(group_id).gr_name
    except KeyError:
        group = str(group_id)
    return f"only members of the group {group} may.\nJoin it with: sudo usermod -aG {group} $USER   and log in again."


def _is_there(folder: Path) -> bool:
    try:
        return folder.exists()
    except PermissionError:  # The folder above may not even be entered.
        return False


def withdraw(state_dir: Path, request_id: str) -> bool:
    """Take a request back that the daemon has not dealt with; say whether it was still in the box."""
    try:
        (requests_of(state_dir) / "new" / f"{request_id}.json").unlink()
    except OSError:
        return False
    return True


def wait_for_answer(
    state_dir: Path,
    request_id: str,
    timeout_s: float,
    *,
    sleep: Callable[[float], None] = time.sleep,
    clock: Callable[[], float] = time.monotonic,
) -> Answer:
    """Wait for the answer to a request that was posted, and fetch it.

    Args:
        state_dir: the folder that holds everything.
        request_id: the id that was posted.
        timeout_s: how long to wait.
        sleep: how to wait between looks; another one in tests.
        clock: a clock that only goes forward.

    Raises:
        UnavailableError: no daemon has written its status lately.
        TryAgainError: a daemon runs but has not answered in time.
        AccessError: the answer may not be read.
        DataError: the answer is damaged.
    """
    path = answer_file(state_dir, request_id)
    ends_s = clock() + timeout_s
    while True:
        try:
            answer = msgspec.json.decode(path.read_bytes(), type=Answer)
        except FileNotFoundError:
            pass
        except PermissionError as error:
            raise AccessError(_who_may(state_dir)) from error
        except (ValueError, RecursionError) as error:
            raise DataError(
                f"{path}: the answer is damaged; whether it was done stands in the record: hangroom status, review"
            ) from error
        else:
            # First the request: a daemon that was killed before it could take that out would else answer once more.
            withdraw(state_dir, request_id)
            with contextlib.suppress(OSError):  # The daemon clears up after a week.
                path.unlink()
            return answer
        if not is_alive(state_dir):
            raise UnavailableError(
                f"{state_dir}: no daemon is running for this chamber; start it with: systemctl start hangroom"
            )
        if clock() >= ends_s:
            raise TryAgainError(
                f"the daemon has not answered within {timeout_s:g} s; the request is in its box.\n"
                "Look with `hangroom status` before you type it again."
            )
        sleep(LOOK_EVERY_S)
