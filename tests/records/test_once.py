"""A request that a killed run had done and could not remember is done once more, and leaves its rows once."""

import csv
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from controller.core.requests import Note
from controller.core.values import Answer, CheckEntry, Entry, Event, InstrumentCheck
from controller.records.asking import post
from controller.records.batch_folder import batches_of
from controller.records.keeper import Keeper
from controller.records.once import key_of, keys_in
from controller.records.request_box import make_box, requests_of, waiting_since
from tests.helpers.recorded import CHAMBER, NAME, WALL_S, Ticks

PH = Entry(NAME, "r1", WALL_S, "ph", "5.21", "pH", "", 'meter "1"', None, "Ann", WALL_S, "", "wet, cold")
WEIGHTS = [Entry(NAME, "r2", WALL_S, "weight", "412", "g", piece, "scale", None, "Ann", WALL_S) for piece in "AB"]
CHECK = CheckEntry("r3", WALL_S, InstrumentCheck("probe", "ice", (("ice", 0.0, 0.1),), "Cel"), "Ann", WALL_S, "")


def run_and_kill(state_dir: Path, **told: Any) -> None:  # noqa: ANN401 - anything that a tick may tell
    """Let a run write what one tick leaves; nothing of it is remembered."""
    Keeper(state_dir, CHAMBER, force=False, threaded=False).keep(*Ticks().tick(**told))


def column(path: Path, name: str) -> list[str]:
    with path.open(encoding="utf-8", newline="") as file:
        return [row[name] for row in csv.DictReader(file)]


def test_a_reading_stands_once_however_often_the_program_is_killed_after_its_row(tmp_path: Path) -> None:
    for later_s in (0.0, 3.0, 7.0):
        run_and_kill(tmp_path, entries=(replace(PH, entered_wall_s=WALL_S + later_s),))
    assert column(batches_of(tmp_path) / NAME / "readings.csv", "id") == ["r1"]


def test_of_an_entry_with_several_pieces_only_the_missing_rows_are_appended(tmp_path: Path) -> None:
    run_and_kill(tmp_path, entries=(WEIGHTS[0],))
    run_and_kill(tmp_path, entries=tuple(WEIGHTS))
    assert column(batches_of(tmp_path) / NAME / "readings.csv", "piece") == ["A", "B"]


def test_a_row_that_was_torn_is_appended_again(tmp_path: Path) -> None:
    run_and_kill(tmp_path, entries=(WEIGHTS[0], PH))
    path = batches_of(tmp_path) / NAME / "readings.csv"
    path.write_bytes(path.read_bytes()[:-9])
    run_and_kill(tmp_path, entries=(WEIGHTS[0], PH))
    assert column(path, "id") == ["r2", "r1"]


def test_a_check_of_an_instrument_stands_once_too(tmp_path: Path) -> None:
    for _ in range(2):
        run_and_kill(tmp_path, checks=(CHECK,))
    assert column(tmp_path / "instruments.csv", "id") == ["r3"]


def test_two_readings_of_one_run_are_never_taken_for_one(tmp_path: Path) -> None:
    run_and_kill(tmp_path, entries=(PH, replace(PH, id="r4"), replace(PH, id="r5", note='said "r1"')))
    assert column(batches_of(tmp_path) / NAME / "readings.csv", "id") == ["r1", "r4", "r5"]


@pytest.mark.parametrize(
    "row", [b"", b"\r\n", b"a,b\r\n", b'"never ended' + b"," * 9, b'"' + b"x" * 200_000, b"\xff" * 9]
)
def test_what_is_no_whole_row_has_no_key(tmp_path: Path, row: bytes) -> None:
    assert key_of(row, (0, 2, 5)) == ()
    path = tmp_path / "odd.csv"
    path.write_bytes(row + b"\nr1,t,ph,5,pH,A\r\n")
    assert keys_in(path, (0, 2, 5)) == {("r1", "ph", "A")}


def answered(state_dir: Path, note: Note, *, typed_s: float = WALL_S - 1.0, lies: bool = True) -> list[str]:
    """Let a run that is killed after it do a note that lies in the box; return the diary."""
    if lies:
        post(state_dir, note, boot_id="boot-1", boottime_s=1.0, typed_wall_s=typed_s)
    event = Event("note", note.text, actor="Ann", batch=NAME)
    run_and_kill(state_dir, events=(event,), answers=(Answer(note.id, done=True, text="Noted."),))
    return column(batches_of(state_dir) / NAME / "events.csv", "text")


def test_a_note_that_a_killed_run_had_written_and_could_not_remember_stands_once(tmp_path: Path) -> None:
    note = Note(id="n1", at_wall_s=WALL_S, text='brushed, "white" mould')
    assert answered(tmp_path, note) == [note.text]
    assert answered(tmp_path, note) == [note.text]


def test_the_same_sentence_typed_again_later_stands_again(tmp_path: Path) -> None:
    text = "brushed"
    answered(tmp_path, Note(id="n1", at_wall_s=WALL_S, text=text))
    later = Note(id="n2", at_wall_s=WALL_S, text=text)
    assert answered(tmp_path, later, typed_s=WALL_S + 60.0) == [text, text]


def test_what_did_not_lie_in_the_box_at_the_start_is_written_without_a_look_back(tmp_path: Path) -> None:
    make_box(tmp_path)
    note = Note(id="n1", at_wall_s=WALL_S, text="brushed")
    assert answered(tmp_path, note, lies=False) == ["brushed"]
    assert answered(tmp_path, note, lies=False) == ["brushed", "brushed"]


def test_damaged_files_in_the_box_are_no_requests_that_wait(tmp_path: Path) -> None:
    make_box(tmp_path)
    new = requests_of(tmp_path) / "new"
    (new / "a.json").write_bytes(b"{")
    (new / "b.json").mkdir()
    (new / "c.json").symlink_to("/dev/zero")
    post(tmp_path, Note(id="n1", at_wall_s=WALL_S, text="x"), boot_id="b", boottime_s=1.0, typed_wall_s=5.0)
    assert waiting_since(tmp_path) == {"n1": 5.0}
    assert waiting_since(tmp_path / "nowhere") == {}
