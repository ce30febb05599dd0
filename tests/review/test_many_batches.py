"""A folder of batches: a line for each, and the rows of all as Parquet that other programs read."""

import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import polars as pl
import pyarrow.dataset as arrow
import pytest
from pyarrow import parquet

from controller.errors import DataError
from controller.review.batch import read_batch
from controller.review.logs.export import COLUMNS, export
from controller.review.logs.scan import scan
from tests.cli.conftest import Typed
from tests.cli.conftest import typed as typed  # noqa: PLC0414 - a fixture
from tests.helpers.batch_logs import Log
from tests.helpers.recorded import NAME
from tests.review.test_damaged_logs import resaved


def shelf(folder: Path) -> Path:
    for name, hours in (("2026-01-05-bench-1", 30.0), ("2026-01-05-bench-2", 5.0)):
        log = Log().event(0.0, "hang").minutes(0.0, hours, 24.0, quality="clock:untrusted").reading(4.0, "ph", 5.2)
        log.write(folder / name)
    return folder


def test_each_batch_of_a_folder_is_a_line(typed: Typed, tmp_path: Path) -> None:
    code, out, _ = typed("review", str(shelf(tmp_path)))
    head, *lines = out.splitlines()
    assert code == 0
    assert head.startswith("batch")
    rows = [line.split() for line in lines]
    assert [row[:5] for row in rows if row[0] != "its"] == [
        [f"2026-01-05-bench-{number}", "running", "0/1", "4.0", "within"] for number in (1, 2)
    ]
    assert max(len(line) for line in out.splitlines()) <= 80


def test_a_copied_folder_stands_by_its_own_name_and_says_whose_card_it_holds(typed: Typed, tmp_path: Path) -> None:
    for name in (NAME, "copy-of-it"):
        Log().minutes(0.0, 1.0, 24.0).write(tmp_path / name)
    code, out, _ = typed("review", str(tmp_path))
    first, second, beside = out.splitlines()[1:]
    assert (code, first.split()[0], second.split()[0]) == (0, NAME, "copy-of-it")
    assert beside == f"  its card says: batch {NAME}"
    told = json.loads(typed("review", str(tmp_path), "--json")[1])["batches"]
    assert [(one["folder"], one["batch"]) for one in told] == [(NAME, NAME), ("copy-of-it", NAME)]


def test_tables_of_many_batches_are_refused_and_not_left_out_unsaid(typed: Typed, tmp_path: Path) -> None:
    code, out, err = typed("review", str(shelf(tmp_path)), "--csv", str(tmp_path / "figures"))
    assert (code, out) == (64, "")
    assert "--csv writes the figures of one batch" in " ".join(err.split())


def test_a_file_where_a_folder_is_meant_is_told_from_nothing(typed: Typed, tmp_path: Path) -> None:
    climate = min((shelf(tmp_path) / "2026-01-05-bench-1").glob("climate-*.csv"))
    code, out, err = typed("review", str(climate))
    assert (code, out) == (66, "")
    assert "is a file. Name the batch folder it lies in" in " ".join(err.split())
    assert "hangroom review FILE --columns MAP" in err


@pytest.mark.parametrize("verb", ["review", "report", "release", "compare", "export"])
def test_whoever_asks_how_a_date_is_meant_takes_the_answer(typed: Typed, tmp_path: Path, verb: str) -> None:
    folder = shelf(tmp_path) / "2026-01-05-bench-2"
    resaved(folder / "climate-2026-01-05.csv", ";", "{d}.{m}.{y} {clock}")
    words = [verb, str(folder)]
    words += [str(tmp_path / "2026-01-05-bench-1")] if verb == "compare" else []
    words += ["--out", str(tmp_path / "out")] if verb == "export" else []
    code, out, err = typed(*words)
    assert (code, out) == (65, "")
    assert "Say it: --dates day-first, or --dates month-first" in " ".join(err.split())
    code, out, err = typed(*words, "--dates", "day-first", "--zone", "UTC")
    assert (code, err) == (0, "")
    assert out


def test_one_that_cannot_be_read_leaves_the_others(typed: Typed, tmp_path: Path) -> None:
    (shelf(tmp_path) / "2026-01-05-bench-1" / "recipe.toml").write_text("nonsense", "utf-8")
    code, out, err = typed("review", str(tmp_path), "--json")
    assert (code, len(json.loads(out)["batches"])) == (65, 1)
    assert "2026-01-05-bench-1" in err


@pytest.mark.parametrize("reader", ["polars", "arrow"])
def test_exported_rows_come_back_by_two_other_readers(tmp_path: Path, reader: str) -> None:
    folder, out = shelf(tmp_path / "in") / "2026-01-05-bench-1", tmp_path / "out"
    record = read_batch(folder)
    assert export(record, out).rows == 1800
    expected = [(row.time_s, row.stage, row.air_temp_c, "clock:untrusted") for row in record.rows]
    names = ["time", "stage", "air_temp_c", "quality", "chamber", "month"]
    if reader == "polars":
        table = pl.read_parquet(out / "**" / "*.parquet", hive_partitioning=True)
        assert (table.schema["time"], set(table["month"])) == (pl.Datetime("us", "UTC"), {"2026-01"})
        rows = table.sort("time").select(names).rows()
    else:
        hive = arrow.dataset(out, format="parquet", partitioning="hive").to_table()
        assert str(hive.schema.field("time").type) == "timestamp[us, tz=UTC]"
        rows = [tuple(row[name] for name in names) for row in sorted(hive.to_pylist(), key=lambda row: row["time"])]
    assert [(row[0].timestamp(), *row[1:4]) for row in rows] == expected
    assert {row[4:] for row in rows} == {("bench", "2026-01")}


def test_every_file_has_the_documented_columns_and_a_second_export_replaces_the_first(
    typed: Typed, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    for _ in range(2):
        code, said, _ = typed("export", str(shelf(tmp_path / "in")), "--out", str(out))
        assert (code, said) == (0, f"2,100 rows of 2 batches in {out}\n")
    written = sorted(out.rglob("*.parquet"))
    assert [path.parent.name for path in written] == ["month=2026-01"] * 2
    for path in written:
        assert parquet.read_schema(path).names == list(COLUMNS)
    assert sum(parquet.read_metadata(path).num_rows for path in written) == 2100


def test_what_is_left_out_of_an_export_is_counted(typed: Typed, tmp_path: Path) -> None:
    climate = min((shelf(tmp_path / "in") / "2026-01-05-bench-2").glob("climate-*.csv"))
    lines = climate.read_bytes().split(b"\r\n")
    changing = [line.replace(b",24.000,", f",24.{number:03},".encode(), 1) for number, line in enumerate(lines)]
    climate.write_bytes(b"\r\n".join([*changing[:50], b"torn", *changing[20:]]))
    code, out, err = typed("export", str(tmp_path / "in"), "--out", str(tmp_path / "out"))
    assert (code, out) == (0, f"2,100 rows of 2 batches in {tmp_path / 'out'}\n")
    assert err.splitlines() == [
        "2026-01-05-bench-2: 1 line could not be read; hangroom review tells which.",
        "2026-01-05-bench-2: 30 rows that stand there a second time left out.",
    ]


@pytest.mark.parametrize("damage", ["card", "dates"])
def test_an_export_of_many_goes_on_behind_one_that_cannot_be_read(typed: Typed, tmp_path: Path, damage: str) -> None:
    first, out = shelf(tmp_path / "in") / "2026-01-05-bench-1", tmp_path / "out"
    if damage == "card":
        (first / "recipe.toml").write_text("nonsense", "utf-8")
    else:
        resaved(first / "climate-2026-01-06.csv", ";", "{d}.{m}.{y} {clock}")
    code, said, err = typed("export", str(tmp_path / "in"), "--out", str(out))
    assert (code, said) == (65, f"300 rows of 1 of 2 batches in {out}\n")
    assert err.startswith("2026-01-05-bench-1:")
    assert {path.name for path in out.rglob("*.par*")} == {"2026-01-05-bench-2-0000.parquet"}


def test_a_log_that_breaks_off_unread_leaves_the_files_of_the_export_before(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    record, out = read_batch(shelf(tmp_path / "in") / "2026-01-05-bench-1"), tmp_path / "out"
    export(record, out)
    before = {path: path.read_bytes() for path in out.rglob("*.par*")}

    def breaks_off(*asked: Any, **more: Any) -> Iterator[pl.DataFrame]:  # noqa: ANN401 - handed on as they are
        yield next(scan(*asked, **more)).head(5)
        raise DataError("the second piece cannot be read")

    monkeypatch.setattr("controller.review.logs.export.scan", breaks_off)
    with pytest.raises(DataError, match="second piece"):
        export(record, out)
    assert {path: path.read_bytes() for path in out.rglob("*.par*")} == before


def test_a_batch_over_the_end_of_a_month_lies_in_two_folders(tmp_path: Path) -> None:
    Log().minutes(0.0, 24.0 * 28.0, 24.0, every_min=60.0).write(tmp_path / "b")
    export(read_batch(tmp_path / "b"), tmp_path / "out")
    assert sorted(path.name for path in tmp_path.glob("out/chamber=bench/*")) == ["month=2026-01", "month=2026-02"]


def test_the_daemon_never_loads_the_engine() -> None:
    code = (
        "import sys; import controller.app.real, controller.daemon, controller.cli; sys.exit('polars' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
