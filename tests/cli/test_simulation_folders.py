"""One simulation at a time has a folder; none drops a person's batch without a word; none dies of a full disk."""

import json
import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.cli.conftest import Typed
from tests.cli.test_by_hand import ByHand
from tests.helpers.mounted_disk import fill, mounted_disk


@pytest.fixture
def trial(tmp_path: Path, typed: Typed, monkeypatch: pytest.MonkeyPatch) -> Iterator[ByHand]:
    """Run one by hand in a folder, with a batch begun."""
    run = ByHand(tmp_path / "trial")
    monkeypatch.setenv("HANGROOM_CHAMBER", str(run.out))
    assert typed("start", "tangy", "--meat", "4.5kg")[0] == 0
    yield run
    typed("end", "--because", "only a test", "--sure")
    assert run.ended()


def everything_in(folder: Path) -> dict[str, bytes]:
    """Return all that lies there but the status, which is renewed by itself."""
    paths = (path for path in folder.rglob("*") if path.is_file() and not path.name.startswith("status.json"))
    return {str(path): path.read_bytes() for path in paths}


@pytest.mark.parametrize("line", ["simulate --by-hand", "simulate mild --days 0.1"])
def test_a_second_run_in_the_same_folder_is_refused_and_told_who_has_it(typed: Typed, trial: ByHand, line: str) -> None:
    before = everything_in(trial.out)
    code, out, err = typed(*line.split(), "--out", str(trial.out))
    assert (code, out) == (69, "")
    assert f"process {os.getpid()}" in err
    assert "--out DIR" in " ".join(err.split())
    assert "Time stands still" not in err
    assert everything_in(trial.out) == before


def test_a_batch_that_a_person_left_open_is_dropped_only_by_a_word_for_it(typed: Typed, tmp_path: Path) -> None:
    folder = str(tmp_path / "trial")
    line = ("simulate", "tangy", "--days", "0.1", "--out", folder)
    assert typed(*line, "--no-maker")[0] == 0  # Its days are over, and the batch is still in its warm-up.
    code, _, err = typed(*line, "--no-maker")
    said = " ".join(err.split())
    assert code == 65
    assert "left the batch 2026-01-05-tangy-1 here, in its stage warm-up" in said
    assert "--anew" in said
    assert typed("simulate", "--by-hand", "--out", folder)[0] == 65
    assert typed(*line, "--no-maker", "--anew")[0] == 0
    assert [path.name for path in sorted((tmp_path / "trial" / "batches").iterdir())] == [
        "2026-01-05-tangy-1",
        "2026-01-05-tangy-2",
    ]


def test_what_the_modelled_maker_led_is_simulated_again_without_being_asked(typed: Typed, tmp_path: Path) -> None:
    for number in (1, 2):
        code, out, _ = typed("simulate", "tangy", "--days", "0.1", "--out", str(tmp_path))
        assert code == 0
        assert f"2026-01-05-tangy-{number}" in out


@pytest.fixture
def tiny_disk(tmp_path: Path) -> Iterator[Path]:
    """Mount 128 kB of a file system of its own: room for a chamber file, a status and some hours of rows."""
    with mounted_disk(tmp_path / "tiny", 128) as place:
        yield place


@pytest.mark.fault_row("C6")
def test_a_run_by_hand_outlives_a_full_disk_and_its_status_tells_of_it(
    typed: Typed, tiny_disk: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = ByHand(tiny_disk, days=1.0)
    monkeypatch.setenv("HANGROOM_CHAMBER", str(tiny_disk))
    assert typed("start", "tangy", "--meat", "4.5kg")[0] == 0
    ballast = fill(tiny_disk)
    assert typed("wait", "2h")[0] == 74  # Not even the question finds room.
    question = tiny_disk / "time" / "w1.wait.json"
    os.truncate(ballast, ballast.stat().st_size - 4096)  # Room for the question, none for what comes of it.
    question.write_text('{"id": "w1", "seconds": 7200}')
    while question.exists():
        assert run.thread.is_alive(), "the run has died of it"
    assert not (tiny_disk / "time" / "w1.waited.json").exists()
    code, out, _ = typed("status")
    assert (code, out.splitlines()[0].partition(" (")[0]) == (0, "old-fridge, 2026-01-05 08:00")
    assert "C6-1" in out
    assert "The disk is full" in " ".join(out.split()) or "found room" in out
    ballast.unlink()
    now = json.loads(typed("wait", "30m", "--json")[1])
    assert now["waited_s"] == 1800.0
    typed("end", "--because", "only a test", "--sure")
    assert run.ended()


@pytest.mark.fault_row("C6")
def test_records_that_were_lost_end_a_simulation_with_the_code_of_a_disk(typed: Typed, tiny_disk: Path) -> None:
    (tiny_disk / "ballast").write_bytes(b"x" * 80 * 1024)
    code, out, err = typed("simulate", "tangy", "--days", "0.2", "--out", str(tiny_disk))
    assert code == 74
    assert "are lost" in err
    assert "State running" in out
