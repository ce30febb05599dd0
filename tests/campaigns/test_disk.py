"""The model disk keeps what was forced, and of the rest what a file system may."""

import os
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from random import Random

import pytest

from controller.errors import StorageError
from controller.records.durable import AppendFile, WholeFile, recover_tail
from tests.campaigns.disk import Gone, ModelDisk
from tests.campaigns.interpose import Clocks, interposed

CLOCKS = Clocks(lambda: 100.0, lambda: 1_767_592_800.0)


@pytest.fixture(params=range(10))
def disk(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[ModelDisk]:
    model = ModelDisk(tmp_path / "disk", Random(request.param), lambda: 0)
    with interposed(model, CLOCKS):
        yield model


def put(path: str, data: bytes, *, force: bool) -> None:
    fd = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    os.write(fd, data)
    if force:
        os.fsync(fd)
    os.close(fd)


def force_folder(path: str) -> None:
    fd = os.open(path, os.O_RDONLY | os.O_DIRECTORY)
    os.fsync(fd)
    os.close(fd)


def test_what_was_forced_is_there_after_a_cut(disk: ModelDisk) -> None:
    path = f"{disk.root}/a"
    put(path, b"row\n" * 300, force=True)
    force_folder(disk.root)
    disk.cut_power()
    assert Path(path).read_bytes() == b"row\n" * 300
    assert disk.differs() == ""


def test_of_what_was_not_forced_each_sector_is_there_or_zero_or_behind_the_end(disk: ModelDisk) -> None:
    path = f"{disk.root}/a"
    put(path, b"x" * 700, force=True)
    force_folder(disk.root)
    put(path, b"y" * 2000, force=False)
    disk.cut_power()
    left = Path(path).read_bytes()
    assert left[:700] == b"x" * 700
    assert set(left[700:]) <= {ord("y"), 0}
    assert len(left) in {700, 1024, 1536, 2048, 2560, 2700}
    pieces = [left[700:1024], *(left[at : at + 512] for at in range(1024, len(left), 512))]
    assert all(len(set(piece)) <= 1 for piece in pieces)


def test_a_name_that_was_not_forced_may_be_gone_with_forced_bytes_behind_it(tmp_path: Path) -> None:
    left = set()
    for seed in range(40):
        model = ModelDisk(tmp_path / str(seed), Random(seed), lambda: 0)
        with interposed(model, CLOCKS):
            put(f"{model.root}/a", b"row\n", force=True)
            model.cut_power()
            left.add(Path(f"{model.root}/a").exists())
    assert left == {True, False}


def test_a_torn_row_and_zero_bytes_come_about_and_are_cut_off_at_the_next_start(tmp_path: Path) -> None:
    seen = set()
    for seed in range(200):
        model = ModelDisk(tmp_path / str(seed), Random(seed), lambda: 0)
        path = Path(model.root) / "a.csv"
        with interposed(model, CLOCKS):
            put(str(path), b"first\r\n", force=True)
            force_folder(model.root)
            put(str(path), b"s" * 1500 + b"\r\n", force=False)
            model.cut_power()
            recovered = recover_tail(path)
            lines = path.read_bytes().splitlines()
        seen.add((recovered is not None and recovered.zero_bytes > 0, recovered is not None and bool(recovered.torn)))
        assert lines[0] == b"first"
        assert len(lines) == 1 or lines[1].strip(b"s\0") == b""
    assert {(True, False), (False, True), (False, False)} <= seen


def test_what_was_forced_is_never_zero_because_it_was_written_over(tmp_path: Path) -> None:
    left = set()
    for seed in range(60):
        model = ModelDisk(tmp_path / str(seed), Random(seed), lambda: 0)
        path = Path(model.root) / "a.csv"
        with interposed(model, CLOCKS):
            put(str(path), b"o" * 1500, force=True)
            force_folder(model.root)
            fd = os.open(path, os.O_WRONLY)
            os.write(fd, b"n" * 1500)
            model.cut_power()
        pieces = [path.read_bytes()[begin : begin + 512] for begin in range(0, 1500, 512)]
        assert all(set(piece) in ({ord("o")}, {ord("n")}) for piece in pieces), pieces
        left.add(b"".join(piece[:1] for piece in pieces))
    assert {b"ooo", b"nnn"} < left, "and some are torn"


def test_a_state_is_the_old_or_the_new_one_wherever_its_writing_is_cut(tmp_path: Path) -> None:
    left = set()
    for seed in range(150):
        model = ModelDisk(tmp_path / str(seed), Random(seed), lambda: 0)
        path = Path(model.root) / "state"
        with interposed(model, CLOCKS):
            file = WholeFile(path, force=True)
            file.replace(b"0" * 900)
            file.replace(b"1" * 900)
            model.dies_at_op = model.ops + 1 + seed % 9
            try:
                file.replace(b"2" * 900)
            except Gone:
                model.cut_power()
            model.end_program()
            states = [one for one in (path, path.with_name("state.previous")) if one.exists()]
            newest = states[0].read_bytes()
        left.add(newest)
        assert newest in {b"0" * 900, b"1" * 900, b"2" * 900}
        assert states[0] == path or newest == b"1" * 900
    assert left >= {b"1" * 900, b"2" * 900}


def force_until_it_fails(fd: int) -> None:
    for _ in range(100):
        os.fsync(fd)


def test_a_failed_fsync_may_lose_what_it_was_to_force_for_good(tmp_path: Path) -> None:
    left = set()
    for seed in range(40):
        model = ModelDisk(tmp_path / str(seed), Random(seed), lambda: 0)
        path = f"{model.root}/a"
        with interposed(model, CLOCKS):
            put(path, b"", force=True)
            force_folder(model.root)
            fd = os.open(path, os.O_WRONLY | os.O_APPEND)
            os.write(fd, b"row\n")
            model.trouble = "io-error"
            with pytest.raises(OSError, match="Input/output"):
                force_until_it_fails(fd)
            model.trouble = ""
            os.fsync(fd)
            model.cut_power()
            left.add(Path(path).read_bytes())
    assert left == {b"row\n", b""}


def append_until_it_fails(file: AppendFile) -> None:
    for _ in range(100):
        file.append(b"second\r\n")


@pytest.mark.parametrize("trouble", ["full", "read-only", "io-error"])
def test_a_disk_in_trouble_refuses_and_a_row_that_was_refused_is_not_there(tmp_path: Path, trouble: str) -> None:
    model = ModelDisk(tmp_path / "disk", Random(1), lambda: 0)
    with interposed(model, CLOCKS):
        file = AppendFile(Path(model.root) / "a.csv", header=b"time\r\n", force=True)
        file.append(b"first\r\n")
        for _ in range(20):
            model.trouble = trouble
            with pytest.raises(StorageError):
                append_until_it_fails(file)
            model.trouble = ""
        file.append(b"third\r\n")
        lines = (Path(model.root) / "a.csv").read_bytes().splitlines()
    assert lines[:2] == [b"time", b"first"]
    assert lines[-1] == b"third"
    assert set(lines[2:-1]) <= {b"second"}


def test_outside_the_disk_nothing_is_interposed(disk: ModelDisk, tmp_path: Path) -> None:
    disk.trouble = "read-only"
    (tmp_path / "other").write_bytes(b"as ever")
    (tmp_path / "other").rename(tmp_path / "another")
    assert (tmp_path / "another").read_bytes() == b"as ever"
    assert disk.ops == 0


def test_what_a_dead_program_could_not_force_is_no_hole_once_another_has_gone_on(disk: ModelDisk) -> None:
    path = Path(disk.root) / "rows.csv"
    AppendFile(path, header=b"head\n", force=True).append(b"one\n")
    fd = os.open(str(path), os.O_WRONLY | os.O_APPEND)
    os.write(fd, b"two" * 300 + b"\n")
    disk.trouble = "io-error"
    with suppress(OSError):  # Sometimes it is forced all the same.
        os.fsync(fd)
    os.close(fd)
    disk.trouble = ""
    AppendFile(path, header=b"head\n", force=True).append(b"three\n")
    disk.cut_power()
    assert path.read_bytes() == b"head\none\n" + b"two" * 300 + b"\nthree\n"


def test_a_full_disk_takes_what_is_written_over_itself(disk: ModelDisk) -> None:
    path = Path(disk.root) / "rows.csv"
    AppendFile(path, header=b"head\n", force=True).append(b"one\n")
    disk.trouble = "full"
    assert recover_tail(path) is None
    assert path.read_bytes() == b"head\none\n"
