"""Small files that others read are read whole, or refused in words."""

from pathlib import Path

import msgspec
import pytest

from controller.cli.pages.duty import read_duty
from controller.errors import DataError
from controller.records.asking import wait_for_answer
from controller.records.instruments import FILE as CHECKS
from controller.records.instruments import HEADER, read_checks
from controller.records.request_box import answer_file, make_box
from controller.records.status import FILE as STATUS
from controller.records.status import read_status, status_of, write_status
from controller.records.untrusted import LONGEST_LINE, require_sane
from tests.helpers.recorded import Ticks

CHECK = "c1,2026-01-05T06:00:00Z,{},ice,ice/0/{},Cel,0,-0.3,,0.3,good,Ann,2026-01-05T06:00:00Z,\r\n"


@pytest.mark.parametrize("data", [b"", b"\0" * 30, b"\xff", b'{"request_id":"r1"}', b"[" * 50_000])
def test_a_damaged_answer_is_told_and_not_thrown_away(tmp_path: Path, data: bytes) -> None:
    make_box(tmp_path)
    answer_file(tmp_path, "r1").write_bytes(data)
    with pytest.raises(DataError, match="the answer is damaged; whether it was done stands in the record"):
        wait_for_answer(tmp_path, "r1", 0.0)
    assert answer_file(tmp_path, "r1").read_bytes() == data


@pytest.mark.parametrize("wrong", [{"time_wall_s": -1.0}, {"time_wall_s": 1e300}, {"air_temp_c": 1e300}])
def test_a_status_with_figures_that_cannot_be_is_damaged(tmp_path: Path, wrong: dict[str, float]) -> None:
    write_status(tmp_path, status_of(*Ticks().tick()))
    told = msgspec.json.decode((tmp_path / STATUS).read_bytes()) | wrong
    assert read_status(tmp_path)
    (tmp_path / STATUS).write_bytes(msgspec.json.encode(told))
    with pytest.raises(DataError, match="the status is damaged"):
        read_status(tmp_path)


def test_a_status_is_shown_without_what_a_terminal_obeys(tmp_path: Path) -> None:
    write_status(tmp_path, status_of(*Ticks().tick()))
    told = msgspec.json.decode((tmp_path / STATUS).read_bytes()) | {"chamber": "b\x1b[2Jox\u202e\nnext"}
    (tmp_path / STATUS).write_bytes(msgspec.json.encode(told))
    assert read_status(tmp_path).chamber == "b?[2Jox?\nnext"


def test_no_line_of_a_status_is_endless(tmp_path: Path) -> None:
    write_status(tmp_path, status_of(*Ticks().tick()))
    told = msgspec.json.decode((tmp_path / STATUS).read_bytes()) | {"chamber": "x" * 100_000}
    (tmp_path / STATUS).write_bytes(msgspec.json.encode(told))
    assert len(read_status(tmp_path).chamber) == LONGEST_LINE


def test_a_figure_is_looked_for_in_all_depths() -> None:
    require_sane({"a": [1.0, (2, {"b_wall_s": 0.0})], "c": "1e300", "d": None, "e": True})
    with pytest.raises(ValueError, match="b_wall_s is -1"):
        require_sane([{"a": ({"b_wall_s": -1.0},)}])
    for odd in (float("nan"), float("inf"), -1e300, 10**30, 10**400):
        with pytest.raises(ValueError, match="a figure in it is"):
            require_sane({"a": [[odd]]})


def test_checks_with_odd_figures_times_or_lengths_are_left_out(tmp_path: Path) -> None:
    rows = [
        CHECK.format("air_temp", "nan"),
        CHECK.format("air_temp", "1e999"),
        CHECK.format(f'"{"x" * 200_000}"', "0.3"),
        CHECK.format("air_temp", "0.3").replace("2026-01-05", "9999-12-31"),
        CHECK.format(" ", "0.3"),
        CHECK.format("air_temp", "0.3").replace(",ice,", ",guess,"),
        CHECK.format("pro\x1bbe", "0.3"),
    ]
    (tmp_path / CHECKS).write_bytes(HEADER + "".join(rows).encode())
    assert [check.check.instrument for check in read_checks(tmp_path)] == ["pro?be"]


def test_the_share_of_an_output_is_told_from_the_whole_rows(tmp_path: Path) -> None:
    rows = ("2026-01-05T06:01:00Z,50", "x,nan", "x,half", "x,1e9", "x", "x,100")
    (tmp_path / "climate-2026-01-05.csv").write_text("time,heater_pct\r\n" + "\r\n".join(rows) + "\r\n", "utf-8")
    duty = read_duty(tmp_path)
    assert duty is not None
    assert duty.on_pct == {"heater": 75.0}
    (tmp_path / "climate-2026-01-06.csv").mkdir()
    assert read_duty(tmp_path) is None
