"""Alarms as a maker meets them: listed, seen, quieted and cleared by typing, and the sounder tried."""

import csv
import json
import re
import time
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from controller.core.alarms.memory import Alarm
from controller.core.alarms.message import full
from controller.core.fault_table import ROWS
from controller.records.alarm_status import alarm_status
from controller.records.status import read_status, write_status
from tests.cli.conftest import Typed, World

SINCE_S = 1_767_592_800.0  # 2026-01-05T06:00:00Z


def told(name: str, what: str, first: str, **more: Any) -> Alarm:  # noqa: ANN401 - any field of an alarm
    row = name.split("-", maxsplit=1)[0]
    by_s = SINCE_S + 1800.0
    alarm = Alarm(name, row, "1", "", SINCE_S, what=what, first=first, by_wall_s=by_s, **more)
    return replace(alarm, text=full(what, alarm.did, first, SINCE_S, by_s))


A3 = told(
    "A3-2",
    "Lamp gives no heat: 0.1 K in 20 min at full power, 3.2 K expected; air 20.1 °C, wanted 36.0 °C.",
    "Check lamp, plug and thermal cut-out.",
    did="Heat only in trials of at most 5 min each half hour.",
    hides=("P4", "P2"),
)
P4 = replace(
    told("P4-1", "24.1 °C, wanted 36.0 °C.", "Look at door, lamp, water and room."), priority="2", follows="A3-2"
)
A5 = replace(
    told("A5-1", "Humidifier gives nothing.", "Fill the humidifier."), priority="2", seen=True, quiet_until_s=7300.0
)
S6 = told("S6-4", "The air thermometer is frozen.", "Replace it.", active=False, latched=True, locks=True, seen=True)
H2 = replace(told("H2-3", "The pH has not been entered.", "Measure the pH and type it in."), priority="3", active=False)


@pytest.fixture
def listed(daemon_status: Path) -> Path:
    """Leave a status with alarms in every state."""
    alarms = tuple(alarm_status(alarm, 100.0, SINCE_S + 60.0) for alarm in (P4, A5, S6, A3, H2))
    write_status(daemon_status.parent, replace(read_status(daemon_status.parent), alarms=alarms))
    return daemon_status


@pytest.mark.usefixtures("listed")
def test_the_page_says_of_each_what_was_done_what_to_do_first_and_by_when(typed: Typed) -> None:
    code, out, err = typed("alarms")
    assert (code, err) == (0, "")
    assert out.splitlines() == [
        "A3-2  act now, by 06:30; since 2026-01-05 06:00",
        "    Lamp gives no heat: 0.1 K in 20 min at full power, 3.2 K expected; air 20.1",
        "    °C, wanted 36.0 °C.",
        "    Done: Heat only in trials of at most 5 min each half hour.",
        "    First: Check lamp, plug and thermal cut-out.",
        "    Because of it, and no alarm of its own: climate off what is wanted, climate",
        "        out of reach.",
        "    Say that you know of it: hangroom seen A3-2",
        "",
        "A5-1  within hours, by 06:30; since 2026-01-05 06:00",
        "    Humidifier gives nothing.",
        "    First: Fill the humidifier.",
        "    Quiet until 08:01, then it calls again.",
        "    Seen.",
        "",
        "P4-1  within hours, by 06:30; since 2026-01-05 06:00",
        "    24.1 °C, wanted 36.0 °C.",
        "    First: Look at door, lamp, water and room.",
        "    Follows from A3-2 and does not call.",
        "",
        "S6-4  over; began 2026-01-05 06:00",
        "    It was: The air thermometer is frozen.",
        "    First: Replace it.",
        "    Over, but locked until you clear it: hangroom clear S6-4.",
        "    Seen.",
        "",
        "H2-3  over; began 2026-01-05 06:00",
        "    It was: The pH has not been entered.",
        "    Over; hangroom seen H2-3 takes it off.",
    ]


@pytest.mark.usefixtures("listed")
def test_the_status_has_them_in_a_paragraph_each_the_urgent_one_on_top(typed: Typed) -> None:
    out = typed("status")[1]
    assert max(map(len, out.splitlines())) <= 80
    assert out.splitlines()[1].startswith("! A3-2  2026-01-05 06:00  act now, by 06:30: Lamp gives no heat")
    words = " ".join(out.split())
    assert "each half hour. Check lamp, plug and thermal cut-out." in words
    assert "[over; hangroom seen H2-3 takes it off]: It was: The pH has not been entered." in words
    assert "Measure the pH and type it in" not in words, "nothing of what is over is said as if it were so now"
    assert "P4-1 2026-01-05 06:00 within hours, by 06:30 [follows from A3-2 and does not call]: 24.1 °C" in words
    assert words.index("A3-2") < words.index("air ") < words.index("A5-1")


@pytest.mark.usefixtures("listed")
def test_programs_get_every_figure_and_the_words_of_the_standard(typed: Typed) -> None:
    found = {one["id"]: one for one in json.loads(typed("alarms", "--json")[1])["alarms"]}
    wanted = {
        "id", "row", "title", "priority", "severity", "active", "seen", "latched", "quiet_until", "suppressed_by",
        "since", "by", "what", "did", "first", "short", "state",
    }  # fmt: skip
    assert all(wanted <= set(one) for one in found.values())
    assert {name: one["state"] for name, one in found.items()} == {
        "A3-2": "unacknowledged",
        "P4-1": "suppressed",
        "A5-1": "shelved",
        "S6-4": "latched acknowledged",
        "H2-3": "returned unacknowledged",
    }
    assert (found["A3-2"]["severity"], found["A5-1"]["severity"], found["H2-3"]["severity"]) == (800, 500, 200)
    assert (found["A3-2"]["since"], found["A3-2"]["by"]) == ("2026-01-05T06:00:00Z", "2026-01-05T06:30:00Z")
    assert (found["A5-1"]["quiet_until"], found["P4-1"]["suppressed_by"]) == ("2026-01-05T08:01:00Z", "A3-2")


def test_too_many_at_once_are_headed_by_the_first(typed: Typed, listed: Path) -> None:
    write_status(listed.parent, replace(read_status(listed.parent), flood="A3-2"))
    for page in ("alarms", "status"):
        words = " ".join(typed(page)[1].split())
        assert "Many alarms at once. The first was A3-2 (heating without warming): look at that one first." in words


def test_a_fahrenheit_chamber_has_its_own_units_in_them(typed: Typed, listed: Path) -> None:
    write_status(listed.parent, replace(read_status(listed.parent), units="F"))
    assert "air 68.2 °F, wanted 96.8 °F." in " ".join(typed("alarms")[1].split())


# With a daemon.


@pytest.fixture
def hot(world: World) -> None:
    """Have the chamber at the trip when the daemon begins."""
    world.air_c = 46.0


def until_told(typed: Typed, page: str, what: str) -> None:
    """Look at a page until it says so: the status file is renewed every two seconds."""
    assert any(what in " ".join(typed(page)[1].split()) for _ in range(400)), what


def until(typed: Typed, what: str) -> str:
    """Look at the alarms until something stands there; a tick of this daemon takes 20 ms."""
    for _ in range(250):
        out = typed("alarms")[1]
        if what in out:
            return out
        time.sleep(0.02)
    raise AssertionError(f"never {what!r}: {out}")


def rows(state_dir: Path, *kinds: str) -> list[tuple[str, str, str]]:
    """Return (kind, id, actor) of the chamber's own diary and of its batches'."""
    found = []
    for path in (*state_dir.glob("batches/*/events.csv"), state_dir / "events.csv"):
        if path.exists():
            found += [row for row in csv.DictReader(path.read_text("utf-8").splitlines()) if row["kind"] in kinds]
    return [(row["kind"], row["id"], row["actor"]) for row in found]


@pytest.mark.usefixtures("hot", "daemon")
def test_an_alarm_is_seen_quieted_and_cleared_by_typing_and_the_diary_has_it_all(
    typed: Typed, world: World, state_dir: Path
) -> None:
    out = until(typed, "A2-1")
    assert re.match(
        r"A2-1  act now, by \d\d:\d\d; since \d{4}-\d\d-\d\d \d\d:\d\d\n    Too hot: 46\.0 °C, limit 45 °C", out
    )
    assert "first say that you know of it: hangroom seen A2-1" in " ".join(typed("quiet", "A2-1", "30m")[2].split())
    code, out, _ = typed("seen", "A2-1", "--who", "ann")
    assert (code, " ".join(out.split())) == (0, f"A2-1: seen. {ROWS['A2'].first}")
    assert "can be quiet for 1 h at most" in " ".join(typed("quiet", "A2-1", "2h")[2].split())
    code, out, _ = typed("quiet", "A2-1", "30m", "--who", "ann")
    assert code == 0
    assert re.search(r"quiet until \d{4}-\d\d-\d\d \d\d:\d\d\. It takes effect all the same", " ".join(out.split()))
    until(typed, "Quiet until")
    (told,) = json.loads(typed("alarms", "--json")[1])["alarms"]
    assert (told["state"], told["active"], told["seen"], told["latched"]) == ("shelved", True, True, True)
    assert told["quiet_until"] > told["since"]
    assert "its cause is still there" in " ".join(typed("clear", "A2-1")[2].split())
    assert typed("quiet", "A2-1", "--off")[0] == 0
    world.air_c = 43.0
    until(typed, "Over, but locked until you clear it: hangroom clear A2-1.")
    asked_back = " ".join(typed("clear", "A2-1", "--who", "bob")[2].split())
    assert "First see for yourself that the lamp is dark while the program has it off" in asked_back
    assert "then: hangroom clear A2-1 --sure" in asked_back
    assert typed("clear", "A2-1", "--sure", "--who", "bob")[1] == "A2-1: cleared.\n"
    until(typed, "No alarms.")
    kinds = ("alarm", "seen", "quiet", "returned", "cleared")
    assert rows(state_dir, *kinds) == [
        ("alarm", "A2-1", "hangroom"),
        ("seen", "A2-1", "ann"),
        ("quiet", "A2-1", "ann"),
        ("quiet", "A2-1", rows(state_dir, "quiet")[1][2]),
        ("returned", "A2-1", "hangroom"),
        ("cleared", "A2-1", "bob"),
    ]


@pytest.mark.usefixtures("daemon")
def test_what_is_not_there_can_neither_be_seen_nor_quieted_nor_cleared(typed: Typed) -> None:
    for line in (("seen", "A3-9"), ("quiet", "A3-9", "2h"), ("clear", "A3-9")):
        assert typed(*line) == (65, "", "A3-9: there is no such alarm now; hangroom alarms lists them\n")


@pytest.mark.parametrize(
    ("line", "says"),
    [
        (("quiet", "A3-1"), "for how long? Say 30m or 2h (at most 8h), or --off."),
        (("quiet", "A3-1", "2h", "--off"), "for how long?"),
        (("quiet", "A3-1", "a while"), "how long? Write 30m, 12h, 7h30m or 3d"),
        (("quiet", "A3-1", "-2h"), "No such option"),
        (("alarms", "--test", "--not-heard"), "say one of --test, --heard and --not-heard"),
        (("alarms", "--heard", "8 o'clock"), "--heard 8 o'clock: not a time"),
    ],
)
@pytest.mark.usefixtures("chamber")
def test_a_slip_is_told_in_a_line(typed: Typed, line: tuple[str, ...], says: str) -> None:
    code, out, err = typed(*line)
    assert (code, out) == (64, "")
    assert says in " ".join(err.split())


@pytest.mark.usefixtures("daemon")
def test_a_chamber_without_a_sounder_says_that_nothing_calls(typed: Typed) -> None:
    code, out, err = typed("alarms", "--test")
    assert (code, out) == (65, "")
    assert "this chamber has no sounder, so nothing calls you" in " ".join(err.split())


@pytest.fixture
def sounder(chamber: Path) -> None:
    """Give the chamber a sounder before the daemon begins."""
    with chamber.open("a", encoding="utf-8") as file:
        file.write('\n[[output]]\nrole = "sounder"\npin = 25\n')


@pytest.mark.usefixtures("chamber", "sounder")
def test_the_sounder_is_tried_only_while_a_daemon_runs(typed: Typed, state_dir: Path) -> None:
    assert typed("alarms", "--test")[0] == 69
    assert not list(state_dir.iterdir())


@pytest.mark.usefixtures("sounder", "daemon")
def test_the_sounder_is_tried_and_the_day_and_who_heard_it_are_kept(
    typed: Typed, state_dir: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert "The sounder has never been heard in a test: hangroom alarms --test." in " ".join(typed("status")[1].split())
    assert "has never been heard in a test" in " ".join(typed("check")[1].split())
    code, out, _ = typed("alarms", "--test")
    assert code == 0
    assert out.splitlines() == [
        "The sounder sounds for 10 s.",
        "Heard it? Say: hangroom alarms --heard now. Else: hangroom alarms --not-heard.",
    ]

    class Terminal:
        def isatty(self) -> bool:
            return True

    asked: list[str] = []

    def confirm(question: str, default: bool | None) -> bool:  # noqa: FBT001 - as click has it
        asked.append(question)
        assert default is None, "nobody answers by pressing a key only"
        return True

    monkeypatch.setattr("sys.stdin", Terminal())
    monkeypatch.setattr("click.confirm", confirm)
    code, out, _ = typed("alarms", "--test", "--who", "ann")
    assert code == 0
    assert asked == ["Go where you sleep or work. Did you hear it?"]
    assert "Noted: the sounder was heard." in out
    for page in ("status", "check"):
        until_told(typed, page, "heard in a test on")
        words = " ".join(typed(page)[1].split())
        assert re.search(r"The sounder was heard in a test on \d{4}-\d\d-\d\d \d\d:\d\d by ann\.", words), page
    assert json.loads(typed("status", "--json")[1])["sounder"]["by"] == "ann"
    assert json.loads(typed("check", "--json")[1])["sounder"]["heard"] is True
    assert ("sounder", "heard", "ann") in rows(state_dir, "sounder")
    assert "earshot" not in typed("start", "tangy", "--meat", "4.5kg")[1]
    out = typed("alarms", "--not-heard", "--who", "bob")[1]
    assert "until it is heard, stay within earshot" in " ".join(out.split())
    until_told(typed, "status", "was NOT heard when it was last tried")
