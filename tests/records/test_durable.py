"""What is said to be on disk is on disk. The disks that fail here are real: /dev/full, a file size limit, a kill -9."""

import errno
import os
import resource
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.errors import StorageError
from controller.records.durable import (
    AppendFile,
    WholeFile,
    partial_of,
    previous_of,
    recover_tail,
    replace_whole,
)


@contextmanager
def files_may_only_grow_to(size: int) -> Iterator[None]:
    """Let the kernel refuse to make any file of this process longer: the same short write as on a full disk."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def test_a_new_file_begins_with_its_header(tmp_path: Path) -> None:
    file = AppendFile(tmp_path / "new" / "a.csv", header=b"time\r\n", force=True)
    file.append(b"1\r\n")
    file.append(b"2\r\n")
    file.close()
    again = AppendFile(tmp_path / "new" / "a.csv", header=b"time\r\n", force=True)
    again.append(b"3\r\n")
    again.close()
    assert (tmp_path / "new" / "a.csv").read_bytes() == b"time\r\n1\r\n2\r\n3\r\n"


def test_a_full_disk_is_an_error_for_people(tmp_path: Path) -> None:
    (tmp_path / "a.csv").symlink_to("/dev/full")
    file = AppendFile(tmp_path / "a.csv", force=False)
    with pytest.raises(StorageError, match=r"a\.csv: the row could not be written: No space left on device"):
        file.append(b"row\r\n")


def test_a_short_write_leaves_no_part_of_the_row_and_the_row_can_be_written_later(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    file = AppendFile(path, header=b"time\r\n", force=True)
    file.append(b"first\r\n")
    with files_may_only_grow_to(path.stat().st_size + 4):
        with pytest.raises(StorageError, match="only 4 of 8 bytes"):
            file.append(b"second\r\n")
        assert path.read_bytes() == b"time\r\nfirst\r\n"
    file.append(b"second\r\n")
    file.close()
    assert path.read_bytes() == b"time\r\nfirst\r\nsecond\r\n"


def test_after_a_failed_fsync_the_file_is_opened_anew_and_the_row_written_again(tmp_path: Path) -> None:
    forced: list[tuple[int, bytes]] = []
    path = tmp_path / "a.csv"

    def fails_at_the_second(fd: int) -> None:
        forced.append((fd, path.read_bytes()))
        if len(forced) == 2:
            raise OSError(errno.EIO, os.strerror(errno.EIO))

    file = AppendFile(path, force=True, sync=fails_at_the_second)
    file.append(b"first\r\n")
    with pytest.raises(StorageError, match="Input/output error"):
        file.append(b"second\r\n")
    file.append(b"second\r\n")
    file.close()
    assert [contents for _, contents in forced] == [b"first\r\n", b"first\r\nsecond\r\n", b"first\r\nsecond\r\n"]
    assert path.read_bytes() == b"first\r\nsecond\r\n"


def test_a_state_is_replaced_whole_and_the_one_before_is_kept(tmp_path: Path) -> None:
    file = WholeFile(tmp_path / "state", force=True)
    for contents in (b"one", b"two", b"three"):
        file.replace(contents)
    assert (tmp_path / "state").read_bytes() == b"three"
    assert previous_of(tmp_path / "state").read_bytes() == b"two"
    assert {path.name for path in tmp_path.iterdir()} == {"state", "state.previous"}


def test_a_state_that_finds_no_room_leaves_the_old_one_whole(tmp_path: Path) -> None:
    replace_whole(tmp_path / "state", b"old", force=True)
    with files_may_only_grow_to(100), pytest.raises(StorageError, match="only 100 of 5000 bytes"):
        replace_whole(tmp_path / "state", b"x" * 5000, force=True)
    assert (tmp_path / "state").read_bytes() == b"old"
    replace_whole(tmp_path / "state", b"new", force=True)
    assert (tmp_path / "state").read_bytes() == b"new"


def test_zero_bytes_and_a_torn_line_are_set_aside(tmp_path: Path) -> None:
    path = tmp_path / "events.csv"
    path.write_bytes(b"time\r\n1\r\n2,to" + b"\0" * 70_000)
    found = recover_tail(path)
    assert found is not None
    assert (found.zero_bytes, found.torn) == (70_000, b"2,to")
    assert found.text == (
        "events.csv ended with 70000 zero bytes and a torn line of 4 bytes (kept in events.csv.partial); "
        "it was cut off."
    )
    assert path.read_bytes() == b"time\r\n1\r\n"
    assert partial_of(path).read_bytes() == b"2,to\n"
    assert recover_tail(path) is None


def test_a_file_that_is_not_there_needs_no_recovery(tmp_path: Path) -> None:
    assert recover_tail(tmp_path / "none.csv") is None


@settings(max_examples=60)
@given(cut=st.integers(0, 40), zeros=st.integers(0, 9))
def test_recovery_keeps_every_whole_line_and_loses_no_byte_of_a_torn_one(
    tmp_path_factory: pytest.TempPathFactory, cut: int, zeros: int
) -> None:
    path = tmp_path_factory.mktemp("tail") / "a.csv"
    whole = b"time,kind\r\n1,one\r\n22,two\r\n333,three\r\n"[:cut]
    path.write_bytes(whole + b"\0" * zeros)
    recover_tail(path, force=False)
    torn = partial_of(path).read_bytes()[:-1] if partial_of(path).exists() else b""
    assert path.read_bytes() + torn == whole
    assert path.read_bytes() == whole[: whole.rfind(b"\n") + 1]


def test_appending_to_a_torn_file_begins_on_a_line_of_its_own(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_bytes(b"time\r\n1\r\n2,to")
    file = AppendFile(path, header=b"time\r\n", force=True)
    file.append(b"3\r\n")
    file.close()
    assert path.read_bytes() == b"time\r\n1\r\n3\r\n"


WRITER = """
import sys
from pathlib import Path
from controller.records.durable import AppendFile
file = AppendFile(Path(sys.argv[1]), header=b"n\\r\\n", force=True)
number = 0
while True:
    file.append(b"%d\\r\\n" % number)
    print(number, flush=True)  # Acknowledged.
    number += 1
"""


def test_kill_9_loses_no_row_that_was_acknowledged(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    writer = subprocess.Popen([sys.executable, "-c", WRITER, str(path)], stdout=subprocess.PIPE, text=True)
    assert writer.stdout is not None
    with writer.stdout as output:
        acknowledged = [int(output.readline()) for _ in range(25)]
        writer.send_signal(signal.SIGKILL)
        acknowledged += [int(line) for line in output.read().splitlines()]
    writer.wait()
    recover_tail(path)
    header, *rows = path.read_text().split()
    assert header == "n"
    assert rows[: len(acknowledged)] == [str(number) for number in acknowledged]
    assert len(rows) - len(acknowledged) <= 1  # At most the one that was under way.
