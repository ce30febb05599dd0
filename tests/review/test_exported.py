"""The figures as CSV: read back by another reader, beside the object they come from."""

import csv
from collections.abc import Callable
from pathlib import Path

import pytest

from controller.cli import main
from controller.errors import UsageError
from controller.review.batch import read_batch
from controller.review.exported import COLUMNS, write_csv
from controller.review.figures import review
from tests.helpers.batch_logs import Log


def batch(tmp_path: Path) -> Path:
    log = Log().event(0.0, "hang").minutes(0.0, 5.0, 20.5, set_c=20.0, heater_closings="7").minutes(8.0, 9.0, 20.5)
    log.reading(1.0, "ph", 5.61, note='wrapped, "the small one"').reading(8.5, "ph", 5.2, actor="Zoë; Ann")
    log.reading(0.0, "weight", 400.5, piece="A").reading(9.0, "weight", 390, piece="A")
    return log.event(3.0, "alarm", "A3-1", "1").event(3.5, "seen", "A3-1").write(tmp_path / "b")


def exported(folder: Path, into: Path) -> dict[str, list[dict[str, str]]]:
    record = read_batch(folder)
    files = write_csv(review(folder), folder, record.readings, into)
    found = {}
    for path in files:
        with path.open(encoding="utf-8", newline="") as file:
            found[path.stem] = list(csv.DictReader(file, strict=True))
    return found


def test_every_table_holds_the_figures_of_the_object(tmp_path: Path) -> None:
    folder = batch(tmp_path)
    figures, tables = review(folder), exported(folder, tmp_path / "figures")
    assert list(tables) == list(COLUMNS)
    assert [(float(row["hours"]), float(row["ph"]), row["note"], row["actor"]) for row in tables["ph"]] == [
        (row["hours"], row["ph"], row["note"], row["actor"]) for row in figures["ph_course"]
    ]
    assert [float(row["loss_pct"]) for row in tables["weight"]] == [row["loss_pct"] for row in figures["weight_course"]]
    assert [(row["from"], row["to"], float(row["hours"])) for row in tables["gaps"]] == [
        (gap["from"], gap["to"], gap["hours"]) for gap in figures["gaps"]
    ]
    (stage,) = tables["stages"]
    assert float(stage["air_temp_mean_c"]) == figures["stages"][0]["air_temp_c"]["mean"]
    assert float(stage["rh_within_pct"]) == figures["stages"][0]["rh_pct"]["within_pct"]
    assert (stage["over"], stage["ended"], stage["planned_h"]) == ("no", "", "")
    (alarm,) = tables["alarms"]
    assert (alarm["seen_by"], float(alarm["seen_after_h"]), alarm["open"]) == ("Ann", 0.5, "yes")
    single = {row["name"]: row["value"] for row in tables["figures"]}
    assert single["ferment.verdict"] == figures["ferment"]["verdict"]
    assert float(single["ferment.guarded.degree_hours_c"]) == figures["ferment"]["guarded"]["degree_hours_c"]
    assert float(single["weight_loss_pct"]) == figures["weight_loss_pct"]


def test_the_files_are_rfc_4180_with_decimal_points_and_utc(tmp_path: Path) -> None:
    exported(batch(tmp_path), tmp_path / "figures")
    for path in (tmp_path / "figures").iterdir():
        data = path.read_bytes()
        assert data.endswith(b"\r\n"), path
        assert data.count(b"\n") == data.count(b"\r\n")
        assert not data.startswith(b"\xef\xbb\xbf")
    text = (tmp_path / "figures" / "ph.csv").read_text("utf-8")
    assert '2026-01-05T07:00:00Z,1.0,5.61,yes,meter,"wrapped, ""the small one""",'.replace("1.0,", "1,") in text


def test_nothing_is_written_into_a_batch_s_own_folder(tmp_path: Path) -> None:
    folder = batch(tmp_path)
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    with pytest.raises(UsageError, match="nothing may replace"):
        exported(folder, folder)
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_a_second_export_replaces_the_first(tmp_path: Path) -> None:
    folder = batch(tmp_path)
    first = exported(folder, tmp_path / "figures")
    assert exported(folder, tmp_path / "figures") == first


def test_the_verb_writes_them_beside_its_page_or_its_object(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    typed: Callable[..., int] = main
    folder, into = batch(tmp_path), tmp_path / "figures"
    assert typed(["review", str(folder), "--csv", str(into)]) == 0
    out, err = capsys.readouterr()
    assert out.startswith("2026-01-05-bench-1: ")
    assert "\x1b" not in out
    assert f"{into}: {len(COLUMNS)} files with the figures." in err
    assert {path.stem for path in into.iterdir()} == set(COLUMNS)
    assert typed(["review", str(folder), "--csv", str(folder)]) == 64
