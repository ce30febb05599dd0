"""What the daemon decides is on disk in the order of the design, and a disk that fails delays nobody."""

import csv
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from controller.core.requests import Hang
from controller.core.values import Answer, Entry, Event
from controller.errors import StorageError
from controller.records.asking import post
from controller.records.batch_folder import batches_of, read_card
from controller.records.checkpoint import FILE as CHECKPOINT
from controller.records.checkpoint import load_checkpoint
from controller.records.durable import recover_tail
from controller.records.hand_over import Answering, HandOver, Job
from controller.records.keeper import Keeper
from controller.records.request_box import OneAnswer, answer_file, make_box, requests_of
from controller.records.status import is_alive, read_status
from controller.records.writer import Writer
from tests.helpers.recorded import CHAMBER, NAME, PROFILE, WALL_S, Ticks, batch

READINGS = "id,time,kind,value,unit,piece,instrument,sample_temp_c,actor,entered_at,replaces,note"
EVENTS = "time,kind,id,priority,text,actor"
"""The design, section 4, outside contract."""

ENTRY = Entry(
    NAME, "r1", WALL_S - 60.0, "ph", "5.210", "pH", "", 'meter "1"', 20.5, "Ann", WALL_S, "", "wet,\r\nand\0 cold; ½"
)


def keeper_of(state_dir: Path, **told: Any) -> Keeper:  # noqa: ANN401 - any option of the keeper
    return Keeper(state_dir, CHAMBER, **{"force": False, "threaded": False, "status_every_s": 1e9, **told})


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def folder(state_dir: Path, name: str = NAME) -> Path:
    return batches_of(state_dir) / name


def test_a_new_batch_gets_its_folder_with_a_card_that_reads_back_exactly(tmp_path: Path) -> None:
    keeper = keeper_of(tmp_path)
    keeper.keep(*Ticks().tick(events=(Event("start", "Began.", batch=NAME),), checkpoint=True))
    card = read_card(folder(tmp_path))
    assert (card.profile, card.chamber) == (PROFILE, CHAMBER)
    assert (card.batch.id, card.batch.began, card.batch.meat_kg) == (NAME, "2026-01-05T06:00:00Z", 4.5)
    assert (card.formulation.salt_g, card.formulation.cure_g, card.formulation.dextrose_g) == (117.0, 11.2, 13.5)


def test_the_card_is_never_written_again(tmp_path: Path) -> None:
    keeper_of(tmp_path).keep(*Ticks().tick(checkpoint=True))
    card = (folder(tmp_path) / "recipe.toml").read_bytes()
    keeper_of(tmp_path).keep(*Ticks(batches=(batch(meat_kg=99.0),)).tick(checkpoint=True))
    assert (folder(tmp_path) / "recipe.toml").read_bytes() == card


def test_rows_events_and_readings_stand_in_files_of_the_contract(tmp_path: Path) -> None:
    keeper, ticks = keeper_of(tmp_path), Ticks()
    keeper.keep(*ticks.tick(events=(Event("alarm", 'Too "hot", look', "A2-1", "1", batch=NAME),), entries=(ENTRY,)))
    for _ in range(11):
        keeper.keep(*ticks.tick())
    assert [row["time"] for row in rows_of(folder(tmp_path) / "climate-2026-01-05.csv")] == ["2026-01-05T06:01:00Z"]
    assert (folder(tmp_path) / "events.csv").read_bytes().splitlines()[0].decode() == EVENTS
    assert rows_of(folder(tmp_path) / "events.csv") == [
        {
            "time": "2026-01-05T06:00:05Z",
            "kind": "alarm",
            "id": "A2-1",
            "priority": "1",
            "text": 'Too "hot", look',
            "actor": "hangroom",
        }
    ]
    assert (folder(tmp_path) / "readings.csv").read_bytes().splitlines()[0].decode() == READINGS
    assert rows_of(folder(tmp_path) / "readings.csv") == [
        {
            "id": "r1",
            "time": "2026-01-05T05:59:00Z",
            "kind": "ph",
            "value": "5.210",
            "unit": "pH",
            "piece": "",
            "instrument": 'meter "1"',
            "sample_temp_c": "20.5",
            "actor": "Ann",
            "entered_at": "2026-01-05T06:00:00Z",
            "replaces": "",
            "note": "wet,  and  cold; ½",
        }
    ]
    assert keeper.rows == 1


def test_what_concerns_the_chamber_stands_in_every_open_batch_and_beside_them(tmp_path: Path) -> None:
    keeper = keeper_of(tmp_path)
    ticks = Ticks(batches=(batch("one"), batch("two", stage_index=2)))
    keeper.keep(*ticks.tick(events=(Event("clock", "Stepped."), Event("note", "Mine.", batch="two"))))
    assert [row["kind"] for row in rows_of(folder(tmp_path, "one") / "events.csv")] == ["clock"]
    assert [row["kind"] for row in rows_of(folder(tmp_path, "two") / "events.csv")] == ["clock", "note"]
    assert [row["kind"] for row in rows_of(tmp_path / "events.csv")] == ["clock"]


def test_every_batch_in_the_chamber_gets_the_climate_and_one_elsewhere_does_not(tmp_path: Path) -> None:
    keeper, ticks = keeper_of(tmp_path), Ticks(batches=(batch("one"), batch("two"), batch("away", stage_index=2)))
    for _ in range(12):
        keeper.keep(*ticks.tick())
    assert sorted(path.parent.name for path in batches_of(tmp_path).glob("*/climate-*.csv")) == ["one", "two"]
    assert keeper.rows == 2


def test_an_answer_comes_after_everything_it_promises_and_empties_the_box(tmp_path: Path) -> None:
    post(tmp_path, Hang(id="x"), boot_id="b", boottime_s=1.0, typed_wall_s=1.0)
    (tmp_path / CHECKPOINT).mkdir()
    (tmp_path / CHECKPOINT / "in-the-way").touch()  # So the checkpoint cannot be put in its place.
    keeper, ticks = keeper_of(tmp_path, retry_s=0.0), Ticks()
    told: dict[str, Any] = {
        "events": (Event("hang", "In.", batch=NAME),),
        "checkpoint": True,
        "answers": (Answer("x", True, "hung"),),
    }
    (tmp_path / f"{CHECKPOINT}.previous").mkdir()
    keeper.keep(*ticks.tick(**told))
    assert [row["kind"] for row in rows_of(folder(tmp_path) / "events.csv")] == ["hang"]
    assert not answer_file(tmp_path, "x").exists()
    assert (requests_of(tmp_path) / "new" / "x.json").exists()
    assert "wait in memory" in keeper.trouble()[0].text
    (tmp_path / f"{CHECKPOINT}.previous").rmdir()
    (tmp_path / CHECKPOINT / "in-the-way").unlink()
    (tmp_path / CHECKPOINT).rmdir()
    keeper.keep(*ticks.tick(events=(Event("note", "Later.", batch=NAME),)))
    assert answer_file(tmp_path, "x").exists()
    assert not (requests_of(tmp_path) / "new" / "x.json").exists()
    assert load_checkpoint(tmp_path / CHECKPOINT).memory is not None
    assert keeper.trouble() == ()


def job_of(do: Callable[[], object]) -> Job:
    """Return a record of which nobody asked and that does this."""

    def write(_late: bool) -> None:  # noqa: FBT001 - as the writer calls it
        do()

    return Job(write)


class FailingDisk:
    """Be a climate file on a disk that is full: a link to /dev/full in the place of the file."""

    def __init__(self, state_dir: Path) -> None:
        self.path = folder(state_dir) / "climate-2026-01-05.csv"
        self.path.symlink_to("/dev/full")

    def make_room(self) -> None:
        self.path.unlink()


def run(keeper: Keeper, ticks: Ticks, count: int, **told: Any) -> None:  # noqa: ANN401
    for _ in range(count):
        keeper.keep(*ticks.tick(**told))


def test_a_full_disk_keeps_rows_in_memory_and_they_are_written_late_in_order(tmp_path: Path) -> None:
    keeper, ticks = keeper_of(tmp_path, retry_s=0.0), Ticks()
    run(keeper, ticks, 1, checkpoint=True)
    disk = FailingDisk(tmp_path)
    run(keeper, ticks, 36 + 11)
    (trouble,) = keeper.trouble()
    assert trouble.row == "C6"
    assert "The disk is full; records of 0 s wait in memory." in trouble.text
    disk.make_room()
    run(keeper, ticks, 13)
    times = [row["time"][11:16] for row in rows_of(disk.path)]
    assert times == ["06:01", "06:02", "06:03", "06:04", "06:05"]
    assert keeper.trouble() == ()
    (late,) = rows_of(tmp_path / "events.csv")
    assert (late["kind"], late["id"]) == ("records", "C6")
    assert "The disk was full: 4 records were written late, by up to 0 s." in late["text"]
    assert rows_of(folder(tmp_path) / "events.csv") == [late]


def test_while_a_day_waits_the_oldest_rows_are_lost_but_nothing_that_was_typed(tmp_path: Path) -> None:
    keeper, ticks = keeper_of(tmp_path, retry_s=0.0, queue_limit_s=300.0), Ticks()
    run(keeper, ticks, 1, checkpoint=True)
    disk = FailingDisk(tmp_path)
    run(keeper, ticks, 11)
    run(keeper, ticks, 1, entries=(ENTRY,))
    run(keeper, ticks, 12 * 20)
    disk.make_room()
    run(keeper, ticks, 13)
    minutes = [row["time"][11:16] for row in rows_of(disk.path)]
    assert minutes[0] == "06:01"  # The one that was under way.
    assert minutes[1:] == sorted(minutes[1:])
    assert 5 <= len(minutes) <= 8
    assert len(rows_of(folder(tmp_path) / "readings.csv")) == 1
    assert "older ones are lost" in rows_of(tmp_path / "events.csv")[0]["text"]


def test_a_read_only_folder_is_told_and_survived(tmp_path: Path) -> None:
    keeper, ticks = keeper_of(tmp_path, retry_s=0.0), Ticks()
    batches_of(tmp_path).write_text("a file where a folder should be")
    run(keeper, ticks, 13)
    assert "Not a directory" in keeper.trouble()[0].text or "File exists" in keeper.trouble()[0].text
    batches_of(tmp_path).unlink()
    run(keeper, ticks, 12)
    assert len(rows_of(folder(tmp_path) / "climate-2026-01-05.csv")) == 2


def test_what_cannot_be_written_at_the_end_is_an_error(tmp_path: Path) -> None:
    keeper, ticks = keeper_of(tmp_path), Ticks()
    run(keeper, ticks, 1, checkpoint=True)
    FailingDisk(tmp_path)
    run(keeper, ticks, 12)
    with pytest.raises(StorageError, match="could not be written and are lost"):
        keeper.close()


def test_the_thread_leaves_the_very_same_files_as_work_done_at_once(tmp_path: Path) -> None:
    for name, threaded in (("at-once", False), ("thread", True)):
        keeper, ticks = keeper_of(tmp_path / name, threaded=threaded, force=threaded), Ticks()
        make_box(tmp_path / name)
        run(keeper, ticks, 1, checkpoint=True, events=(Event("start", "Began.", batch=NAME),))
        run(keeper, ticks, 40)
        run(keeper, ticks, 1, entries=(ENTRY,), answers=(Answer("x", True, "noted"),), checkpoint=True)
        keeper.save(replace(ticks.tick()[0], ended_cleanly=True))
        keeper.close()
    files = {path.relative_to(tmp_path / "thread") for path in (tmp_path / "thread").rglob("*") if path.is_file()}
    assert len(files) == 8
    for file in files:
        assert (tmp_path / "thread" / file).read_bytes() == (tmp_path / "at-once" / file).read_bytes(), file
    memory = load_checkpoint(tmp_path / "thread" / CHECKPOINT).memory
    assert memory is not None
    assert memory.ended_cleanly


def test_a_disk_that_does_not_answer_delays_no_tick(tmp_path: Path) -> None:
    keeper, ticks = keeper_of(tmp_path, threaded=True), Ticks()
    folder(tmp_path).mkdir(parents=True)
    hanging = folder(tmp_path) / "events.csv"
    os.mkfifo(hanging)  # Opening it hangs until somebody reads.
    run(keeper, ticks, 1, events=(Event("start", "Began.", batch=NAME),))
    began_s = time.monotonic()
    run(keeper, ticks, 1200)
    assert time.monotonic() - began_s < 1.0
    assert keeper.rows == 0
    with hanging.open("rb") as reader:
        keeper.close()
        assert b"Began." in reader.read()
    assert len(rows_of(folder(tmp_path) / "climate-2026-01-05.csv")) == 101


def test_a_job_that_takes_too_long_is_told_while_it_lasts() -> None:
    hold, entered = threading.Event(), threading.Event()
    told: list[str] = []
    writer = Writer(threaded=True, queue_limit_s=60.0, tell=told.append, slow_s=0.0)
    hand_over = HandOver(0.0, spare=True)
    jobs = (entered.set, lambda: told.extend([] if hold.wait(10.0) else ["too long"]))
    hand_over.jobs.extend(job_of(job) for job in jobs)
    writer.put(hand_over)
    assert entered.wait(5.0)
    assert [(one.row, one.text[:28]) for one in writer.trouble()] == [("C8", "One write has taken the disk")]
    hold.set()
    writer.close()
    assert told == []


def test_torn_ends_of_the_last_run_are_put_right_at_the_start_and_told(tmp_path: Path) -> None:
    keeper, ticks = keeper_of(tmp_path), Ticks()
    run(keeper, ticks, 12, events=(Event("note", "Whole.", batch=NAME),))
    with (folder(tmp_path) / "climate-2026-01-05.csv").open("ab") as file:
        file.write(b"2026-01-05T06:02:00Z,ferm\0\0\0")
    again = keeper_of(tmp_path)
    run(again, ticks, 13)
    assert [row["time"][11:16] for row in rows_of(folder(tmp_path) / "climate-2026-01-05.csv")] == ["06:01", "06:02"]
    told = rows_of(folder(tmp_path) / "events.csv")[-1]
    assert told["kind"] == "records"
    assert told["text"].startswith("climate-2026-01-05.csv ended with 3 zero bytes and a torn line of 25 bytes")
    assert (folder(tmp_path) / "climate-2026-01-05.csv.partial").read_bytes() == b"2026-01-05T06:02:00Z,ferm\n"


TORN = b"2026-01-04T23:58:00Z,ferm"


def test_the_torn_end_of_the_day_before_is_put_right_too(tmp_path: Path) -> None:
    """A disk that was full at midnight may have been given the rows of both days when the power failed."""
    keeper, ticks = keeper_of(tmp_path), Ticks()
    run(keeper, ticks, 12)
    older = folder(tmp_path) / "climate-2026-01-04.csv"
    older.write_bytes(b"time\r\n" + TORN)
    keeper_of(tmp_path)
    assert older.read_bytes() == b"time\r\n"


def test_an_end_that_no_disk_let_be_put_right_at_the_start_is_when_the_disk_takes_a_row_again(tmp_path: Path) -> None:
    """Found by a campaign (seed 31472): the disk was full at the start, and the next day nobody opened that file."""
    keeper, ticks = keeper_of(tmp_path), Ticks()
    run(keeper, ticks, 2, events=(Event("note", "Whole.", batch=NAME),))
    older = folder(tmp_path) / "climate-2026-01-04.csv"
    older.write_bytes(b"time\r\n" + TORN)
    aside = folder(tmp_path) / "climate-2026-01-04.csv.partial"
    aside.mkdir()  # What stands in the way, as a full disk does.
    again = keeper_of(tmp_path)
    run(again, ticks, 24)
    assert older.read_bytes().endswith(TORN)
    aside.rmdir()
    run(again, ticks, 24)
    assert older.read_bytes() == b"time\r\n"
    assert aside.read_bytes() == TORN + b"\n"
    told = [row["text"] for row in rows_of(folder(tmp_path) / "events.csv") if row["kind"] == "records"]
    assert [text.split(": ")[-1] for text in told[:-1]] == ["Is a directory"], "told once, however often it was tried"
    assert told[-1].startswith("climate-2026-01-04.csv ended with a torn line of 25 bytes")


def test_status_tells_what_the_daemon_last_knew(tmp_path: Path) -> None:
    keeper = keeper_of(tmp_path)
    ticks = Ticks(batches=(batch(ph=((WALL_S, 5.4),), green_g={"A": 400.0}, now_g={"A": 300.0}),))
    keeper.keep(*ticks.tick())
    status = read_status(tmp_path)
    assert (status.air_temp_c, status.air_temp_set_c, status.chamber) == (36.0, 36.0, "bench")
    (known,) = status.batches
    assert (known.id, known.stage, known.state, known.leads) == (NAME, "ferment", "running", True)
    assert known.ph is not None
    assert (known.ph.value, known.weight_loss_pct) == (5.4, 25.0)
    assert is_alive(tmp_path)
    keeper.close()
    assert not is_alive(tmp_path)
    assert read_status(tmp_path).running is False


def test_whoever_has_his_answer_and_looks_finds_in_the_status_what_it_was_about(tmp_path: Path) -> None:
    make_box(tmp_path)
    keeper = keeper_of(tmp_path, status_every_s=3600.0)
    ticks = Ticks(batches=(batch(),))
    keeper.keep(*ticks.tick())
    ticks = Ticks(batches=(batch(ph=((WALL_S, 5.4),)),))
    seen: list[float | None] = []

    class Looking(OneAnswer):
        def give(self) -> None:
            known = read_status(tmp_path).batches[0].ph
            seen.append(None if known is None else known.value)
            super().give()

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("controller.records.keeper.OneAnswer", Looking)
        keeper.keep(*ticks.tick(answers=(Answer("r1", done=True, text="noted"),)))
    assert seen == [5.4]


DAEMON = """
import sys
from pathlib import Path
from controller.core.values import Entry
from controller.records.keeper import Keeper
from controller.records.request_box import answer_file, make_box
from controller.core.values import Answer
from tests.helpers.recorded import CHAMBER, NAME, WALL_S, Ticks
state_dir = Path(sys.argv[1])
make_box(state_dir)
keeper, ticks = Keeper(state_dir, CHAMBER, force=True, threaded=True), Ticks()
number = 0
while True:
    entry = Entry(NAME, f"r{number}", WALL_S, "ph", "5.2", "pH")
    keeper.keep(*ticks.tick(entries=(entry,), answers=(Answer(f"r{number}", True, "noted"),), checkpoint=True))
    while not answer_file(state_dir, f"r{number}").exists():
        pass
    print(number, flush=True)
    number += 1
"""


def test_kill_9_loses_nothing_that_was_answered(tmp_path: Path) -> None:
    home = Path(__file__).parents[2]
    daemon = subprocess.Popen(
        [sys.executable, "-c", DAEMON, str(tmp_path)], stdout=subprocess.PIPE, text=True, cwd=home
    )
    assert daemon.stdout is not None
    with daemon.stdout as output:
        answered = [int(output.readline()) for _ in range(8)]
        daemon.send_signal(signal.SIGKILL)
        answered += [int(line) for line in output.read().splitlines()]
    daemon.wait()
    recover_tail(folder(tmp_path) / "readings.csv")
    kept = [row["id"] for row in rows_of(folder(tmp_path) / "readings.csv")]
    assert kept[: len(answered)] == [f"r{number}" for number in answered]
    memory = load_checkpoint(tmp_path / CHECKPOINT).memory
    assert memory is not None
    assert memory.last_s >= 1000.0 + 5.0 * len(answered)


def test_of_states_that_wait_only_the_newest_is_written_and_those_on_which_an_answer_hangs() -> None:
    done: list[str] = []
    full = [True]

    def refused() -> None:
        if full[0]:
            raise StorageError("no room")

    writer = Writer(threaded=False, queue_limit_s=60.0, tell=done.append, retry_s=0.0)
    for name in ("first", "old", "asked", "old too", "newest"):
        hand_over = HandOver(0.0, spare=True)
        hand_over.jobs.append(job_of(refused))
        hand_over.state = partial(done.append, name)
        if name == "asked":
            hand_over.answers.append(Answering("x", lambda lost: done.append(f"answer {lost}")))
        writer.put(hand_over)
    full[0] = False
    writer.close()
    assert done[:-1] == ["first", "asked", "answer False", "newest"]


def test_an_error_of_the_program_itself_loses_one_record_and_says_so() -> None:
    told: list[str] = []
    done: list[str] = []
    writer = Writer(threaded=True, queue_limit_s=60.0, tell=told.append)
    for job in (lambda: done.append("before"), lambda: done.append(str(1 // 0)), lambda: done.append("after")):
        hand_over = HandOver(0.0, spare=True)
        hand_over.jobs.append(job_of(job))
        writer.put(hand_over)
    writer.close()
    assert done == ["before", "after"]
    assert told == ["A fault of the program lost a record: ZeroDivisionError: integer division or modulo by zero"]
