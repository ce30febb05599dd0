"""`hangroom learn --forecasts` as a maker types it: old and new are shown, and nothing is changed without a yes."""

import json
from pathlib import Path

import pytest

from controller.cli.verbs.learn_forecasts import change
from controller.review.priors.kept import FILE, FORGOTTEN, DryingPrior, Priors, read_priors
from tests.cli.conftest import Typed
from tests.helpers.makers import leave, raw_log

BATCHES = 6


@pytest.fixture(scope="module")
def finished(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with six finished batches of a starter that waits long and a chamber that dries quickly."""
    home = tmp_path_factory.mktemp("finished")
    for number in range(BATCHES):
        log = raw_log((-0.2, 0.3 + 0.03 * number), -0.5 + 0.05 * number, 800 + number)
        leave(home, f"2026-01-0{number + 1}-raw-1", log, began_day=number)
    return home


@pytest.fixture
def home(finished: Path, state_dir: Path, chamber: Path) -> Path:
    del chamber
    (state_dir / "batches").symlink_to(finished / "batches")
    return state_dir


def test_old_and_new_are_shown_and_without_a_yes_nothing_is_changed(typed: Typed, home: Path) -> None:
    code, out, err = typed("learn", "--forecasts")
    assert (code, err) == (0, "")
    assert "Drying in bench, casing that no plan names, from 6 finished batches" in out
    assert "as recipe" in out
    assert "the 80 % range held what came" in out
    assert "log score of all its readings: gain +" in out
    assert "Proposed: the batches that were left out" in out
    assert "Nothing is changed, for there is nobody to ask." in out
    assert not (home / FILE).exists()
    assert max(map(len, out.splitlines())) <= 80
    assert "safe" not in out


def test_a_yes_keeps_it_beside_the_batches_and_it_can_be_forgotten(typed: Typed, home: Path) -> None:
    assert typed("learn", "--forecasts", "--yes", "--who", "anna")[0] == 0
    kept = read_priors(home / FILE)
    assert kept.by == "anna"
    assert [len(kept.acid[0].batches), len(kept.drying[0].batches)] == [BATCHES, BATCHES]
    code, out, _ = typed("learn", "--forecasts", "--who", "anna")
    assert code == 0
    assert "as recipe" not in out
    assert out.count("In use already: the batches that were left out") == 2
    assert "roposed" not in out
    assert out.endswith("Nothing would change.\n")
    assert typed("learn", "--forecasts", "--forget")[0] == 64  # Nobody to ask.
    assert (home / FILE).exists()
    assert typed("learn", "--forecasts", "--forget", "--yes")[0] == 0
    assert not (home / FILE).exists()
    assert (home / FORGOTTEN).exists()
    code, _, err = typed("learn", "--forecasts", "--forget", "--yes")
    assert code == 66
    assert "forecasts begin with the recipe alone already" in " ".join(err.split())


def test_a_batch_is_left_out_by_a_persons_word_with_its_reason_and_counts_again(typed: Typed, home: Path) -> None:
    name = "2026-01-02-raw-1"
    code, _, err = typed("learn", "--forecasts", "--leave-out", name)
    assert code == 64
    assert "why is it left out?" in err
    words = ["learn", "--forecasts", "--yes", "--who", "anna"]
    code, out, _ = typed(*words, "--leave-out", name, "--because", "the fan stood still")
    assert code == 0
    assert f"{name}: left out by anna: the fan stood still." in out
    kept = read_priors(home / FILE)
    assert [(one.batch, one.because, one.by) for one in kept.left_out] == [(name, "the fan stood still", "anna")]
    assert name not in (*kept.acid[0].batches, *kept.drying[0].batches)
    assert "left out by anna" in typed(*words)[1]
    assert typed(*words, "--count-again", name)[0] == 0
    assert read_priors(home / FILE).left_out == ()
    assert typed(*words, "--leave-out", "nothing", "--because", "x")[0] == 66
    assert typed("learn", "--leave-out", name, "--because", "x")[0] == 64


def test_programs_get_one_object_and_nothing_is_changed(typed: Typed, home: Path) -> None:
    code, out, err = typed("learn", "--forecasts", "--json", "--yes")
    assert (code, err) == (0, "")
    told = json.loads(out)
    assert [one["of"] for one in told["lessons"]] == ["drying", "ferment"]
    first = told["lessons"][0]["left_out_in_turn"]
    assert len(first["log_score_gains"]) == BATCHES
    assert first["recipe"]["told"] == BATCHES
    assert not (home / FILE).exists()


def test_where_no_batch_is_there_it_says_so(typed: Typed, state_dir: Path, chamber: Path) -> None:
    del state_dir, chamber
    code, out, _ = typed("learn", "--forecasts")
    assert code == 0
    assert out.startswith("No finished batch shows anything")
    assert "Nothing would change." in out


def test_a_damaged_file_is_told_and_replaced_by_a_yes(typed: Typed, home: Path) -> None:
    (home / FILE).write_text("version = 7\n", "utf-8")
    code, _, err = typed("learn", "--forecasts", "--yes")
    assert code == 0
    assert "forecasts begin with the recipe: priors.toml: version = 7" in " ".join(err.split())
    assert read_priors(home / FILE).drying


def test_of_what_is_in_use_already_nothing_is_said_to_change() -> None:
    one, other, newer = (
        DryingPrior(chamber=name, batches=(), days=days, days_spread=0.1)
        for name, days in (("a", 0.1), ("b", 0.2), ("b", 0.3))
    )
    used = Priors(drying=(one, other))
    proposed = "Forecasts would begin with what is proposed above (1 of it)"
    assert change(Priors(drying=(one, newer)), used) == f"{proposed}."
    assert change(Priors(drying=(one,)), used) == "1 of what is in use would be so no more."
    assert change(Priors(drying=(newer,)), used) == f"{proposed}; 1 of what is in use would be so no more."
    assert change(Priors(), used) == "Forecasts would begin with the recipe alone again."
