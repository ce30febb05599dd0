"""The real command, killed while people type: a few kills of the long campaign, and the checker that judges it."""

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from controller.records.checkpoint import FILE as CHECKPOINT
from tests.killing.campaign import Campaign
from tests.killing.checker import Checker
from tests.killing.process import can_trace
from tests.killing.typist import Ledger, Typed

READINGS = "id,time,kind,value,unit,piece,instrument,sample_temp_c,actor,entered_at,replaces,note\r\n"
ROW = "r1,2026-01-05T06:00:00Z,ph,5.6,pH,,meter,,Ann,2026-01-05T06:00:01Z,,\r\n"


def test_nothing_acknowledged_is_lost_by_kills_at_random_and_inside_system_calls(tmp_path: Path) -> None:
    """Takes some seconds: a real process is started four times and lives for a second or two."""
    if not can_trace():
        give_up = pytest.fail if os.environ.get("CI") else pytest.skip
        give_up("NO KILL HIT INSIDE A SYSTEM CALL: strace is not here, or may not trace (apt-get install strace)")
    told = Campaign(tmp_path / "chamber", seed=7).run(2)
    assert told.wrong == []
    assert told.kills == 2
    assert told.in_call or told.in_vain  # The chosen call may not have come in this short life.
    assert told.acknowledged > 0


@pytest.fixture
def state(tmp_path: Path) -> Path:
    """Make the folder of a chamber in which one pH was typed and acknowledged."""
    (tmp_path / "batches" / "b").mkdir(parents=True)
    (tmp_path / "batches" / "b" / "readings.csv").write_bytes((READINGS + ROW).encode())
    (tmp_path / "answers").mkdir()
    (tmp_path / "requests" / "new").mkdir(parents=True)
    return tmp_path


def judged(state: Path, *more: Typed) -> list[str]:
    ledger = Ledger()
    for typed in (Typed("r1", "ph", (("ph", "5.6", ""),), answers=[(True, "noted")]), *more):
        ledger.add(typed)
    return Checker(state, ledger).at_the_end()


def test_the_checker_finds_nothing_where_all_is_well(state: Path) -> None:
    assert judged(state) == []


def lose(state: Path) -> None:
    (state / "batches" / "b" / "readings.csv").write_bytes(READINGS.encode())


def double(state: Path) -> None:
    (state / "batches" / "b" / "readings.csv").write_bytes((READINGS + ROW + ROW).encode())


def cut_in_the_middle(state: Path) -> None:
    (state / "batches" / "b" / "readings.csv").write_bytes((READINGS + "r0,2026\r\n" + ROW).encode())


def answer_again(state: Path) -> None:
    (state / "answers" / "r1.json").write_text('{"request_id": "r1", "done": true, "text": "once more"}')


def leave_unanswered(state: Path) -> None:
    (state / "requests" / "new" / "r2.json").write_text("{}")


def add_a_row(state: Path) -> None:
    (state / "batches" / "b" / "readings.csv").write_bytes((READINGS + ROW + ROW.replace("r1", "r9")).encode())


def damage_the_checkpoint(state: Path) -> None:
    (state / CHECKPOINT).write_bytes(b'{"version":1,"crc32":1}\nx')


@pytest.mark.parametrize(
    ("damage", "says"),
    [
        (lose, "acknowledged and is not in readings.csv"),
        (double, "stands 2 times"),
        (cut_in_the_middle, "does not fit its header"),
        (answer_again, "answered a second time"),
        (leave_unanswered, "lies there unanswered"),
        (add_a_row, "a row that nobody typed"),
        (damage_the_checkpoint, "No copy of it is whole"),
    ],
)
def test_the_checker_tells(state: Path, damage: Callable[[Path], None], says: str) -> None:
    damage(state)
    assert any(says in line for line in judged(state))


def test_the_checker_tells_of_two_answers_and_of_a_refused_entry_that_stands(state: Path) -> None:
    twice = Typed("r5", "note", answers=[(True, "noted"), (True, "done already")])
    assert any("answered 2 times" in line for line in judged(state, twice))
    refused = Typed("r1", "ph", answers=[(False, "no")])
    assert any("was refused and stands in the record" in line for line in judged(state, refused))


def test_the_checker_tells_of_words_that_stand_twice_in_the_diary(state: Path) -> None:
    diary = "time,kind,id,priority,text,actor\r\n" + "2026-01-05T06:00:00Z,note,,,typed as r6!,Ann\r\n" * 2
    (state / "batches" / "b" / "events.csv").write_bytes(diary.encode())
    assert any("stands twice" in line for line in judged(state, Typed("r6", "note", words="typed as r6!")))
