"""A whole tangy and a whole mild batch, driven only by the installed command as a person types it in a shell."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from controller.review.figures import review
from controller.settings.shipped import find_chamber

HERE = Path(__file__).parent
LASTS_S = 170.0  # Of real time: a script that hangs is ended.


def tell(story: str, folder: Path) -> tuple[str, Path]:
    """Run one story in this folder on a fridge that decides every 8 s; return its transcript and the batch."""
    chamber = folder / "fridge.toml"
    text = find_chamber("old-fridge").read_text("utf-8")
    chamber.write_text(text.replace("tick_s = 5.0", "tick_s = 8.0"), "utf-8")
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    environment = {**os.environ, "PATH": path, "LC_ALL": "C.UTF-8"}
    environment.pop("HANGROOM_CHAMBER", None)
    told = subprocess.run(
        ["sh", str(HERE / f"{story}.sh"), str(folder / "kitchen"), str(chamber)],
        env=environment,
        capture_output=True,
        text=True,
        timeout=LASTS_S,
        check=False,
    )
    assert told.returncode == 0, told.stdout[-3000:] + told.stderr
    assert told.stderr == ""
    (batch,) = (folder / "kitchen" / "trial" / "batches").iterdir()
    return told.stdout, batch


def typed(transcript: str) -> list[str]:
    """Return the verbs that were typed, in their order."""
    return [line.split()[2] for line in transcript.splitlines() if line.startswith("$ hangroom ")]


def ends(batch: Path) -> list[tuple[str, str]]:
    figures = review(batch)
    assert figures["state"] == "complete"
    assert figures["ferment"]["verdict"] == "within"
    assert figures["gaps"] == []
    return [(stage["name"], stage["by"]) for stage in figures["stages"]]


def assert_readable(transcript: str) -> None:
    answers = [line for line in transcript.splitlines() if not line.startswith("$ ")]
    assert max(map(len, answers)) <= 80
    assert "mistake of the program" not in transcript


def assert_all_met_but_the_laboratorys(transcript: str, *met: str) -> None:
    """Say that the sheet has these met, and open what for the US is moisture to protein: no maker can measure that."""
    sheet = transcript[transcript.index("RELEASE SHEET: ") :].splitlines()
    for criterion in met:
        (line,) = [line for line in sheet if line.startswith(f"{criterion}  ")]
        assert line.endswith("  MET"), line
    (water,) = [line for line in sheet if line.startswith("Water activity and shelf stability  ")]
    assert water.endswith("  NOT MEASURED"), water
    assert any(f"{len(met)} met, 0 NOT MET, 1 NOT MEASURED" in line for line in sheet)
    assert sum("moisture to protein not measured" in line for line in sheet) == 2  # The rows of dry and semi-dry.


@pytest.mark.long
def test_a_whole_tangy_batch_by_hand_ends_with_a_release_sheet(tmp_path: Path) -> None:
    transcript, batch = tell("tangy", tmp_path)
    assert_readable(transcript)
    verbs = typed(transcript)
    assert verbs[:4] == ["plan", "calibrate", "calibrate", "wait"]
    assert {"start", "hang", "ph", "look", "smoker", "core", "confirm", "weigh", "aw"} <= set(verbs)
    assert verbs[-2:] == ["end", "release"]
    assert ends(batch) == [
        ("warm-up", "hang"),
        ("ferment", "until"),
        ("smoke", "until"),
        ("cook", "until"),
        ("chill", "until"),
        ("dry", "until"),
    ]
    assert_all_met_but_the_laboratorys(
        transcript, "pH", "Degree-hours", "Weight loss", "Lethality", "Chill", "Trichinae", "Cure"
    )
    assert "--sample sausage" in transcript


@pytest.mark.long
def test_a_whole_mild_batch_by_hand_ends_with_a_release_sheet(tmp_path: Path) -> None:
    transcript, batch = tell("mild", tmp_path)
    assert_readable(transcript)
    verbs = typed(transcript)
    assert {"plan", "calibrate", "start", "hang", "ph", "weigh", "set", "look", "aw"} <= set(verbs)
    assert verbs[-2:] == ["end", "release"]
    assert ends(batch) == [
        ("warm-up", "hang"),
        ("ferment", "until"),
        ("dry-1", "until"),
        ("dry-2", "until"),
        ("dry-3", "until"),
        ("dry-4", "until"),
    ]
    assert_all_met_but_the_laboratorys(transcript, "pH", "Degree-hours", "Weight loss", "Trichinae", "Cure")
