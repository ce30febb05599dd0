"""A maker's words reach the daemon through the request box, and its answer comes back."""

import csv
import json
import os
import re
import tempfile
import time
from pathlib import Path

import pytest
from msgspec.structs import replace

from controller.records.asking import who_may
from controller.records.status import ALIVE_S, read_status, write_status
from tests.cli.conftest import Typed
from tests.helpers.somebody import somebody_else


def test_a_batch_is_begun_hung_measured_paused_and_ended_by_typing(typed: Typed, daemon: Path) -> None:
    code, out, err = typed("start", "tangy", "--meat", "4.5kg", "--who", "ann")
    assert code == 0, err
    batch = out.partition(" started")[0]
    assert re.fullmatch(r"\d{4}-\d\d-\d\d-tangy-1", batch)
    assert "stay within earshot" in out

    code, out, _ = typed("hang", "A=412", "B=0.398kg")
    assert code == 0
    assert " ".join(out.split()).startswith(f"{batch}: hung. Now ferment. Measure the wrapped sample that hangs beside")
    code, out, err = typed("ph", "5.61", "--by", "meter 1", "--sample-temp", "68F", "--who", "ann")
    assert code == 0
    assert " ".join(out.split()).startswith(f"{batch}: pH 5.61. With 0.05 for the instrument it counts as 5.66: not at")
    assert max(map(len, out.splitlines())) <= 80
    entry = re.findall(r"Entry (\w+)\.", err)[0]
    assert "Did you mean 5.61?" in typed("ph", "5.16", "--by", "meter", "--replaces", entry)[2]
    assert typed("ph", "5.51", "--by", "meter", "--replaces", entry)[0] == 0
    assert typed("weigh", "A=400", "B=390")[1] == f"{batch}: lost of the green weight: A 2.9 %, B 2.0 % (slowest).\n"
    assert "Did you mean 64F (17.8 °C)?" in " ".join(typed("core", "64C")[2].split())
    assert typed("core", "31C")[1] == f"{batch}: core 31.0 °C.\n"
    assert typed("note", "a", "white", "bloom")[1] == "Noted.\n"
    paused = " ".join(typed("hold", "--because", "cleaning")[1].split())
    assert "paused, waits for you. Heat and mist are off, but the meat goes on souring" in paused
    assert "is paused already" in typed("hold")[2]
    assert "goes on" in typed("resume")[1]
    assert "aborted" in typed("end", "--sure", "--aborted", "--because", "only a test")[1]

    rows = list(csv.DictReader((daemon / "batches" / batch / "readings.csv").read_text("utf-8").splitlines()))
    assert [(row["kind"], row["value"], row["piece"], row["actor"]) for row in rows[2:4]] == [
        ("ph", "5.61", "", "ann"),
        ("ph", "5.51", "", rows[3]["actor"]),
    ]
    assert rows[2]["sample_temp_c"] == "20"
    assert rows[3]["replaces"] == entry
    assert rows[1] | {"piece": "B", "value": "398", "unit": "g"} == rows[1]


def test_a_doubtful_ph_is_asked_back_and_a_ferment_past_5_3_may_cool(typed: Typed, daemon: Path) -> None:
    batch = typed("start", "tangy", "--meat", "4.5kg")[1].partition(" started")[0]
    typed("hang", "A=412")
    assert "there is no reading; only after a pH at or below 5.3" in " ".join(typed("cool", "--from", "now")[2].split())
    code, _, err = typed("ph", "5.2", "--by", "meter", "--sample", "sausage", "--smell", "sour")
    assert code == 65
    assert "Not taken. If it is so, type it again with --sure." in " ".join(err.split())
    assert typed("ph", "5.2", "--by", "meter", "--sample", "sausage", "--smell", "sour", "--sure")[0] == 0
    rows = list(csv.DictReader((daemon / "batches" / batch / "readings.csv").read_text("utf-8").splitlines()))
    assert [(row["kind"], row["value"], row["note"]) for row in rows[1:]] == [
        ("ph", "5.2", "sample: sausage; asked back, and sure"),
        ("smell", "sour", ""),
    ]
    events = (daemon / "batches" / batch / "events.csv").read_text("utf-8")
    assert "Not taken: pH 5.2" in events
    code, out, err = typed("cool", "--from", "now")
    assert (code, err) == (0, "")
    assert "the ferment is let cool: lamp off, wanted 13 °C" in " ".join(out.split())
    assert "goes on as the card says" in typed("cool", "--off")[1]


@pytest.mark.usefixtures("daemon")
def test_heard_alarms_take_the_earshot_warning_away(typed: Typed) -> None:
    now = time.strftime("%Y-%m-%dT%H:%M", time.gmtime(time.time() - 3600.0))
    assert typed("alarms", "--heard", now)[0] == 0
    code, out, err = typed("start", "mild", "--meat", "10lb")
    assert code == 0, err
    assert "earshot" not in out + err


@pytest.mark.usefixtures("daemon")
def test_what_the_daemon_refuses_ends_with_65_and_its_words(typed: Typed) -> None:
    assert typed("hang") == (65, "", "no batch is open\n")
    assert typed("seen", "A3-2")[0] == 65
    typed("start", "tangy", "--meat", "4.5kg")
    typed("hang")
    code, out, err = typed("next", "--because", "I am hungry")
    assert (code, out) == (65, "")
    assert "a ferment ends on its pH" in err


@pytest.mark.usefixtures("chamber")
def test_a_command_without_a_daemon_is_not_left_in_the_box(typed: Typed, state_dir: Path) -> None:
    code, out, err = typed("hold")
    assert (code, out) == (69, "")
    assert "no daemon" in err
    assert not list(state_dir.iterdir())


@pytest.mark.usefixtures("chamber")
def test_a_command_to_a_daemon_that_ended_is_not_left_in_the_box(
    typed: Typed, state_dir: Path, dead_status: Path
) -> None:
    code, _, err = typed("start", "tangy", "--meat", "4.5kg")
    assert code == 69
    assert "no daemon is running" in err
    assert list(state_dir.rglob("*.json")) == [dead_status]


@pytest.mark.usefixtures("chamber")
@pytest.mark.parametrize(
    "line", ["ph 5.21 --by meter", "weigh A=412", "core 64C", "note mould --at 2026-01-05T14:30", "ph 4.9 --by strips"]
)
def test_what_was_measured_while_the_daemon_is_down_waits_in_the_box(typed: Typed, state_dir: Path, line: str) -> None:
    code, out, err = typed(*line.split())
    assert (code, out) == (0, "")
    assert "waits in the request box" in err
    (waiting,) = (state_dir / "requests" / "new").iterdir()
    request = json.loads(waiting.read_text("utf-8"))["request"]
    assert request["type"] == line.partition(" ")[0]
    assert request["id"] in err


@pytest.mark.usefixtures("chamber")
def test_a_command_is_taken_back_when_the_daemon_ends_before_it_answers(
    typed: Typed, state_dir: Path, daemon_status: Path
) -> None:
    nearly_dead_s = time.time() - ALIVE_S + 0.15  # It counts as running when the command is posted, and then not.
    os.utime(daemon_status, (nearly_dead_s, nearly_dead_s))
    code, out, err = typed("hold")
    assert (code, out) == (69, "")
    assert "no daemon is running" in err
    assert not list(state_dir.glob("requests/new/*"))


@pytest.mark.usefixtures("chamber", "daemon_status")
def test_a_daemon_that_runs_but_does_not_answer_is_told_apart(typed: Typed, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("controller.cli.asking.PATIENCE_S", 0.0)
    monkeypatch.setattr("controller.cli.asking.SAY_AFTER_S", 0.0)
    code, out, err = typed("hold")
    assert (code, out) == (75, "")
    assert "has not answered" in err
    code, out, err = typed("note", "mould")
    assert (code, out) == (0, "")
    assert "has not answered yet" in err
    assert "will be taken" in err


@pytest.mark.usefixtures("chamber")
def test_what_waits_for_a_full_disk_says_so_at_once(
    typed: Typed, daemon_status: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("controller.cli.asking.SAY_AFTER_S", 0.0)
    monkeypatch.setattr("controller.cli.asking.PATIENCE_S", 0.0)
    full = "The disk is full; records of 6 min wait in memory."
    write_status(daemon_status.parent, replace(read_status(daemon_status.parent), trouble=(full,)))
    code, out, err = typed("note", "full?")
    assert (code, out) == (0, "")
    said = " ".join(err.split())
    assert said.startswith(f"It waits for the records: {full} It is answered when it is on the disk")
    assert "will be taken" in said


def test_who_may_not_write_into_the_box_is_told_the_group(
    typed: Typed, chamber: Path, state_dir: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with tempfile.TemporaryDirectory() as open_to_all:  # pytest's own folder lets nobody else pass.
        public = Path(open_to_all)
        closed = public / "state"
        closed.mkdir()
        elsewhere = public / "chamber.toml"
        elsewhere.write_text(chamber.read_text("utf-8").replace(str(state_dir), str(closed)), "utf-8")
        public.chmod(0o755)
        closed.chmod(0o555)
        superuser = os.geteuid() == 0
        if superuser:
            os.chown(closed, -1, 12345)
        group = "12345" if superuser else closed.group()
        monkeypatch.setenv("HANGROOM_CHAMBER", str(elsewhere))
        with somebody_else():
            code, out, err = typed("ph", "5.21", "--by", "meter")
        assert (code, out) == (77, "")
        assert f"only members of the group {group} may" in err
        assert f"usermod -aG {group}" in err
        closed.chmod(0o755)


def test_nobody_is_told_to_join_the_group_of_root() -> None:
    place = Path("/")
    assert place.stat().st_gid == 0
    assert "only root may" in who_may(place)
    assert "usermod" not in who_may(place)


@pytest.mark.usefixtures("chamber")
def test_a_state_folder_that_is_not_there_is_not_made_by_a_person(typed: Typed, state_dir: Path) -> None:
    state_dir.rmdir()
    code, _, err = typed("ph", "5.21", "--by", "meter")
    assert code == 69
    assert str(state_dir) in err
    assert not state_dir.exists()
