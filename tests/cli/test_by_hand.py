"""A simulation by hand: time stands still until a person lets it pass, and the other verbs reach the very daemon."""

import json
import re
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from controller.app import Simulation, simulate
from controller.records.status import is_alive
from tests.cli.conftest import Typed
from tests.helpers.shipped_chambers import deciding_seldom

BEGIN_WALL_S = 1_767_592_800.0  # 2026-01-05T06:00:00Z


class ByHand:
    """Run a simulation by hand in a thread of its own."""

    def __init__(self, out: Path, days: float = 5.0) -> None:
        self.out = out
        simulation = Simulation(
            profile=None,
            chamber=deciding_seldom("old-fridge", out.parent),
            out=out,
            begin_wall_s=BEGIN_WALL_S,
            by_hand=True,
            days=days,
        )
        self.thread = threading.Thread(target=simulate, args=(simulation, lambda _progress: None))
        self.thread.start()
        deadline_s = time.monotonic() + 10.0
        while not is_alive(out):
            assert time.monotonic() < deadline_s

    def ended(self) -> bool:
        self.thread.join(10.0)
        return not self.thread.is_alive()


@pytest.fixture
def by_hand(tmp_path: Path, typed: Typed, monkeypatch: pytest.MonkeyPatch) -> Iterator[ByHand]:
    out = tmp_path / "trial"
    run = ByHand(out)
    monkeypatch.setenv("HANGROOM_CHAMBER", str(out))
    yield run
    if run.thread.is_alive():
        typed("start", "tangy", "--meat", "4.5kg")
        typed("end", "--sure")
    assert run.ended()


def now_s(out: Path) -> float:
    return float(json.loads((out / "status.json").read_text("utf-8"))["time_wall_s"])


def test_time_stands_still_and_each_request_takes_one_tick_of_it(typed: Typed, by_hand: ByHand) -> None:
    assert typed("wait", "10m")[0] == 0
    assert now_s(by_hand.out) == BEGIN_WALL_S + 600.0
    code, _, err = typed("start", "tangy", "--meat", "4.5kg")
    assert code == 0, err
    assert now_s(by_hand.out) == BEGIN_WALL_S + 608.0
    assert typed("note", "nothing hurries")[0] == 0
    assert now_s(by_hand.out) == BEGIN_WALL_S + 616.0


@pytest.mark.usefixtures("by_hand")
def test_right_after_hanging_answer_and_status_name_one_hour_for_the_limit(typed: Typed) -> None:
    typed("start", "tangy", "--meat", "4.5kg")
    typed("hang", "A=412")  # The chamber is not warm yet, and reckoned from its air now the hour would be a later one.
    answer = " ".join(typed("ph", "5.70", "--by", "meter")[1].split())
    told = re.search(r"in \d+\.\d h \((\d{4}-\d\d-\d\d \d\d:\d\d)\) the limit is reached", answer)
    shown = re.search(r"limit reached at (\S+ \S+) if nothing changes; latest hour for pH 5\.3", typed("status")[1])
    assert told is not None, answer
    assert shown is not None
    assert told[1] == shown[1]


def test_a_wait_tells_what_can_be_measured_then_and_hanging_hangs_the_meat(typed: Typed, by_hand: ByHand) -> None:
    typed("start", "tangy", "--meat", "4.5kg")
    _, out, _ = typed("wait", "2h")
    assert out.startswith("2026-01-05 08:00, 2 h 0 min later.\nWhat you could measure now:\n")
    weights = re.search(r"on the scale +(A=\d+ B=\d+ C=\d+); hook and string 6 g each", out)
    assert weights is not None
    assert typed("hang", *weights[1].split())[0] == 0
    now = json.loads(typed("wait", "12h", "--json")[1])
    assert now["waited_s"] == 12 * 3600.0
    assert 33.0 < now["measured"]["core_temp_c"] < 38.0  # It hangs in the warm chamber.
    assert now["measured"]["ph_mince"] < 5.75
    assert abs(now["measured"]["ph_mince"] - now["measured"]["ph_sausage"]) < 0.2
    assert by_hand.thread.is_alive()


def test_a_wait_until_asked_ends_when_a_ph_is_due(typed: Typed, by_hand: ByHand) -> None:
    typed("start", "tangy", "--meat", "4.5kg")
    typed("wait", "1h")
    typed("hang", "A=439")
    _, out, _ = typed("wait", "3d", "--until-asked")
    assert "Measure the pH now" in out
    assert now_s(by_hand.out) == pytest.approx(BEGIN_WALL_S + 13 * 3600.0, abs=60.0)


def test_the_run_is_over_when_the_batch_is_taken_out(typed: Typed, by_hand: ByHand) -> None:
    typed("start", "tangy", "--meat", "4.5kg")
    assert typed("end", "--because", "only a test")[0] == 0
    assert by_hand.ended()
    code, out, err = typed("wait", "1h")
    assert (code, out) == (69, "")
    assert "no simulation by hand is running" in err


def test_a_wait_longer_than_the_run_ends_with_it(typed: Typed, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    run = ByHand(tmp_path / "short", days=0.1)
    monkeypatch.setenv("HANGROOM_CHAMBER", str(run.out))
    _, out, _ = typed("wait", "1d")
    assert out.startswith("2026-01-05 08:24, 2 h 24 min later; the run is over.")
    assert run.ended()


def test_the_same_words_make_the_same_run(typed: Typed, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    told = []
    for name in ("first", "second"):
        run = ByHand(tmp_path / name, days=0.4)
        monkeypatch.setenv("HANGROOM_CHAMBER", str(run.out))
        measured = ("start mild --meat 4.5kg", "wait 1h", "hang A=439 B=448", "wait 2h", "ph 5.7 --by meter")
        for line in (*measured, "end --sure"):
            assert typed(*line.split())[0] == 0, line
        assert run.ended()
        (folder,) = (run.out / "batches").iterdir()
        told.append({path.name: path.read_bytes() for path in folder.glob("*.csv") if path.name != "readings.csv"})
    assert told[0] == told[1]
    assert len(told[0]) >= 2


@pytest.mark.parametrize("line", ["wait", "wait soon", "wait -1h", "wait 0h"])
@pytest.mark.usefixtures("chamber")
def test_a_length_of_time_that_is_none_is_asked_back(typed: Typed, line: str) -> None:
    assert typed(*line.split())[0] == 64


@pytest.mark.usefixtures("chamber", "daemon_status")
def test_a_real_chamber_has_no_time_to_let_pass(typed: Typed) -> None:
    code, _, err = typed("wait", "1h")
    assert code == 69
    assert "no simulation by hand" in err


def test_only_by_hand_goes_without_a_profile_and_it_has_no_speed(typed: Typed) -> None:
    assert "missing PROFILE" in typed("simulate")[2]
    assert "--speed" in typed("simulate", "--by-hand", "--speed", "60")[2]


@pytest.mark.usefixtures("by_hand")
def test_a_step_test_is_begun_followed_and_broken_off(typed: Typed) -> None:
    typed("wait", "2m")
    assert typed("learn")[0] == 64, "there is nobody to ask"
    code, out, err = typed("learn", "--yes")
    assert code == 0, err
    assert "The same limits hold as in a batch" in " ".join(out.split())
    typed("wait", "12m")
    told = typed("status")[1]
    assert "the lamp is on, 28 min more at most" in " ".join(told.split())
    assert "wanted" not in told
    code, _, err = typed("start", "tangy", "--meat", "4.5kg")
    assert code == 65
    assert "the step test 2026-01-05-1 runs in the chamber" in " ".join(err.split())
    assert "still runs" in typed("learn", "--result")[2]
    code, out, _ = typed("learn", "--stop")
    assert (code, out.startswith("The step test 2026-01-05-1 is broken off")) == (0, True)
    code, _, err = typed("learn", "--result")
    assert code == 65
    assert "the test was broken off" in err
    assert typed("learn", "--from-batches")[0] == 65
