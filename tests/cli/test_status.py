"""What the daemon last knew, in a maker's plain words."""

import json
import os
import re
from pathlib import Path

import pytest
from msgspec.structs import replace

from controller.core.requests import Hang
from controller.records.alarm_status import AlarmStatus as Alarm
from controller.records.climate_log import HEADER
from controller.records.status import read_status, status_of, write_status
from tests.cli.conftest import Typed
from tests.helpers.bench_chamber import Bench

INNER_WORDS = re.compile(
    r"deadband|latched|\bgate\b|lease|\btick|\bPID\b|held|suspended|\bduty|set-point", re.IGNORECASE
)


def test_a_running_batch_is_told_in_plain_words(typed: Typed, daemon: Path) -> None:
    typed("start", "tangy", "--meat", "4.5kg")
    typed("hang", "A=412")
    typed("ph", "5.61", "--by", "meter")
    code, out, err = typed("status")
    assert (code, err) == (0, "")
    assert re.search(r"air +20\.0 °C   wanted 36\.0 °C", out)
    assert re.search(r"humidity +80 % RH   wanted \d+ %", out)
    assert "running; stage ferment" in out
    assert "hours at the right climate" in out
    assert "pH 5.61" in out
    assert not INNER_WORDS.search(out)
    assert max(map(len, out.splitlines())) <= 80
    assert read_status(daemon).batches[0].stage == "ferment"


@pytest.mark.usefixtures("daemon")
def test_a_paused_batch_says_that_it_waits_for_a_person_and_why(typed: Typed) -> None:
    typed("start", "tangy", "--meat", "4.5kg")
    typed("hold", "--because", "cleaning")
    _, out, _ = typed("status")
    assert "paused, waits for you (cleaning)" in out
    told = json.loads(typed("status", "--json")[1])
    assert told["batches"][0]["state"] == "held"  # The standard's word is for programs.
    assert told["daemon_running"] is True


@pytest.mark.usefixtures("chamber", "dead_status")
def test_an_old_status_says_how_old_it_is_and_that_no_daemon_runs(typed: Typed) -> None:
    code, out, _ = typed("status")
    assert code == 69
    assert "(1 h 0 min ago)" in out
    assert "NO DAEMON IS RUNNING" in out
    told = json.loads(typed("status", "--json")[1])
    assert told["daemon_running"] is False
    assert 3600.0 <= told["age_s"] < 3700.0


@pytest.mark.usefixtures("chamber", "dead_status")
def test_on_a_read_only_disk_nobody_says_that_no_daemon_runs(typed: Typed, monkeypatch: pytest.MonkeyPatch) -> None:
    real = os.statvfs

    def failed_card(path: str) -> os.statvfs_result:
        found = real(path)
        return os.statvfs_result((*found[:8], found.f_flag | os.ST_RDONLY, found.f_namemax))

    monkeypatch.setattr(os, "statvfs", failed_card)
    for verb in ("status", "alarms"):
        code, out, err = typed(verb)
        said = " ".join((out + err).split())
        assert code == 69
        assert "it is read-only" in said
        assert "The daemon may still run and heat: systemctl status hangroom" in said
        assert "NO DAEMON" not in said.upper()


@pytest.mark.usefixtures("chamber")
def test_a_chamber_that_never_had_a_daemon_has_no_status(typed: Typed) -> None:
    for verb in ("status", "alarms"):
        code, out, err = typed(verb)
        assert (code, out) == (69, "")
        assert "no daemon has run" in err


def test_alarms_are_listed_most_urgent_first_with_what_is_locked(typed: Typed, daemon_status: Path) -> None:
    since_s = 1_767_592_800.0  # 2026-01-05T06:00:00Z
    alarms = (
        Alarm("P10-1", "P10", "3", "The stage takes longer than planned.", since_s),
        Alarm("A2-1", "A2", "1", "47.2 °C, above 45 °C.", since_s, latched=True),
        Alarm("S6-4", "S6", "1", "The air thermometer is frozen.", since_s, active=False, latched=True, seen=True),
    )
    write_status(daemon_status.parent, replace(read_status(daemon_status.parent), alarms=alarms))
    code, out, _ = typed("alarms")
    assert code == 0
    assert out.splitlines() == [
        "A2-1  act now; since 2026-01-05 06:00",
        "    47.2 °C, above 45 °C.",
        "    Say that you know of it: hangroom seen A2-1",
        "",
        "P10-1  within a day; since 2026-01-05 06:00",
        "    The stage takes longer than planned.",
        "    Say that you know of it: hangroom seen P10-1",
        "",
        "S6-4  over; began 2026-01-05 06:00",
        "    It was: The air thermometer is frozen.",
        "    Over, but locked until you clear it: hangroom clear S6-4.",
        "    Seen.",
    ]
    assert [alarm["id"] for alarm in json.loads(typed("alarms", "--json")[1])["alarms"]] == ["P10-1", "A2-1", "S6-4"]


def test_what_needs_somebody_now_stands_first_and_the_rest_below(typed: Typed, daemon_status: Path) -> None:
    since_s = 1_767_592_800.0
    told = "377 of 1000 degree-hours (°F) used; limit reached at 2026-01-05 10:43 UTC; no pH yet. Measure the pH now."
    alarms = (
        Alarm("P10-1", "P10", "3", "The stage takes longer than planned.", since_s),
        Alarm("P9-1", "P9", "1", told, since_s, latched=True),
        Alarm("P9-2", "P9", "2", "Over 70 %.", since_s, active=False, latched=True),
        Alarm("H2-3", "H2", "3", "pH is overdue.", since_s, active=False),
    )
    status = replace(read_status(daemon_status.parent), alarms=alarms)
    write_status(daemon_status.parent, status)
    out = typed("status")[1]
    assert out.splitlines()[1].startswith("! P9-1  2026-01-05 06:00  act now: 377 of 1000")
    assert out.count("P9-1") == 1
    assert out.index("P9-1") < out.index("air  ") < out.index("P10-1")
    words = " ".join(out.split())
    assert "10:43; no pH yet" in words  # This chamber stands in UTC, and names no other zone beside.
    assert "[over, but locked until you clear it: hangroom clear P9-2]" in words
    assert "[over; hangroom seen H2-3 takes it off]" in words
    for page in (out, typed("alarms")[1]):
        assert max(map(len, page.splitlines())) <= 80
        assert any("hangroom clear P9-2" in line for line in page.splitlines())  # Whole, to be copied.
    write_status(daemon_status.parent, replace(status, alarms=alarms[1:2]))
    assert "No other alarms." in typed("status")[1]


def test_a_batch_that_the_program_has_paused_stays_on_top_as_long_as_it_waits(
    typed: Typed, daemon_status: Path
) -> None:
    bench = Bench().run(minutes=20, air_temp=36.0, rh_temp=36.0).tick(Hang(id="h"))
    (told,) = status_of(bench.memory, bench.outcome).batches  # type: ignore[arg-type]
    assert not told.waits_for_you
    paused = replace(bench.batch, state="held", held_because="H9-1: air probe outside")
    (told,) = status_of(replace(bench.memory, batches=(paused,)), bench.outcome).batches  # type: ignore[arg-type]
    assert told.waits_for_you
    by_person = replace(bench.memory, batches=(replace(paused, held_by_person=True),))
    assert not status_of(by_person, bench.outcome).batches[0].waits_for_you  # type: ignore[arg-type]
    over = Alarm("H9-1", "H9", "1", "Outside.", 1_767_592_800.0, active=False, latched=True, locks=True, seen=True)
    status = replace(read_status(daemon_status.parent), batches=(told,))
    for alarms, then in (((over,), "hangroom clear H9-1, and then hangroom resume."), ((), "then: hangroom resume.")):
        write_status(daemon_status.parent, replace(status, alarms=alarms))
        for page in (typed("status")[1], typed("alarms")[1]):
            words = " ".join(page.split())
            assert f"! act now: {told.id} is paused and waits for you (H9-1: air probe outside)." in words
            assert "raw meat that has not soured gets as warm as its room" in words
            assert then in words
            assert page.index("! act now") < 100, "before everything else"
    says_so = Alarm("P11-1", "P11", "1", "It is paused.", 1_767_592_800.0, batch=told.id)
    write_status(daemon_status.parent, replace(status, alarms=(says_so,)))
    assert "is paused and waits for you" not in " ".join(typed("alarms")[1].split()), "one thing is said once"


@pytest.mark.usefixtures("chamber")
def test_a_door_that_no_contact_watches_seems_to_be_open(typed: Typed, daemon_status: Path) -> None:
    status = read_status(daemon_status.parent)
    for guessed, says in ((True, "The door seems to be open"), (False, "The door is open.")):
        write_status(daemon_status.parent, replace(status, door_open=True, door_guessed=guessed))
        assert says in typed("status")[1]


@pytest.mark.usefixtures("chamber")
def test_a_silent_sensor_is_called_doubtful_and_its_value_unknown(typed: Typed, daemon_status: Path) -> None:
    _, out, _ = typed("status")  # The one tick of this status had no readings at all.
    assert re.search(r"air +unknown", out)
    assert "Doubtful: the air thermometer" in out
    assert read_status(daemon_status.parent).air_temp_c is None


def test_a_fahrenheit_chamber_shows_fahrenheit(typed: Typed, daemon_status: Path) -> None:
    status = replace(read_status(daemon_status.parent), units="F", air_temp_c=36.0, air_temp_set_c=37.0)
    write_status(daemon_status.parent, status)
    assert re.search(r"air +96\.8 °F   wanted 98\.6 °F", typed("status")[1])


def test_the_share_of_the_time_comes_from_the_newest_hour_of_rows(tmp_path: Path) -> None:
    from controller.cli.pages.duty import read_duty

    assert read_duty(tmp_path) is None
    columns = HEADER.decode().strip().split(",")

    def row(minute: int, heater_pct: str) -> str:
        values = dict.fromkeys(columns, "") | {"time": f"2026-01-05T{minute // 60:02}:{minute % 60:02}:00Z"}
        return ",".join((values | {"heater_pct": heater_pct}).values())

    rows = [row(minute, "100.0" if minute < 540 else "28.0") for minute in range(600)]
    path = tmp_path / "climate-2026-01-05.csv"
    path.write_text(HEADER.decode() + "\r\n".join(rows) + "\r\n2026-01-05T10:00:00Z,ferm", "utf-8")
    (tmp_path / "climate-2026-01-04.csv").write_text(HEADER.decode() + row(1, "99") + "\r\n", "utf-8")
    duty = read_duty(tmp_path)
    assert duty is not None
    assert (duty.rows, duty.on_pct) == (60, {"heater": 28.0})


@pytest.mark.usefixtures("chamber", "daemon_status")
def test_watching_shows_the_page_again_until_ctrl_c(typed: Typed, monkeypatch: pytest.MonkeyPatch) -> None:
    waits: list[float] = []

    def wait(seconds: float) -> None:
        waits.append(seconds)
        if len(waits) == 3:
            raise KeyboardInterrupt

    monkeypatch.setattr("controller.cli.verbs.looking.time.sleep", wait)
    code, out, err = typed("status", "--watch")
    assert code == 130
    assert "Interrupted." in err
    assert out.count("No batch is open.") == 3
    assert waits == [5.0, 5.0, 5.0]
