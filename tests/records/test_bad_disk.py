"""A disk that is full, slow, read-only or silent: control goes on, nothing is lost, and what came late says so."""

import csv
import errno
import os
import subprocess
import threading
import time
import tracemalloc
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from controller.core.memory import Memory, Outcome
from controller.core.thresholds import Thresholds
from controller.core.values import Answer, Entry, Event, Trouble
from controller.errors import StorageError
from controller.records.batch_folder import batches_of
from controller.records.checkpoint import FILE as CHECKPOINT
from controller.records.checkpoint import load_checkpoint
from controller.records.climate_log import COLUMNS, late_row
from controller.records.csv_text import row_of
from controller.records.hand_over import Answering, HandOver, Job
from controller.records.keeper import Keeper
from controller.records.request_box import RequestBox, answer_file
from controller.records.status import read_status, status_of, write_status
from controller.records.writer import Writer
from controller.review.batch import read_batch
from tests.helpers.chamber_story import ChamberStory, Notebook
from tests.helpers.mounted_disk import fill, mounted_disk
from tests.helpers.recorded import CHAMBER, NAME, WALL_S, Ticks, batch, chamber

ENTRY = Entry(NAME, "r1", WALL_S, "ph", "5.2", "pH")


class Disk:
    """Be a disk that refuses or takes its time, and the clock by which it does."""

    def __init__(self) -> None:
        self.now_s = 5000.0
        self.number = 0
        self.takes_s = 0.0
        self.used = 0

    def use(self) -> None:
        self.used += 1
        self.now_s += self.takes_s
        if self.number:
            raise OSError(self.number, os.strerror(self.number))

    def now(self) -> float:
        return self.now_s


def climate_rows(folder: Path) -> list[dict[str, str]]:
    """Return the climate of a batch, day after day."""
    rows: list[dict[str, str]] = []
    for path in sorted(folder.glob("climate-*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            rows += csv.DictReader(file)
    return rows


class Kept:
    """Be a keeper on such a disk, one tick after the other."""

    def __init__(self, state_dir: Path, *, threaded: bool = False, **options: Any) -> None:  # noqa: ANN401 - of a keeper
        self.state_dir, self.disk, self.ticks = state_dir, Disk(), Ticks()
        self.keeper = Keeper(
            state_dir,
            options.pop("chamber", CHAMBER),
            force=False,
            threaded=threaded,
            status_every_s=1e9,
            disk=self.disk.use,
            now=self.disk.now,
            **options,
        )

    def run(self, *, minutes: float = 0.0, **told: Any) -> None:  # noqa: ANN401 - fields of an outcome
        """Let minutes pass, or one tick."""
        for _ in range(max(round(minutes * 12), 1)):
            self.disk.now_s += 5.0
            self.keeper.keep(*self.ticks.tick(**told))
            told = {}

    def rows(self, name: str, folder: str = NAME) -> list[dict[str, str]]:
        path = batches_of(self.state_dir) / folder / name
        with path.open(encoding="utf-8", newline="") as file:
            return list(csv.DictReader(file))

    @property
    def climate(self) -> list[dict[str, str]]:
        return self.rows("climate-2026-01-05.csv")


@pytest.mark.fault_row("C6")
def test_three_hours_of_a_full_disk_are_written_late_in_order_and_each_row_says_so(tmp_path: Path) -> None:
    kept = Kept(tmp_path)
    kept.run(minutes=10, checkpoint=True)
    kept.disk.number = errno.ENOSPC
    kept.run(events=(Event("note", "While it was full.", batch=NAME),))
    kept.run(minutes=180)
    (trouble,) = kept.keeper.trouble()
    assert trouble == Trouble("C6", "The disk is full; records of 3.0 h wait in memory.", level=2)
    kept.disk.number = 0
    kept.run(minutes=10)
    assert kept.keeper.trouble() == ()
    times = [row["time"] for row in kept.climate]
    assert times == sorted(set(times))
    assert len(times) == 200  # One a minute, none lost, none twice.
    marks = [row["quality"] for row in kept.climate]
    assert marks == [""] * 10 + ["record:written_late"] * 180 + [""] * 10
    told = {row["kind"]: row["text"] for row in kept.rows("events.csv")}
    assert told["note"] == "While it was full. (written late)"
    assert told["records"] == ("The disk was full: 181 records were written late, by up to 3.0 h.")


def test_a_mark_stands_beside_what_the_row_says_already_and_leaves_every_other_column_alone() -> None:
    fields = [f"{number}" for number in range(len(COLUMNS))]
    fields[COLUMNS.index("quality")] = "air_temp:stale clock:untrusted"
    late = next(csv.reader([late_row(row_of(fields)).decode()]))
    assert late[COLUMNS.index("quality")] == "air_temp:stale clock:untrusted record:written_late"
    late[COLUMNS.index("quality")] = fields[COLUMNS.index("quality")]
    assert late == fields


def test_who_reads_a_batch_afterwards_reads_what_was_written_late_as_any_other_row(tmp_path: Path) -> None:
    on_time, late = Kept(tmp_path / "on-time"), Kept(tmp_path / "late")
    for kept in (on_time, late):
        kept.run(minutes=5, events=(Event("start", "Began.", batch=NAME),), checkpoint=True)
        kept.disk.number = errno.ENOSPC if kept is late else 0
        kept.run(events=(Event("hang", "In.", batch=NAME),), entries=(ENTRY,))
        kept.run(minutes=60)
        kept.disk.number = 0
        kept.run(minutes=5)
    first, second = (read_batch(batches_of(kept.state_dir) / NAME) for kept in (on_time, late))
    assert second.rows == first.rows
    assert second.readings == first.readings
    assert [event.time_s for event in second.events][:2] == [event.time_s for event in first.events][:2]


@pytest.mark.parametrize(
    ("number", "row", "says"),
    [
        (errno.ENOSPC, "C6", "The disk is full; "),
        (errno.EDQUOT, "C6", "The disk is full; "),
        (errno.EIO, "C6", "The disk gives errors; "),
        (errno.EACCES, "C6", os.strerror(errno.EACCES)),
        pytest.param(errno.EROFS, "C7", "The disk can only be read; ", marks=pytest.mark.fault_row("C7")),
    ],
)
def test_the_number_of_the_error_tells_which_row_of_the_table_it_is(
    tmp_path: Path, number: int, row: str, says: str
) -> None:
    kept = Kept(tmp_path)
    kept.disk.number = number
    kept.run(minutes=1, checkpoint=True)
    (trouble,) = kept.keeper.trouble()
    assert trouble.row == row
    assert says in trouble.text


@pytest.mark.fault_row("C8")
def test_a_write_that_takes_longer_than_the_limit_is_told_for_a_minute(tmp_path: Path) -> None:
    kept = Kept(tmp_path)
    kept.disk.takes_s = 5.0
    kept.run(minutes=2, checkpoint=True)
    assert kept.keeper.trouble() == ()
    kept.disk.takes_s = 5.5
    kept.run(minutes=1)
    kept.disk.takes_s = 0.0
    assert kept.keeper.trouble() == (Trouble("C8", "One write took the disk 6 s, limit 5 s."),)
    kept.run(minutes=0.9)
    assert kept.keeper.trouble()[0].row == "C8"
    kept.run(minutes=0.2)
    assert kept.keeper.trouble() == ()


def test_the_limit_of_a_slow_write_is_a_setting(tmp_path: Path) -> None:
    patient = replace(chamber(), faults=Thresholds(slow_write_s=20.0))
    kept = Kept(tmp_path, chamber=patient)
    kept.disk.takes_s = 19.0
    kept.run(minutes=1, checkpoint=True)
    assert kept.keeper.trouble() == ()


def test_no_answer_is_given_while_the_disk_is_read_only_and_each_once_when_it_is_back(tmp_path: Path) -> None:
    kept = Kept(tmp_path)
    kept.run(checkpoint=True)
    kept.disk.number = errno.EROFS
    kept.run(entries=(ENTRY,), answers=(Answer("r1", done=True, text="noted"),), checkpoint=True)
    kept.run(minutes=30)
    assert not answer_file(tmp_path, "r1").exists()
    kept.disk.number = 0
    kept.run(minutes=1)
    assert b'"done":true' in answer_file(tmp_path, "r1").read_bytes()
    assert [row["id"] for row in kept.rows("readings.csv")] == ["r1"]


def test_nothing_is_deleted_to_make_room(tmp_path: Path) -> None:
    old = batches_of(tmp_path) / "2025-11-01-tangy-1"
    old.mkdir(parents=True)
    for number in range(3):
        (old / f"climate-2025-11-0{number}.csv").write_text("time\r\n")
    kept = Kept(tmp_path)
    kept.disk.number = errno.ENOSPC
    kept.run(minutes=60 * 24 + 120, checkpoint=True)
    assert len(list(old.iterdir())) == 3


def test_a_day_of_records_in_memory_takes_a_few_megabytes(tmp_path: Path) -> None:
    """Two batches in the chamber, and an event every ten minutes; four hours are measured, for it grows evenly."""
    kept = Kept(tmp_path)
    kept.ticks.batches = (batch("one"), batch("two"))
    kept.run(minutes=1, checkpoint=True)
    kept.disk.number = errno.ENOSPC
    tracemalloc.start()
    before, _ = tracemalloc.get_traced_memory()
    for minute in range(4 * 60):
        kept.run(minutes=1, checkpoint=True, events=(Event("note", f"Minute {minute}."),) if minute % 10 == 0 else ())
    after, _ = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert 24 / 4 * (after - before) / 1e6 < 10.0
    kept.disk.number = 0
    kept.run(minutes=1)
    for name in ("one", "two"):
        assert len(climate_rows(batches_of(tmp_path) / name)) == 4 * 60 + 2


class OnDisk(Notebook):
    """Keep the records of a story also on disk, as the daemon does."""

    def __init__(self, keeper: Keeper) -> None:
        super().__init__()
        self.keeper = keeper
        self.slowest_s = 0.0

    def keep(self, memory: Memory, outcome: Outcome) -> None:
        super().keep(memory, outcome)
        began_s = time.monotonic()
        self.keeper.keep(memory, outcome)
        self.slowest_s = max(self.slowest_s, time.monotonic() - began_s)

    def trouble(self) -> tuple[Trouble, ...]:
        return self.keeper.trouble()


@pytest.mark.fault_row("C6")
def test_a_chamber_is_led_for_six_hours_over_a_disk_that_does_not_answer_and_all_of_it_is_on_record(
    tmp_path: Path,
) -> None:
    """The production loop over the production records in their own thread: opening the events file hangs."""
    story = ChamberStory(profile="tangy")
    clock = story.world.clock
    keeper = Keeper(tmp_path, story.file, force=False, threaded=True, status_every_s=1e9, now=clock.monotonic_s)
    story.book = OnDisk(keeper)
    folder = batches_of(tmp_path) / "story"
    folder.mkdir(parents=True)
    os.mkfifo(folder / "events.csv")
    story.start().run_for(hours=1).hang().run_for(hours=5)
    assert story.rows.count("C6") == 1
    assert story.world.true_air_temp_c == pytest.approx(36.0, abs=1.0)  # What the profile wants.
    assert story.book.slowest_s < 0.2  # No tick has waited for it.
    with (folder / "events.csv").open("rb") as reader:
        keeper.close()
        assert b"story started" in reader.read()
    rows = climate_rows(folder)
    assert len(rows) == 360
    assert [row["time"] for row in rows] == sorted({row["time"] for row in rows})
    assert sum("record:written_late" in row["quality"] for row in rows) >= 358


def test_a_disk_that_never_answers_does_not_keep_the_service_from_stopping() -> None:
    hold = threading.Event()
    writer = Writer(threaded=True, queue_limit_s=60.0, tell=told_nothing, close_within_s=0.2)
    hand_over = HandOver(0.0, spare=True)

    def hang(_late: bool) -> None:  # noqa: FBT001 - as the writer calls it
        hold.wait(10.0)

    hand_over.jobs.append(Job(hang))
    writer.put(hand_over)
    began_s = time.monotonic()
    with pytest.raises(StorageError, match="the disk does not answer; 1 records are lost"):
        writer.close(last=hold.set)
    assert time.monotonic() - began_s < 2.0
    hold.set()


def told_nothing(text: str) -> None:
    raise AssertionError(text)


def broken(_late: bool) -> None:  # noqa: FBT001 - as the writer calls it
    raise KeyError("a mistake of the program")


def done(into: list[str], word: str) -> Callable[[bool], None]:
    def note(flag: bool) -> None:  # noqa: FBT001 - as the writer calls it
        into.append(f"{word} {flag}")

    return note


@pytest.mark.parametrize("threaded", [False, True])
def test_a_mistake_of_the_program_loses_one_record_of_a_hand_over_and_nothing_else(*, threaded: bool) -> None:
    told: list[str] = []
    did: list[str] = []
    writer = Writer(threaded=threaded, queue_limit_s=60.0, tell=told.append)
    hand_over = HandOver(0.0, spare=False)
    hand_over.jobs.extend((Job(done(did, "row")), Job(broken, "r1"), Job(done(did, "reading"), "r2")))
    hand_over.state = lambda: did.append("state")
    hand_over.answers.extend((Answering("r1", done(did, "r1 lost")), Answering("r2", done(did, "r2 lost"))))
    writer.put(hand_over)
    writer.close()
    assert did == ["row False", "reading False", "state", "r1 lost True", "r2 lost False"]
    assert told == ["A fault of the program lost a record: KeyError: 'a mistake of the program'"]


def test_an_answer_does_not_say_done_where_its_record_was_lost(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    kept = Kept(tmp_path)
    kept.run(checkpoint=True)
    monkeypatch.setattr("controller.records.keeper.key_of", lambda *_: [].pop())
    kept.run(entries=(ENTRY,), answers=(Answer("r1", done=True, text="pH 5.2 noted."),), checkpoint=True)
    answer = answer_file(tmp_path, "r1").read_text("utf-8")
    assert '"done":false' in answer
    assert "pH 5.2 noted. But a fault of the program lost its record" in answer
    kept.run()
    assert [row["text"][:44] for row in kept.rows("events.csv")] == ["A fault of the program lost a record: IndexE"]


def test_an_answer_waits_for_a_state_that_can_be_saved() -> None:
    told: list[str] = []
    did: list[str] = []
    writer = Writer(threaded=False, queue_limit_s=60.0, tell=told.append)
    first, second = HandOver(0.0, spare=False), HandOver(5.0, spare=False)
    first.state = lambda: broken(False)
    first.answers.append(Answering("r1", done(did, "r1 lost")))
    writer.put(first)
    assert did == []
    second.state = lambda: did.append("state")
    second.answers.append(Answering("r2", done(did, "r2 lost")))
    writer.put(second)
    assert did == ["state", "r1 lost False", "r2 lost False"]


@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
def test_a_writer_whose_thread_is_gone_is_told_of() -> None:
    writer = Writer(threaded=True, queue_limit_s=60.0, tell=told_nothing)

    def die() -> None:
        raise SystemExit

    writer.put_aside(die)
    deadline_s = time.monotonic() + 5.0
    while not writer.trouble() and time.monotonic() < deadline_s:
        pass
    assert [one.row for one in writer.trouble()] == ["C6"]


# On disks of the kernel's own.


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """Mount a disk of 512 kB, where that is allowed."""
    with mounted_disk(tmp_path / "disk", 512) as place:
        yield place


@pytest.mark.fault_row("C6")
def test_a_real_disk_that_is_full_loses_nothing(small_disk: Path) -> None:
    keeper, ticks = Keeper(small_disk, CHAMBER, force=True, threaded=False, status_every_s=1e9, retry_s=0.0), Ticks()
    for _ in range(12 * 5):
        keeper.keep(*ticks.tick(checkpoint=ticks.now_s == 1005.0))
    ballast = fill(small_disk)
    for _ in range(12 * 30):
        keeper.keep(*ticks.tick(checkpoint=True))
    (trouble,) = keeper.trouble()
    assert (trouble.row, "The disk is full" in trouble.text) == ("C6", True)
    ballast.unlink()
    keeper.keep(*ticks.tick(entries=(ENTRY,)))
    keeper.close()
    rows = climate_rows(batches_of(small_disk) / NAME)
    assert len({row["time"] for row in rows}) == len(rows) == 36
    assert all(None not in row and None not in row.values() for row in rows)  # No torn line is among them.


@pytest.mark.fault_row("C6")
def test_on_a_full_disk_the_status_has_room_for_what_is_to_be_told(small_disk: Path) -> None:
    status = status_of(*Ticks().tick(), chamber=CHAMBER)
    for slow in range(0, 70, 3):  # Somewhere the next letter needs another block of the disk.
        padded = replace(status, trouble=("The disk is slow: a row has waited for a minute.",) * slow)
        write_status(small_disk, padded)
        ballast = fill(small_disk)
        longer = replace(
            padded, trouble=(*padded.trouble, *("The disk is full: what is new is kept in memory." for _ in range(70)))
        )
        write_status(small_disk, longer)
        assert read_status(small_disk) == longer
        write_status(small_disk, status)
        assert read_status(small_disk) == status, "nothing is left of the longer one"
        ballast.unlink()


@pytest.mark.fault_row("C7")
def test_a_real_disk_that_becomes_read_only_is_told_as_such_and_loses_nothing(small_disk: Path) -> None:
    keeper, ticks = Keeper(small_disk, CHAMBER, force=True, threaded=False, status_every_s=1e9, retry_s=0.0), Ticks()
    for _ in range(12 * 5):
        keeper.keep(*ticks.tick(checkpoint=ticks.now_s == 1005.0))
    for file in keeper._files.values():
        file.close()  # A mount with files open for writing would not let itself be made read-only so politely.
    remounted = subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], capture_output=True, check=False)
    assert remounted.returncode == 0, remounted.stderr
    for _ in range(12 * 30):
        keeper.keep(*ticks.tick(checkpoint=True))
    (trouble,) = keeper.trouble()
    assert (trouble.row, "The disk can only be read" in trouble.text) == ("C7", True)
    subprocess.run(["mount", "-o", "remount,rw", str(small_disk)], check=True)
    keeper.keep(*ticks.tick(entries=(ENTRY,)))
    keeper.close()
    rows = climate_rows(batches_of(small_disk) / NAME)
    assert len({row["time"] for row in rows}) == len(rows) == 36


@pytest.mark.fault_row("C7")
def test_a_program_that_begins_on_a_real_read_only_disk_leads_on_with_what_it_remembers(small_disk: Path) -> None:
    keeper, ticks = Keeper(small_disk, CHAMBER, force=True, threaded=False, status_every_s=1e9), Ticks()
    RequestBox(small_disk).close()
    keeper.keep(*ticks.tick(checkpoint=True))
    keeper.close()
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    again = Keeper(small_disk, CHAMBER, force=True, threaded=False, status_every_s=1e9)
    box = RequestBox(small_disk)
    loaded = load_checkpoint(small_disk / CHECKPOINT)
    assert loaded.memory is not None
    assert [one.id for one in loaded.memory.batches] == [NAME]
    again.keep(*ticks.tick(checkpoint=True))
    assert (box.take(), box.trouble()) == ((), ())
    assert again.trouble()[0].row == "C7"
    with pytest.raises(StorageError):
        again.close()
