"""`hangroom forecast`, what it keeps in the batch folder, and what `status` shows of that."""

import csv
import json
import re
import tempfile
import time
from pathlib import Path

import pytest

from controller.records.batch_folder import read_card
from controller.review.forecast.told import COLUMNS, FILE, forecast_lines, newest
from tests.cli.conftest import Typed
from tests.helpers.batch_logs import HOUR_S, Log
from tests.helpers.recorded import PROFILE, WALL_S
from tests.helpers.somebody import somebody_else


@pytest.fixture
def batch(typed: Typed, daemon: Path) -> Path:
    """Begin a batch, hang it, and measure the fresh mix."""
    code, out, err = typed("start", "tangy", "--meat", "4.5kg")
    assert code == 0, err
    typed("hang", "A=412")
    assert typed("ph", "5.75", "--by", "meter")[0] == 0
    return daemon / "batches" / out.partition(" started")[0]


def test_a_batch_is_forecast_with_a_range_its_basis_and_when_to_measure(typed: Typed, batch: Path) -> None:
    code, out, err = typed("forecast")
    assert (code, err) == (0, "")
    assert out.startswith(f"{batch.name}\n  pH 5.3 expected ")
    assert re.search(r"expected \w{3} \d\d:\d0 to (\w{3} )?\d\d:\d0 \(80 %\), based mainly", out)
    assert "Measure next: " in out
    assert "pH 4.8" in out
    assert max(map(len, out.splitlines())) <= 80
    assert not (batch / FILE).exists()
    assert typed("forecast", batch.name)[1] == out
    assert not re.search(r"\bsafe\b", out)


def test_a_kept_forecast_stands_in_the_folder_and_on_the_page_of_the_status(typed: Typed, batch: Path) -> None:
    assert "forecast" not in typed("status")[1]
    typed("forecast", "--keep")
    typed("forecast", "--keep")
    rows = list(csv.DictReader((batch / FILE).read_text("utf-8").splitlines()))
    ends_at = next(stage.until.ph_at_most for stage in read_card(batch).profile.stages if stage.kind == "ferment")
    assert tuple(rows[0]) == COLUMNS
    assert [(row["kind"], row["target"], row["unit"], row["basis"]) for row in rows] == [
        ("ph", "5.3", "pH", "recipe"),
        ("ph", f"{ends_at:g}", "pH", "recipe"),
    ] * 2
    for row in rows:
        instants = [row[f"q{level}"] for level in (10, 25, 50, 75, 90)]
        assert instants == sorted(instants)
        assert all(re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", at) for at in instants)
        assert row["text"].startswith("pH ")
        assert 0.0 <= float(row["p_never"]) <= 1.0
    shown = typed("status")[1]
    assert "forecast, 0 min old: pH 5.3 expected " in shown
    assert max(map(len, shown.splitlines())) <= 80
    told = json.loads(typed("status", "--json")[1])
    assert told["forecasts"][batch.name][1].startswith(f"forecast, 0 min old: pH {ends_at:g}")


def test_programs_get_the_same_as_one_object(typed: Typed, batch: Path) -> None:
    told = json.loads(typed("forecast", "--json")[1])
    assert told["nothing"] == {}
    first = told["forecasts"][0]
    assert (first["batch"], first["kind"], first["target"], first["basis"]) == (batch.name, "ph", 5.3, "recipe")
    assert first["q10"] < first["q50"] < first["q90"]
    assert first["measure_next"] == first["q25"]


@pytest.mark.usefixtures("daemon")
def test_without_an_open_batch_there_is_nothing_to_forecast(typed: Typed) -> None:
    assert typed("forecast") == (0, "No batch is open.\n", "")
    code, out, err = typed("forecast", "2026-01-05-tangy-9")
    assert (code, out) == (66, "")
    assert "2026-01-05-tangy-9" in err


@pytest.mark.usefixtures("daemon")
def test_a_batch_that_is_not_hung_says_why_it_has_no_forecast(typed: Typed) -> None:
    typed("start", "tangy", "--meat", "4.5kg")
    assert "nothing to forecast: the meat is not hung yet." in typed("forecast", "--keep")[1]


@pytest.mark.usefixtures("chamber")
def test_a_chamber_that_never_had_a_daemon_ends_as_the_timer_expects(typed: Typed) -> None:
    assert typed("forecast", "--keep")[0] == 69  # SuccessExitStatus of hangroom-forecast.service.


def folder_of(path: Path) -> Path:
    log = Log().event(0.0, "hang").minutes(0.0, 6.0, 36.0, every_min=10.0).reading(0.0, "ph", 5.75)
    return log.write(path, PROFILE)


def test_a_folder_somewhere_else_is_forecast_as_of_its_newest_row(typed: Typed, tmp_path: Path) -> None:
    told = json.loads(typed("forecast", str(folder_of(tmp_path / "old")), "--json")[1])
    assert told["forecasts"][0]["time"] == "2026-01-05T12:00:00Z"


def test_a_torn_last_row_is_set_aside_and_the_next_one_whole(typed: Typed, tmp_path: Path) -> None:
    folder = folder_of(tmp_path / "batch")
    typed("forecast", str(folder), "--keep")
    whole = (folder / FILE).read_bytes()
    (folder / FILE).write_bytes(whole + b"2026-01-05T12:30:00Z,ph,5.3")
    typed("forecast", str(folder), "--keep")
    assert (folder / FILE).read_bytes() == whole + whole.partition(b"\r\n")[2]
    assert b"12:30" in (folder / f"{FILE}.partial").read_bytes()


def test_status_shows_the_newest_rows_their_age_and_nothing_of_another_stage(typed: Typed, tmp_path: Path) -> None:
    folder = folder_of(tmp_path / "batch")
    assert forecast_lines(folder, "ferment", WALL_S) == []
    typed("forecast", str(folder), "--keep")
    made_s = WALL_S + 6.0 * HOUR_S
    lines = forecast_lines(folder, "ferment", made_s + 3.0 * HOUR_S)
    assert [line[:27] for line in lines] == ["forecast, 3 h old: pH 5.3 e", "forecast, 3 h old: pH 4.8 i"]
    assert forecast_lines(folder, "ferment", made_s + 50.0 * HOUR_S)[0].startswith("forecast, 2 d old: ")
    assert forecast_lines(folder, "dry", made_s) == []


def test_damaged_rows_hide_no_whole_ones(typed: Typed, tmp_path: Path) -> None:
    folder = folder_of(tmp_path / "batch")
    typed("forecast", str(folder), "--keep")
    kept = newest(folder)
    with (folder / FILE).open("ab") as file:
        file.write(b"\0\0\0\r\nnonsense,ph\r\n2026-01-05T13:00:00Z,ph,5.3\r\n")
    assert newest(folder) == kept
    (folder / FILE).write_bytes(b"")
    assert newest(folder) == []


def test_who_may_not_write_there_is_told_that_it_is_only_shown(typed: Typed) -> None:
    with tempfile.TemporaryDirectory() as open_to_all:  # pytest's own folder lets nobody else pass.
        Path(open_to_all).chmod(0o755)
        folder = folder_of(Path(open_to_all) / "batch")
        folder.chmod(0o555)
        with somebody_else():
            assert typed("forecast", str(folder))[0] == 0
            code, out, err = typed("forecast", str(folder), "--keep")
        folder.chmod(0o755)
    assert (code, out) == (77, "")
    assert "without --keep the forecast is only shown" in " ".join(err.split())


def test_a_forecast_takes_its_words_from_the_chamber_s_time_zone(typed: Typed, batch: Path) -> None:
    text = (batch / "recipe.toml").read_text("utf-8")
    utc = typed("forecast", batch.name, "--json")[1]
    zone = re.search(r'^timezone = "(.+)"', text, re.MULTILINE)
    assert zone is not None
    (batch / "recipe.toml").write_text(text.replace(zone[1], "Pacific/Auckland"), "utf-8")
    moved = json.loads(typed("forecast", batch.name, "--json")[1])["forecasts"][0]
    before = json.loads(utc)["forecasts"][0]
    assert moved["text"] != before["text"]
    assert abs(_second(moved["q50"]) - _second(before["q50"])) < 60.0  # The instants themselves stay.


def _second(text: str) -> float:
    return time.mktime(time.strptime(text, "%Y-%m-%dT%H:%M:%SZ"))
