"""A maker checks instruments by typing; the answer says what to write down, and nothing is corrected by itself."""

import json
import time
from pathlib import Path

import pytest

from controller.records.instruments import FILE, read_checks
from controller.records.status import read_status
from tests.cli.conftest import Typed

ICE = ("calibrate", "ice", "air_temp", "0.3C")
SALT = ("calibrate", "salt", "rh", "NaCl", "73.1", "--temp", "21C")
METER = ("calibrate", "buffers", "meter 1", "7.00=7.03", "4.01=4.05", "--temp", "22C")
REFERENCE = ("calibrate", "reference", "probe 2", "64.0C=64.3C")


def test_four_instruments_are_checked_by_typing_and_stand_in_the_record(typed: Typed, daemon: Path) -> None:
    for line in (ICE, SALT, METER, REFERENCE):
        code, out, err = typed(*line, "--who", "ann")
        assert code == 0, err
        assert "good" in out
    checks = [entry.check for entry in read_checks(daemon)]
    assert [(check.instrument, check.method, check.offset) for check in checks] == [
        ("air_temp", "ice", -0.3),
        ("rh", "salt", 2.36),
        ("meter 1", "buffers", -0.018),
        ("probe 2", "reference", -0.3),
    ]
    assert {entry.actor for entry in read_checks(daemon)} == {"ann"}


def test_the_answer_says_which_offset_to_write_and_the_chamber_file_stays_as_it_is(
    typed: Typed, chamber: Path, daemon: Path
) -> None:
    before = chamber.read_bytes()
    out = typed(*SALT)[1]
    assert "over NaCl" in out
    assert 'write offset_pct = 2.4 (it is 0 now) at the sensor "rh"' in out.replace("\n", " ")
    assert chamber.read_bytes() == before
    assert read_status(daemon).rh_pct == 80.0


@pytest.mark.usefixtures("daemon")
def test_numbers_in_other_writings_are_the_same_check(typed: Typed, daemon: Path) -> None:
    for line in (
        ("calibrate", "ice", "air temp", "32.5F"),
        ("calibrate", "ice", "air_temp", "-0.2C"),
        ("calibrate", "salt", "rh", "nacl=73.1%", "--temp", "69.8F"),
        ("calibrate", "buffers", "meter 1", "7=3", "4=174", "10.01=-171", "--temp", "22C", "--mv"),
        ("calibrate", "buffers", "meter 2", "7.01=7.03", "4.01=4.02", "--bottle", "7.01=7.02", "--temp", "22C"),
        ("calibrate", "reference", "rh", "75%=73%"),
    ):
        code, _, err = typed(*line)
        assert code == 0, err
    checks = [entry.check for entry in read_checks(daemon)]
    assert checks[0].points[0][2] == pytest.approx(0.278, abs=0.001)
    assert checks[1].offset == 0.2
    assert (checks[2].points[0][0], checks[2].temp_c) == ("NaCl", pytest.approx(21.0))
    assert [name for name, _, _ in checks[3].points] == ["7.00", "4.00", "10.01"]
    assert checks[4].points[0] == ("7.01 (own table)", 7.02, 7.03)
    assert checks[5].unit == "%RH"


@pytest.mark.parametrize(
    ("line", "told"),
    [
        (("buffers", "meter 1", "7.00=4.05", "4.01=7.03", "--temp", "22C"), "look swapped"),
        (("salt", "rh", "KCl", "73", "--temp", "20C"), "NaCl has 75.5 %: is it the right salt?"),
        (("ice", "air_temp", "32"), "°C or °F? Write 32C or 32F."),
        (("ice", "air_temp", "32C"), "Did you mean 32F?"),
        (("buffers", "meter 1", "7.00=6.88", "4.01=4.00", "--temp", "20C"), "is it 6.86 that stands on the bottle?"),
        (("buffers", "meter 1", "7.00=703", "4.01=4.05", "--temp", "22C"), "a meter shows pH 0 to 14"),
        (("buffers", "meter 1", "7.00=7.03", "7.0=7.01", "--temp", "22C"), "named twice"),
        (("buffers", "meter 1", "7.01=7.03", "4.01=4.05", "--temp", "22C"), "no such bottle is known"),
        (("buffers", "meter 1", "7.00=7.03", "4.01=4.05"), "at what temperature?"),
        (("buffers", "meter 1", "7.03", "4.05", "--temp", "22C"), "the sign =, what it showed"),
        (("salt", "rh", "sugar", "73", "--temp", "20C"), "no such salt"),
        (("salt", "rh", "NaCl", "73,1", "--temp", "20C"), "did you mean 73.1?"),
        (("salt", "rh", "73.1", "--temp", "20C"), "which salt, and what did it show?"),
        (("ice", "rh", "0.3C"), "not checked by ice"),
        (("ice", "air_temp_2", "0.3C"), "this chamber has air_temp, rh"),
        (("reference", "probe 2", "64.0C=64.3"), "°C or °F?"),
        (("reference", "rh", "75%=73C"), "both sides in the same unit"),
    ],
)
def test_a_slip_is_told_and_nothing_is_overwritten(
    typed: Typed, daemon: Path, line: tuple[str, ...], told: str
) -> None:
    typed(*METER)
    before = (daemon / FILE).read_bytes()
    code, out, err = typed("calibrate", *line)
    assert code in {64, 65}
    assert out == ""
    assert told in " ".join(err.split())
    assert max(map(len, err.splitlines())) <= 80
    assert "Traceback" not in err
    assert (daemon / FILE).read_bytes() == before


@pytest.mark.usefixtures("daemon")
def test_what_is_meant_is_taken_when_the_maker_is_sure(typed: Typed, daemon: Path) -> None:
    assert typed("calibrate", "salt", "rh", "KCl", "74", "--temp", "20C")[0] == 65
    assert read_checks(daemon) == []
    code, out, err = typed("calibrate", "salt", "rh", "KCl", "74", "--temp", "20C", "--sure")
    assert code == 0, err
    assert "wanted within 3 %RH" in " ".join(out.split())
    assert "replace the sensor" in " ".join(out.split())


def test_a_check_typed_while_no_daemon_runs_is_judged_at_once_and_waits_in_the_box(
    typed: Typed, chamber: Path, state_dir: Path
) -> None:
    del chamber
    code, out, err = typed(*ICE)
    assert code == 0
    assert "off by +0.3 K: good" in " ".join(out.split())
    assert "waits in the request box" in err
    assert len(list(state_dir.rglob("*.json"))) == 1


@pytest.mark.parametrize(
    ("method", "said"),
    [
        ("ice", "crushed ice, pour clean cold water to the top of the ice, and stir"),
        ("salt", "30 to 90 % of the salt stays undissolved"),
        ("buffers", "7.00 and 6.86 are two different liquids"),
        ("reference", "side by side"),
    ],
)
def test_how_to_check_is_told_where_nothing_was_measured_yet(typed: Typed, method: str, said: str) -> None:
    code, out, _ = typed("calibrate", method)
    assert code == 0
    assert said in " ".join(out.split())
    assert max(map(len, out.splitlines())) <= 80


@pytest.mark.usefixtures("daemon")
def test_the_page_of_a_chamber_lists_each_instrument_with_its_last_check_and_what_is_overdue(typed: Typed) -> None:
    page = typed("check")[1].partition("\nChecks of instruments\n")[2].partition("\n\n")[0]
    assert "air thermometer: never checked; OVERDUE." in page
    long_ago = time.strftime("%Y-%m-%dT%H:%M", time.gmtime(time.time() - 200 * 86_400.0))
    typed(*ICE)
    typed(*SALT, "--at", long_ago)
    typed(*METER)
    typed("calibrate", "ice", "probe 2", "1.4C")
    page = " ".join(typed("check")[1].partition("\nChecks of instruments\n")[2].partition("\n\n")[0].split())
    assert "thermometers before first use and every 365 days, humidity sensors every 180 days" in page
    assert "in ice: off by +0.3 K, good; due " in page
    assert "over NaCl: off by -2.4 %RH, good; was due " in page
    assert page.count("OVERDUE") == 3  # The humidity sensor, the room thermometer, and the probe that was not good.
    assert "meter 1: " in page
    assert "slope 99.1 %, good; holds until " in page
    assert "probe 2: " in page
    assert "NOT good (off by +1.4 K, wanted within 1 K); OVERDUE: no good check." in page
    listed = {line["instrument"]: line for line in json.loads(typed("check", "--json")[1])["checks"]}
    assert listed["rh"]["overdue"] is True
    assert listed["air_temp"]["overdue"] is False
    assert listed["air_temp"]["last"]["check"]["offset"] == -0.3


def test_how_often_is_a_setting_of_the_chamber_file(typed: Typed, chamber: Path, daemon: Path) -> None:
    typed(*SALT, "--at", time.strftime("%Y-%m-%dT%H:%M", time.gmtime(time.time() - 200 * 86_400.0)))
    text = chamber.read_text("utf-8").replace("humidity_days = 180", "humidity_days = 365")
    chamber.write_text(text.replace("thermometer_days = 365", "thermometer_days = 30"), "utf-8")
    page = " ".join(typed("check")[1].split())
    assert "over NaCl: off by -2.4 %RH, good; due " in page
    assert "every 30 days, humidity sensors every 365 days" in page
    assert read_status(daemon).checks_overdue[1].startswith("humidity sensor (last good check 200 days ago")


@pytest.mark.usefixtures("daemon")
def test_the_status_has_one_line_while_something_is_overdue(typed: Typed) -> None:
    _, out, _ = typed("status")
    line = " ".join(out.split("Check overdue: ", 1)[1].split())
    assert line.startswith("air thermometer (no good check yet), humidity sensor (no good check yet)")
    assert max(map(len, out.splitlines())) <= 80
    typed(*ICE)
    typed(*SALT)
    typed("calibrate", "ice", "ambient_temp", "0.1C")
    assert "Check overdue" not in typed("status")[1]
