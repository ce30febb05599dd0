"""One call to the disk fails, at the one place where that mattered: each test is a fault that such a call laid bare.

`tests.rig.disk --failures` fails every call of a whole day in turn; these are the ones it found.
"""

import errno
import os
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from controller.app import begin
from controller.core.restart import first_memory
from controller.core.values import Answer, Event
from controller.errors import StorageError
from controller.records import asking, request_box
from controller.records.batch_folder import batches_of
from controller.records.checkpoint import FILE as CHECKPOINT
from controller.records.checkpoint import PAUSES_S, load_checkpoint, save_checkpoint
from controller.records.durable import AppendFile, set_aside
from controller.records.keeper import Keeper
from controller.records.request_box import OneAnswer, RequestBox, answer_file, requests_of
from controller.records.untrusted import read_file
from controller.settings.learned_file import use_learned
from tests.helpers.bench_chamber import CHAMBER as PLAN
from tests.helpers.bench_chamber import WALL_S
from tests.helpers.recorded import CHAMBER, NAME, Ticks
from tests.records.test_request_box import PH, answer_to, box_of, in_box, type_in
from tests.stories.test_damaged_memory import Clock


def fails(number: int, times: int = 1) -> Callable[..., Any]:
    """Return what comes back with an error so many times, and does nothing afterwards."""
    left = [number] * times

    def fail(*_args: Any, **_named: Any) -> None:  # noqa: ANN401 - it stands for anything
        if left:
            raise OSError(left.pop(), os.strerror(number))

    return fail


def test_a_request_whose_typist_is_told_that_it_failed_is_not_in_the_box(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(asking, "sync_folder", fails(errno.EIO))
    with pytest.raises(StorageError, match="the request could not be written: Input/output error"):
        type_in(tmp_path, PH)
    assert in_box(tmp_path) == []


def test_a_request_that_cannot_be_moved_into_the_box_leaves_nothing_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Path, "rename", fails(errno.ENOSPC))
    with pytest.raises(StorageError, match="No space left on device"):
        type_in(tmp_path, PH)
    assert list((requests_of(tmp_path) / "tmp").iterdir()) == []


def test_a_request_that_was_answered_while_its_folder_could_not_be_forced_is_no_failed_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def taken_meanwhile(folder: Path) -> None:
        request_box.write_answer(tmp_path, Answer("ph-1", done=True, text="noted"), force=False)
        raise OSError(errno.EIO, str(folder))

    monkeypatch.setattr(asking, "sync_folder", taken_meanwhile)
    type_in(tmp_path, PH)
    assert answer_to(tmp_path, "ph-1").done


def test_a_request_that_can_neither_be_forced_nor_taken_back_may_be_there_and_that_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    request_box.make_box(tmp_path)
    monkeypatch.setattr(asking, "sync_folder", fails(errno.EROFS))
    monkeypatch.setattr(Path, "unlink", fails(errno.EROFS))
    with pytest.raises(StorageError, match="may lie there all the same: look with hangroom status"):
        type_in(tmp_path, PH)
    assert in_box(tmp_path) == ["ph-1.json"]


def read_and_take_away(tmp_path: Path) -> None:
    (requests_of(tmp_path) / "new" / "ph-1.json").unlink(missing_ok=True)
    answer_file(tmp_path, "ph-1").unlink()


def test_an_answer_that_was_read_is_not_put_there_again_because_its_request_could_not_be_taken_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    type_in(tmp_path, PH)
    answer = OneAnswer(tmp_path, Answer("ph-1", done=True, text="noted"), force=True)
    monkeypatch.setattr(request_box, "sync_folder", fails(errno.EIO))
    with pytest.raises(StorageError, match="could not be taken out of the box"):
        answer.give()
    read_and_take_away(tmp_path)
    answer.give()
    assert not answer_file(tmp_path, "ph-1").exists()


def test_an_answer_that_was_read_is_not_put_there_again_because_its_folder_could_not_be_forced(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    type_in(tmp_path, PH)
    answer = OneAnswer(tmp_path, Answer("ph-1", done=True, text="noted"), force=True)
    monkeypatch.setattr("controller.records.durable.sync_folder", fails(errno.EIO))
    with pytest.raises(StorageError):
        answer.give()
    assert answer_to(tmp_path, "ph-1").done  # It is seen, but not known to be forced.
    read_and_take_away(tmp_path)
    answer.give()
    assert not answer_file(tmp_path, "ph-1").exists()


def test_the_answer_to_a_damaged_request_is_given_at_the_next_try(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    box = box_of(tmp_path)
    (requests_of(tmp_path) / "new" / "ph-1.json").write_bytes(b"{")
    monkeypatch.setattr("controller.records.durable.write_all", fails(errno.ENOSPC))
    box.take()
    assert [one.row for one in box.trouble()] == ["C6"]
    monkeypatch.undo()
    box.take()
    assert "is damaged and was not done" in answer_to(tmp_path, "ph-1").text
    assert box.trouble() == ()


def test_a_keeper_begins_where_the_disk_does_not_list_a_folder_and_that_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    batches_of(tmp_path).mkdir()
    with monkeypatch.context() as patched:
        patched.setattr(os, "scandir", fails(errno.EIO, times=9))
        keeper = Keeper(tmp_path, CHAMBER, force=True, threaded=False, status_every_s=1e9)
    ticks = Ticks()
    keeper.keep(*ticks.tick(checkpoint=True))
    keeper.close()
    assert "could not be listed at the start: Input/output error" in (
        batches_of(tmp_path) / NAME / "events.csv"
    ).read_text("utf-8")


@pytest.mark.parametrize("times", [1, 2])
def test_an_error_of_the_disk_at_the_very_end_costs_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, times: int
) -> None:
    keeper, ticks = Keeper(tmp_path, CHAMBER, force=False, threaded=True, status_every_s=1e9), Ticks()
    for _ in range(14):
        keeper.keep(*ticks.tick(checkpoint=ticks.now_s == 1005.0))
    keeper._writer.wait(5.0)
    monkeypatch.setattr("controller.records.durable.write_all", once_more(fails(errno.EIO, times)))
    keeper.close()
    assert len((batches_of(tmp_path) / NAME / "climate-2026-01-05.csv").read_bytes().splitlines()) == 3


def once_more(fail: Callable[..., Any]) -> Callable[[int, bytes], None]:
    def write(fd: int, data: bytes) -> None:
        fail()
        os.write(fd, data)

    return write


def test_an_end_that_cannot_save_the_memory_says_so_in_words_that_fit(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    keeper = Keeper(tmp_path, CHAMBER, force=True, threaded=False, status_every_s=1e9)
    monkeypatch.setattr(os, "rename", fails(errno.EROFS, times=99))
    memory, _ = Ticks().tick()
    keeper.begin(memory)
    with pytest.raises(StorageError, match="what the program remembers could not be written and is lost"):
        keeper.close()


def test_a_memory_that_the_disk_neither_gives_nor_lets_be_set_aside_is_not_written_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / CHECKPOINT
    save_checkpoint(path, first_memory(PLAN, 1000.0, WALL_S, "boot-1"), force=True)
    with monkeypatch.context() as patched:
        patched.setattr(Path, "read_bytes", fails(errno.EIO, times=99))
        patched.setattr(os, "rename", fails(errno.EIO, times=99))
        with pytest.raises(StorageError, match="does not give the program's memory, nor lets it be set aside"):
            begin(path, PLAN, Clock())
    _, told = begin(path, PLAN, Clock())  # The service has started it again, and the disk is back.
    assert not any("damaged" in event.text for event in told)


def test_a_damaged_file_that_cannot_even_be_looked_for_is_an_error_for_people(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Path, "exists", fails(errno.EIO))
    with pytest.raises(StorageError, match="is damaged and could not be set aside"):
        set_aside(tmp_path / "checkpoint.msgpack", force=True)


def test_learned_figures_that_the_disk_does_not_give_are_no_reason_not_to_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("controller.settings.learned_file.read_learned", fails(errno.EIO))
    use = use_learned(tmp_path, CHAMBER)
    assert use.learned is None
    assert use.why_not.endswith("learned.toml: Input/output error; the chamber file's own are")


def test_a_box_that_cannot_be_listed_at_the_start_is_no_reason_not_to_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patched:
        patched.setattr(os, "scandir", fails(errno.EIO, times=99))
        box = RequestBox(tmp_path)
        assert box.take() == ()
        assert [one.row for one in box.trouble()] == ["C6"]
    type_in(tmp_path, PH, boot_id=request_box.this_boot()[0], at_s=request_box.this_boot()[1])
    assert box.take() == (PH,)


def test_a_new_file_whose_folder_could_not_be_forced_is_forced_with_its_name_at_the_next_try(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    forced: list[Path] = []
    fail = fails(errno.EIO)

    def sync(folder: Path) -> None:
        fail()
        forced.append(folder)

    monkeypatch.setattr("controller.records.durable.sync_folder", sync)
    file = AppendFile(tmp_path / "rows.csv", force=True)
    with pytest.raises(StorageError):
        file.append(b"one\n")
    assert (tmp_path / "rows.csv").exists()
    file.append(b"one\n")
    assert forced == [tmp_path]


def test_a_request_that_the_disk_gives_at_the_third_look_is_done(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    box = box_of(tmp_path)
    type_in(tmp_path, PH)
    with monkeypatch.context() as patched:
        patched.setattr(request_box, "read_file", fails(errno.EIO, times=2))
        assert (box.take(), [one.text for one in box.trouble()]) == (
            (),
            ["the disk does not give a request: ph-1.json"],
        )
        assert box.take() == ()
    assert (box.take(), box.trouble()) == ((PH,), ())


def test_a_request_that_the_disk_never_gives_is_refused_and_keeps_no_other_waiting(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    box, read = box_of(tmp_path), read_file

    def bad_sector(path: Path) -> bytes:
        if path.name == "bad.json":
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        return read(path)

    monkeypatch.setattr(request_box, "read_file", bad_sector)
    (requests_of(tmp_path) / "new" / "bad.json").write_bytes(b"")
    type_in(tmp_path, PH)
    assert box.take() == (PH,)
    for _ in range(request_box.UNREAD):
        assert box.take() == ()
    assert "is damaged and was not done" in answer_to(tmp_path, "bad").text
    assert box.trouble() == ()


def test_a_disk_that_is_back_when_the_older_memory_is_read_gives_the_newest_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, read = tmp_path / CHECKPOINT, Path.read_bytes
    for now_s in (1000.0, 1060.0):
        save_checkpoint(path, first_memory(PLAN, now_s, WALL_S, "boot-1"), force=True)
    left = [1] * (len(PAUSES_S) + 1)

    def comes_back(file: Path) -> bytes:
        if file == path and left:
            left.pop()
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        return read(file)

    monkeypatch.setattr(Path, "read_bytes", comes_back)
    loaded = load_checkpoint(path)
    assert loaded.memory is not None
    assert loaded.memory.started_s == 1060.0
    assert (loaded.damaged, loaded.warnings) == ((), ())


def test_words_that_waited_in_the_box_are_in_the_diary_though_forcing_them_failed_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    boot_id, boottime_s = request_box.this_boot()
    type_in(tmp_path, PH, boot_id=boot_id, at_s=boottime_s)
    keeper, ticks = Keeper(tmp_path, CHAMBER, force=True, threaded=False, status_every_s=1e9, retry_s=0.0), Ticks()
    keeper.keep(*ticks.tick(checkpoint=True))
    real, fail = os.fdatasync, fails(errno.EIO)

    def force(fd: int) -> None:
        fail()
        real(fd)

    monkeypatch.setattr("controller.records.keeper.AppendFile", partial(AppendFile, sync=force))
    waited = Event("note", "Typed while nobody ran.", batch=NAME)
    keeper.keep(*ticks.tick(events=(waited,), answers=(Answer("ph-1", done=True, text="noted"),), checkpoint=True))
    assert not answer_file(tmp_path, "ph-1").exists()
    keeper.keep(*ticks.tick(events=(Event("note", "Another one.", batch=NAME),)))
    keeper.close()
    assert answer_to(tmp_path, "ph-1").done
    diary = (batches_of(tmp_path) / NAME / "events.csv").read_text("utf-8")
    assert diary.count("Typed while nobody ran. (written late)") == 1
    assert diary.count("Another one.") == 1
