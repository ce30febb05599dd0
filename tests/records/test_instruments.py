"""Checks of instruments are rows of a file that is only ever appended to."""

import csv
from pathlib import Path
from typing import Any

from msgspec.structs import replace

from controller.core.values import Answer, CheckEntry, InstrumentCheck
from controller.records.batch_folder import batches_of
from controller.records.climate_log import COLUMNS, file_name
from controller.records.csv_text import row_of
from controller.records.instruments import FILE, HEADER, read_checks
from controller.records.keeper import Keeper
from controller.review.batch import read_batch
from controller.settings.chamber_file import ChamberFile
from tests.helpers.recorded import CHAMBER, DAY, NAME, WALL_S, Ticks

METER = CheckEntry(
    "c1",
    WALL_S - 60.0,
    InstrumentCheck(
        instrument="meter 1",
        method="buffers",
        points=(("7.00", 7.012, 7.03), ("7.01 (own table)", 7.02, -3.5)),
        unit="pH",
        temp_c=22.0,
        error=0.066,
        offset=-0.018,
        slope_pct=99.1,
        verdict="good",
    ),
    "Ann",
    WALL_S,
    'the "old", one',
)
ICE = CheckEntry(
    "c2",
    WALL_S,
    InstrumentCheck(
        instrument="air_temp",
        method="ice",
        points=(("ice", 0.0, 0.3),),
        unit="Cel",
        error=0.4,
        offset=-0.3,
        verdict="off by +2.0 K, wanted within 1.5 K",
    ),
)


def keeper_of(state_dir: Path, chamber: ChamberFile = CHAMBER) -> Keeper:
    return Keeper(state_dir, chamber, force=False, threaded=False, status_every_s=1e9)


def told(entry: CheckEntry) -> dict[str, Any]:
    return {"checks": (entry,), "answers": (Answer(entry.id, done=True, text="good"),)}


def test_a_check_comes_back_as_it_was_and_an_older_row_is_never_touched(tmp_path: Path) -> None:
    keeper, ticks = keeper_of(tmp_path), Ticks()
    keeper.keep(*ticks.tick(**told(METER)))
    first = (tmp_path / FILE).read_bytes()
    keeper.keep(*ticks.tick(**told(ICE)))
    keeper.close()
    assert (tmp_path / FILE).read_bytes().startswith(first)
    assert read_checks(tmp_path) == [METER, ICE]
    rows = list(csv.DictReader((tmp_path / FILE).read_text("utf-8").splitlines()))
    assert rows[0]["points"] == "7.00/7.012/7.03; 7.01 (own table)/7.02/-3.5"
    assert (rows[1]["temp_c"], rows[1]["slope_pct"], rows[1]["offset"]) == ("", "", "-0.3")


def test_the_end_of_the_program_records_no_check_again(tmp_path: Path) -> None:
    keeper = keeper_of(tmp_path)
    memory, outcome = Ticks().tick(**told(METER))
    keeper.keep(memory, outcome)
    keeper.save(memory)
    keeper.close()
    assert read_checks(tmp_path) == [METER]


def test_a_torn_last_row_is_set_aside_at_the_next_start_and_the_others_stay(tmp_path: Path) -> None:
    keeper = keeper_of(tmp_path)
    keeper.keep(*Ticks().tick(**told(METER)))
    keeper.close()
    with (tmp_path / FILE).open("ab") as file:
        file.write(b"c9,2026-01-05T06:")
    assert read_checks(tmp_path) == [METER]
    keeper_of(tmp_path).keep(*Ticks().tick(**told(ICE)))
    assert read_checks(tmp_path) == [METER, ICE]
    assert (tmp_path / f"{FILE}.partial").read_bytes() == b"c9,2026-01-05T06:\n"


def test_where_nothing_was_checked_there_is_nothing_and_a_damaged_row_is_left_out(tmp_path: Path) -> None:
    assert read_checks(tmp_path) == []
    (tmp_path / FILE).write_bytes(HEADER + b"c1,yesterday,meter,buffers,a/b/c,pH,,,,,good,,,\r\n")
    assert read_checks(tmp_path) == []


def offset_chamber() -> ChamberFile:
    air, humidity = CHAMBER.sensor
    return replace(CHAMBER, sensor=(replace(air, offset_k=-0.3), replace(humidity, offset_k=0.2, offset_pct=2.4)))


def test_what_was_added_to_a_value_stands_beside_it_in_every_row(tmp_path: Path) -> None:
    for chamber, expected in ((CHAMBER, ("0", "0")), (offset_chamber(), ("-0.3", "2.4"))):
        folder = tmp_path / chamber.name / expected[0]
        keeper, ticks = keeper_of(folder, chamber), Ticks()
        for _ in range(13):
            keeper.keep(*ticks.tick())
        keeper.close()
        rows = list(csv.DictReader((batches_of(folder) / NAME / file_name(DAY)).read_text("utf-8").splitlines()))
        assert [(row["air_temp_offset_k"], row["rh_offset_pct"]) for row in rows] == [expected] * len(rows)


def test_a_day_that_an_older_version_began_stays_one_table_and_is_still_read(tmp_path: Path) -> None:
    older = COLUMNS[: COLUMNS.index("air_temp_offset_k")]
    keeper, ticks = keeper_of(tmp_path, offset_chamber()), Ticks()
    keeper.keep(*ticks.tick(checkpoint=True))
    climate = batches_of(tmp_path) / NAME / file_name(DAY)
    old_row = ("2026-01-05T06:00:00Z", "ferment", "running", "36.000", *[""] * (len(older) - 4))
    climate.write_bytes(row_of(older) + row_of(old_row))
    for _ in range(13):
        keeper.keep(*ticks.tick())
    keeper.close()
    lines = climate.read_text("utf-8").splitlines()
    assert len(lines) > 2
    assert {len(line.split(",")) for line in lines} == {len(older)}
    record = read_batch(batches_of(tmp_path) / NAME)
    assert (len(record.rows), record.damaged_rows) == (len(lines) - 1, 0)
