"""What a minute's row holds, and when it is written."""

import csv
import io
from typing import Any

import pytest

from controller.core.values import Known
from controller.records.climate_log import COLUMNS, HEADER, ClimateLog
from tests.helpers.recorded import NAME, WALL_S, Ticks, batch

CONTRACT = (
    "time,stage,state,air_temp_c,air_temp_min_c,air_temp_max_c,air_temp_set_c,rh_pct,rh_min_pct,rh_max_pct,rh_set_pct,"
    "core_temp_c,ambient_temp_c,heater_pct,humidifier_pct,cooler_pct,dehumidifier_pct,fan_pct,quality,interlocks,"
    "heater_closings,humidifier_closings,cooler_closings,dehumidifier_closings,fan_closings,air_temp_offset_k,rh_offset_pct"
)
"""The design, section 4, outside contract, and the columns that were appended since."""


def read(rows: list[tuple[str, str, bytes]]) -> list[dict[str, str]]:
    """Return rows by column name, as any reader of CSV has them."""
    text = HEADER + b"".join(row for _, _, row in rows)
    return list(csv.DictReader(io.StringIO(text.decode("utf-8"), newline="")))


class Minutes:
    """Let ticks pass and gather the rows."""

    def __init__(self, ticks: Ticks | None = None, every_s: float = 60.0) -> None:
        self.ticks = ticks or Ticks()
        self.log = ClimateLog(every_s)
        self.rows: list[tuple[str, str, bytes]] = []

    def run(self, count: int, lasts_s: float = 5.0, **told: Any) -> "Minutes":  # noqa: ANN401
        for _ in range(count):
            self.rows += self.log.add(*self.ticks.tick(lasts_s, **told))
        return self

    @property
    def last(self) -> dict[str, str]:
        return read(self.rows)[-1]


def test_the_header_is_the_contract_letter_by_letter() -> None:
    assert HEADER.decode() == CONTRACT + "\r\n"
    assert ",".join(COLUMNS) == CONTRACT


def test_a_row_ends_with_its_minute_and_stands_in_the_file_of_its_day() -> None:
    minutes = Minutes().run(25)
    assert [(name, day) for name, day, _ in minutes.rows] == [(NAME, "2026-01-05"), (NAME, "2026-01-05")]
    assert [row["time"] for row in read(minutes.rows)] == ["2026-01-05T06:01:00Z", "2026-01-05T06:02:00Z"]
    assert minutes.rows[0][2].endswith(b"\r\n")


def test_midnight_belongs_to_the_day_that_begins() -> None:
    minutes = Minutes(Ticks(wall_s=WALL_S + 18 * 3600.0 - 60.0)).run(12)
    assert minutes.rows[0][1] == "2026-01-06"
    assert minutes.last["time"] == "2026-01-06T00:00:00Z"


def test_a_row_holds_mean_lowest_and_highest_with_three_decimals() -> None:
    minutes = Minutes().run(12)
    minutes.run(6, known=Known(air_temp_c=35.0, rh_pct=80.0, core_temp_c=20.0, ambient_temp_c=-0.0004))
    minutes.run(6, known=Known(air_temp_c=36.0625, rh_pct=86.5, core_temp_c=21.0))
    row = minutes.last
    assert (row["air_temp_c"], row["air_temp_min_c"], row["air_temp_max_c"]) == ("35.531", "35.000", "36.062")
    assert (row["rh_pct"], row["rh_min_pct"], row["rh_max_pct"]) == ("83.25", "80.00", "86.50")
    assert (row["core_temp_c"], row["ambient_temp_c"]) == ("20.500", "0.000")
    assert (row["air_temp_set_c"], row["rh_set_pct"]) == ("36.000", "85.00")
    assert (row["stage"], row["state"]) == ("ferment", "running")


def test_what_is_not_known_is_empty_and_named() -> None:
    minutes = Minutes().run(12)
    minutes.run(11, known=Known(rh_pct=85.0, faults={"air_temp": "stale"}), interlocks=("S3", "A2"))
    minutes.run(1, known=Known(rh_pct=85.0, faults={"air_temp": "checksum"}), wall_trusted=False)
    row = minutes.last
    assert row["air_temp_c"] == row["air_temp_min_c"] == row["air_temp_max_c"] == row["ambient_temp_c"] == ""
    assert row["quality"] == "air_temp:stale air_temp:checksum clock:untrusted"
    assert row["interlocks"] == "S3 A2"
    assert minutes.run(12, known=Known(air_temp_c=36.0, rh_pct=85.0)).last["quality"] == ""


def test_duties_are_the_share_of_the_row_and_closings_count_up() -> None:
    minutes = Minutes(Ticks(on_total_s=5000.0, closings=700)).run(12)
    minutes.ticks.on_total_s, minutes.ticks.closings = 5015.0, 703
    row = minutes.run(12).last
    assert (row["heater_pct"], row["heater_closings"]) == ("25.00", "703")
    assert (row["cooler_pct"], row["cooler_closings"], row["fan_pct"]) == ("", "", "")


def test_a_clock_stepped_forward_loses_no_tick_and_doubles_none() -> None:
    minutes = Minutes().run(6)
    minutes.ticks.wall_s += 3600.0
    minutes.ticks.on_total_s = 12.0
    minutes.run(6 + 12 + 12)
    rows = read(minutes.rows)
    minute = "2026-01-05T06:01:00Z 2026-01-05T07:01:00Z 2026-01-05T07:02:00Z 2026-01-05T07:03:00Z"
    assert [row["time"] for row in rows] == minute.split()
    # The first row holds the 30 s from the first tick to the first one after the step, and all the 12 s of heat.
    assert [row["heater_pct"] for row in rows] == ["40.00", "0.00", "0.00", "0.00"]


def test_a_clock_stepped_back_goes_on_appending_under_the_new_time() -> None:
    minutes = Minutes().run(18)
    minutes.ticks.wall_s -= 3600.0
    minutes.run(30)
    times = [row["time"] for row in read(minutes.rows)]
    assert times[:3] == ["2026-01-05T06:01:00Z", "2026-01-05T05:02:00Z", "2026-01-05T05:03:00Z"]


def test_a_batch_that_is_taken_out_gets_its_last_row_with_its_last_state() -> None:
    ticks = Ticks()
    minutes = Minutes(ticks).run(13)
    ticks.batches = (batch(state="stopped", closed=True),)
    minutes.run(1)
    ticks.batches = ()
    minutes.run(24)
    assert [row["state"] for row in read(minutes.rows)] == ["running", "stopped"]


def test_a_batch_that_is_elsewhere_gets_no_rows_and_a_complete_one_is_in_no_stage() -> None:
    ticks = Ticks(batches=(batch("elsewhere", stage_index=2), batch("done", stage_index=4, state="complete")))
    minutes = Minutes(ticks).run(12)
    assert [name for name, _, _ in minutes.rows] == ["done"]
    assert (minutes.last["stage"], minutes.last["state"]) == ("", "complete")


def test_the_unfinished_minute_can_be_written_at_the_end() -> None:
    minutes = Minutes().run(14)
    minutes.rows += minutes.log.flush()
    assert minutes.last["time"] == "2026-01-05T06:02:00Z"
    assert minutes.log.flush() == []


def test_rows_are_as_long_as_the_chamber_file_says() -> None:
    minutes = Minutes(every_s=600.0).run(121)
    assert [row["time"] for row in read(minutes.rows)] == ["2026-01-05T06:10:00Z"]


@pytest.mark.parametrize("started_s", [30.0, 1000.0], ids=["other instant", "same instant of another boot"])
def test_after_a_power_cut_the_unfinished_minute_is_lost_and_a_new_one_begins(started_s: float) -> None:
    minutes = Minutes().run(18)
    minutes.ticks.started_s = minutes.ticks.now_s = started_s
    minutes.ticks.boot_id = "boot-2"
    minutes.ticks.wall_s += 7200.0
    minutes.run(30)
    assert [row["time"][11:16] for row in read(minutes.rows)] == ["06:01", "08:02", "08:03", "08:04"]
    assert {row["heater_pct"] for row in read(minutes.rows)} == {"0.00"}
