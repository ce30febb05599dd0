"""A check of an instrument is judged, recorded and remembered, and what is due is named."""

import pytest
from msgspec.structs import replace

from controller.core.batch.care import dues, overdue, overdue_sentence
from controller.core.memory import Inputs
from controller.core.people.instruments import OWN, meter_note
from controller.core.plan import Care, Chamber
from controller.core.requests import Calibrate, Hang
from controller.core.step import step
from controller.core.values import CheckMethod, InstrumentCheck
from tests.helpers.bench_chamber import CHAMBER, WALL_S, Bench

COUNT = iter(range(10_000))
DAY_S = 86_400.0
CARED: Chamber = replace(CHAMBER, care=Care(sensors=("air_temp", "rh"), offsets={"air_temp": 0.5, "rh": -1.0}))


def check(
    method: CheckMethod, instrument: str, *points: tuple[str, float, float], unit: str, temp_c: float | None = None
) -> InstrumentCheck:
    return InstrumentCheck(instrument=instrument, method=method, points=points, unit=unit, temp_c=temp_c)


def ice(shown_c: float, instrument: str = "air_temp") -> InstrumentCheck:
    return check("ice", instrument, ("ice", 0.0, shown_c), unit="Cel")


def salt(shown_pct: float, name: str = "NaCl") -> InstrumentCheck:
    return check("salt", "rh", (name, 0.0, shown_pct), unit="%RH", temp_c=21.0)


def buffers(seven: float, four: float, temp_c: float | None = 22.0, unit: str = "pH") -> InstrumentCheck:
    return check("buffers", "meter 1", ("7.00", 0.0, seven), ("4.01", 0.0, four), unit=unit, temp_c=temp_c)


def asked(what: InstrumentCheck, at_wall_s: float = WALL_S, *, sure: bool = False) -> Calibrate:
    return Calibrate(id=f"check-{next(COUNT)}", actor="ann", at_wall_s=at_wall_s, check=what, sure=sure)


class Desk:
    """Ask for one check after another, and keep the last answer."""

    def __init__(self) -> None:
        self.bench = Bench(chamber=CARED).run(minutes=1)

    def ask(self, what: InstrumentCheck, at_wall_s: float = WALL_S, *, sure: bool = False) -> "Desk":
        self.bench.tick(asked(what, at_wall_s, sure=sure))
        assert self.bench.outcome is not None
        self.answer = self.bench.outcome.answers[-1]
        self.outcome = self.bench.outcome
        return self

    @property
    def checked(self) -> dict[str, float]:
        return self.bench.memory.checked_wall_s


def test_a_good_check_is_answered_recorded_and_remembered() -> None:
    desk = Desk().ask(ice(0.3))
    assert desk.answer.done
    assert "air_temp: shows 0.3 °C where 0.0 °C would be right (in ice), off by +0.3 K: good." in desk.answer.text
    assert desk.checked == {"air_temp": WALL_S}
    (entry,) = desk.outcome.checks
    assert (entry.actor, entry.at_wall_s, entry.id) == ("ann", WALL_S, desk.answer.request_id)
    assert (entry.check.offset, entry.check.error, entry.check.verdict) == (-0.3, 0.4, "good")
    assert [event.kind for event in desk.outcome.events] == ["check"]
    assert desk.outcome.checkpoint


def test_the_offset_to_write_counts_what_the_chamber_file_adds_already() -> None:
    assert "write offset_k = 0.2 (it is 0.5 now)" in Desk().ask(ice(0.3)).answer.text
    assert "write offset_pct = 1.4 (it is -1 now)" in Desk().ask(salt(73.1)).answer.text


def test_nothing_is_written_for_an_offset_that_the_ice_itself_does_not_know() -> None:
    assert "change nothing" in Desk().ask(ice(0.1)).answer.text


def test_a_sensor_that_is_too_far_off_is_to_be_replaced() -> None:
    text = Desk().ask(ice(-4.0)).answer.text
    assert "offset_k would be 4.5, and a chamber file takes 3 at most: replace the sensor." in text


def test_a_thermometer_worse_than_the_degree_hours_allow_for_is_not_good() -> None:
    desk = Desk().ask(ice(0.8))
    assert "degree-hours allow for 0.5 K" in desk.answer.text
    assert desk.checked == {}
    assert desk.outcome.checks[0].check.verdict != "good"


def test_a_meter_is_answered_with_slope_offset_and_what_is_left() -> None:
    desk = Desk().ask(buffers(7.03, 4.05))
    assert "slope 99.1 % of the theoretical slope (Nernst) at 22 °C" in desk.answer.text
    assert "From now on 0.07 is added to each reading of it, more than the 0.05 of the chamber file" in desk.answer.text
    assert desk.checked == {"meter 1": WALL_S}
    found = desk.outcome.checks[0].check
    assert [name for name, _, _ in found.points] == ["7.00", "4.01"]
    assert [true for _, true, _ in found.points] == pytest.approx([7.012, 4.004])
    assert (found.slope_pct, found.offset, found.error) == (99.1, -0.018, 0.066)


def test_a_meter_that_is_further_off_than_its_readings_are_guarded_by_is_not_good() -> None:
    desk = Desk().ask(buffers(7.10, 4.10))
    assert "0.10 pH wrong, and the chamber file allows for ph_meter_error = 0.05" in desk.answer.text
    assert desk.checked == {}


def test_mv_tell_of_the_electrode_alone() -> None:
    desk = Desk().ask(buffers(3.0, 174.0, unit="mV"))
    assert "(the electrode), +4 mV at pH 7: good." in desk.answer.text
    assert desk.outcome.checks[0].check.offset == pytest.approx(3.7, abs=0.1)


def test_a_bottle_with_its_own_table_is_taken_by_that() -> None:
    own = check("buffers", "meter 1", (f"7.01{OWN}", 7.02, 7.04), ("4.01", 0.0, 4.02), unit="pH", temp_c=22.0)
    assert Desk().ask(own).outcome.checks[0].check.points[0] == (f"7.01{OWN}", 7.02, 7.04)


@pytest.mark.parametrize(
    ("what", "told"),
    [
        (buffers(4.05, 7.03), "look swapped"),
        (check("salt", "rh", ("KCl", 0.0, 73.0), unit="%RH", temp_c=20.0), "NaCl has 75.5 %: is it the right salt?"),
        (ice(32.0), "Did you mean 32F?"),
        (buffers(6.88, 4.0, temp_c=20.0), "fits the liquid 6.86 better than 7.00"),
    ],
)
def test_a_likely_slip_is_asked_about_and_nothing_is_recorded_before_it_is_meant(
    what: InstrumentCheck, told: str
) -> None:
    desk = Desk().ask(ice(0.2)).ask(buffers(7.01, 4.01)).ask(salt(75.0))
    before = desk.checked
    desk.ask(what, WALL_S + 60.0)
    assert not desk.answer.done
    assert told in desk.answer.text
    assert "say --sure" in desk.answer.text
    assert desk.outcome.checks == ()
    assert desk.checked == before
    desk.ask(what, WALL_S + 60.0, sure=True)
    assert desk.answer.done
    assert len(desk.outcome.checks) == 1


@pytest.mark.parametrize(
    ("what", "told"),
    [
        (ice(0.2, "rh"), "a humidity is not checked by ice, but by salt or reference"),
        (ice(0.2, "rh_temp"), "never goes into water"),
        (ice(0.2, "core_temp"), "this chamber has air_temp, rh, rh_temp"),
        (ice(0.2, "the red one"), 'with its number, as "meter 1"'),
        (buffers(7.0, 4.0, temp_c=None), "say it"),
        (buffers(7.0, 4.0, temp_c=60.0), "its table goes from 0 to 50 °C"),
        (salt(731.0), "a humidity is 0 to 100 %"),
        (check("ice", "air_temp", ("ice", 0.0, 1e9), unit="pH"), "a thermometer shows Cel, and not pH"),
        (check("salt", "rh", ("NaCl", 0.0, 75.0), unit="", temp_c=21.0), "a humidity shows %RH, and not nothing"),
        (buffers(7e8, 174.0, unit="mV"), "a check lies between -2000 and 2000 mV"),
    ],
)
def test_what_cannot_be_judged_is_refused(what: InstrumentCheck, told: str) -> None:
    desk = Desk().ask(what, sure=True)
    assert not desk.answer.done
    assert told in desk.answer.text
    assert desk.outcome.checks == ()


def test_a_bad_check_takes_away_what_an_older_good_one_said_and_a_late_entry_does_not() -> None:
    desk = Desk().ask(ice(0.2), WALL_S)
    desk.ask(ice(2.0), WALL_S - DAY_S)  # Typed late: it was before the good one.
    assert desk.checked == {"air_temp": WALL_S}
    desk.ask(ice(2.0), WALL_S + DAY_S)
    assert desk.checked == {}


def test_the_same_check_typed_again_is_not_recorded_twice() -> None:
    desk = Desk()
    request = asked(ice(0.2))
    desk.bench.tick(request).tick(request)
    assert desk.bench.outcome is not None
    assert desk.bench.outcome.checks == ()
    assert desk.bench.outcome.answers[-1].done


def test_each_instrument_is_due_in_its_own_time() -> None:
    care = Care(sensors=("air_temp", "rh"))
    checked = {"air_temp": WALL_S, "rh": WALL_S, "meter 1": WALL_S, "probe 2": WALL_S, "core_temp": WALL_S}
    found = {due.instrument: due.due_wall_s for due in dues(checked, care)}
    # CFIA, Annex B: a thermometer before first use and once a year. The others are common practice, no source.
    assert found == {
        "air_temp": WALL_S + 365 * DAY_S,
        "rh": WALL_S + 180 * DAY_S,
        "meter 1": WALL_S + DAY_S,
        "probe 2": WALL_S + 365 * DAY_S,
    }
    assert [due.due_wall_s for due in dues({}, care)] == [None, None]


def test_what_is_overdue_is_named_with_its_age_and_a_meter_only_while_a_ph_is_waited_for() -> None:
    desk = Desk()
    care = CARED.care
    assert overdue(desk.bench.memory, care, WALL_S) == (
        "air thermometer (no good check yet)",
        "humidity sensor (no good check yet)",
    )
    desk.ask(ice(0.2)).ask(salt(75.0)).ask(buffers(7.01, 4.01))
    later_s = WALL_S + 181 * DAY_S
    assert overdue(desk.bench.memory, care, later_s) == ("humidity sensor (last good check 181 days ago)",)
    desk.bench.run(minutes=20, air_temp=36.0, rh_temp=36.0).tick(Hang(id="hang"))
    assert overdue(desk.bench.memory, care, later_s)[-1] == "pH meter (last good check 181 days ago)"
    assert overdue(desk.bench.memory, care, WALL_S + DAY_S / 2) == ()
    assert overdue_sentence(desk.bench.memory, care, WALL_S + DAY_S / 2) == ""


def test_the_daily_summary_names_what_is_overdue() -> None:
    bench = Bench(chamber=CARED).run(minutes=1)
    inputs = Inputs(bench.now_s + 5.0, bench.wall_s + 5.0, wall_trusted=True, readings={}, summary_due=True)
    _, outcome = step(bench.memory, inputs, CARED)
    (summary,) = [event for event in outcome.events if event.kind == "summary"]
    assert "Check overdue: air thermometer (no good check yet), humidity sensor (no good check yet)." in summary.text


def test_a_ph_by_a_meter_that_was_not_checked_that_day_gets_a_sentence() -> None:
    memory = Desk().ask(buffers(7.01, 4.01)).bench.memory
    assert meter_note(memory, "strips", WALL_S) == ""
    assert meter_note(memory, "meter 1", WALL_S + DAY_S / 2) == ""
    assert meter_note(memory, "meter", WALL_S + DAY_S / 2) == ""
    assert meter_note(memory, "meter 1", WALL_S + 3.5 * DAY_S) == (
        "meter 1: last good check 3 days ago; check it in two buffers on each day of use (calibrate)."
    )
    assert "no good check yet" in meter_note(memory, "meter 2", WALL_S)
