"""The air against what is wanted, told by numbers: how long, how far, when it is over, and when it is no news."""

from typing import Self

import pytest
from msgspec.structs import replace

from controller.core.plan import Chamber, Stage, Until
from controller.core.requests import Adjust, Hang
from controller.core.values import Role
from tests.helpers.bench_chamber import CHAMBER, PROFILE, Bench

DRY = Stage(name="dry", kind="dry", until=Until(weight_loss_pct=35.0), air_temp_c=13.0, rh_pct=78.0)
FERMENT = replace(PROFILE.stages[1], until=Until(ph_at_most=5.3), air_temp_c=24.0, ph_due_h=(), at_most_h=None)
PCT_PER_MIN = 5.0


class Air(Bench):
    """Be a bench whose air never stands still, and goes from one value to the next as air does."""

    true: tuple[float, float] = (13.0, 78.0)

    def begin(self, c: float, pct: float) -> Self:
        """Hang the meat in air that is so."""
        self.true = (c, pct)
        return self.tick(Hang(id="h"), air_temp=c, rh_temp=c, rh=pct)

    def go(self, minutes: float, *, c: float | None = None, pct: float | None = None, k_per_min: float = 1.0) -> Self:
        """Let minutes pass while the air goes to these values."""
        for number in range(round(minutes * 60.0 / self.chamber.tick_s)):
            air_c, rh_pct = self.true
            step_k, step_pct = (rate * self.chamber.tick_s / 60.0 for rate in (k_per_min, PCT_PER_MIN))
            if c is not None:
                air_c += min(max(c - air_c, -step_k), step_k)
            if pct is not None:
                rh_pct += min(max(pct - rh_pct, -step_pct), step_pct)
            self.true = (air_c, rh_pct)
            hair = 0.0625 * (number % 2)
            self.tick(air_temp=air_c + hair, rh=rh_pct + hair, rh_temp=air_c - hair)
        return self

    @property
    def rows(self) -> list[tuple[str, str, bool]]:
        """Return row, priority and whether it is there now, of each alarm on the list."""
        return [(alarm.row, alarm.priority, alarm.active) for alarm in self.memory.alarms]

    def has(self, row: str) -> bool:
        """Say whether this alarm is there now."""
        return any(alarm.row == row and alarm.active for alarm in self.memory.alarms)


def without(*roles: Role) -> Chamber:
    """Return the bench's chamber without some of its outputs, deciding every 8 s."""
    return replace(CHAMBER, tick_s=8.0, outputs=tuple(output for output in CHAMBER.outputs if output.role not in roles))


PLAIN = without("humidifier", "cooler")


def hung(stage: Stage = DRY, chamber: Chamber = PLAIN, c: float | None = None) -> Air:
    """Return meat that was hung two hours ago, in air that is as it is wanted, or as told."""
    air = Air(chamber, replace(PROFILE, stages=(stage,)))
    return air.begin((stage.air_temp_c or 13.0) if c is None else c, stage.rh_pct or 78.0).go(120)


@pytest.mark.fault_row("P7")
def test_ten_per_cent_too_damp_for_six_hours_is_a_matter_of_mould() -> None:
    air = hung().go(350, pct=90.0)
    assert not air.has("P7")
    air.go(150)
    assert ("P7", "2", True) in air.rows
    assert "for 6" in next(alarm.text for alarm in air.memory.alarms if alarm.row == "P7")
    air.go(120, pct=84.0)
    assert air.has("P7"), "nearer, and not near enough"
    air.go(200, pct=79.0)
    assert not air.has("P7")


@pytest.mark.fault_row("P7")
def test_above_ninety_for_twelve_hours_is_so_too_however_damp_it_was_wanted() -> None:
    air = hung(replace(DRY, rh_pct=88.0)).go(11 * 60, pct=92.0)
    assert not air.has("P7")
    air.go(3 * 60)
    assert air.has("P7")


@pytest.mark.fault_row("P8")
def test_ten_per_cent_too_dry_for_six_hours_is_a_matter_of_the_rim() -> None:
    air = hung().go(350, pct=66.0)
    assert not air.has("P8")
    air.go(150)
    assert ("P8", "2", True) in air.rows


@pytest.mark.fault_row("P4")
def test_humidity_is_told_by_its_mean_of_an_hour_and_by_itself() -> None:
    air = hung().go(30, pct=95.0).go(60, pct=78.0)
    assert air.rows == [], "as a run of the compressor, or a look at the meat"
    air.go(120, pct=90.0)
    assert air.rows == [("P4", "3", True)]
    assert air.memory.alarms[0].about == "rh"


@pytest.mark.fault_row("P4")
def test_a_wet_ferment_is_no_deviation_and_a_dry_one_is() -> None:
    air = hung(replace(FERMENT, rh_pct=88.0)).go(300, pct=98.0)
    assert air.rows == []
    air.go(240, pct=74.0)
    assert ("P4", "2", True) in air.rows


@pytest.mark.fault_row("P4")
def test_what_dances_about_its_limit_is_one_alarm() -> None:
    air = hung()
    for _ in range(15):
        air.go(4, c=15.2).go(4, c=14.8)
    assert air.rows == [], "never off for a quarter of an hour"
    air.go(20, c=15.2)
    for _ in range(15):
        air.go(4, c=15.2).go(4, c=14.8)
    assert sum(event.startswith("alarm") for event in air.events) == 1
    assert air.rows == [("P4", "3", True)]


@pytest.mark.fault_row("P4")
@pytest.mark.parametrize(("stage", "priority"), [(FERMENT, "2"), (DRY, "3")])
def test_it_is_less_urgent_while_it_dries(stage: Stage, priority: str) -> None:
    air = hung(stage).go(60, c=(stage.air_temp_c or 0.0) - 2.5)
    assert ("P4", priority, True) in air.rows


@pytest.mark.fault_row("P6")
def test_too_cold_is_told_after_ten_minutes_and_takes_cold_and_drying() -> None:
    air = hung(chamber=without("humidifier", "heater")).go(11, c=8.0)
    assert not air.has("P6")
    air.go(5)
    assert ("P6", "1", True) in air.rows
    assert air.outcome is not None
    assert not air.outcome.commands.is_on("cooler", air.now_s)
    air.go(10, c=10.5)
    assert air.has("P6"), "not clearly warmer yet"
    air.go(20, c=12.5)
    assert not air.has("P6")


@pytest.mark.fault_row("P6")
def test_frost_is_told_though_the_lamp_is_looked_into() -> None:
    air = hung(c=13.0).go(25, c=0.5)
    assert ("P6", "1", True) in air.rows


@pytest.mark.fault_row("P6")
def test_cold_meat_in_a_cold_box_calls_nobody_before_it_was_warm_once() -> None:
    air = hung(replace(DRY, air_temp_c=24.0), without("humidifier", "cooler", "heater"), c=4.0).go(240)
    assert air.rows == []


@pytest.mark.fault_row("A2")
def test_three_kelvin_too_warm_is_a_warning_and_the_trip_is_more_than_that() -> None:
    air = hung(FERMENT).go(160, c=27.5, k_per_min=0.03)
    assert ("A2", "2", True) in air.rows
    (warning,) = [alarm for alarm in air.memory.alarms if alarm.row == "A2"]
    assert not warning.latched
    air.go(12, c=45.3, k_per_min=2.0)
    (trip,) = [alarm for alarm in air.memory.alarms if alarm.row == "A2"]
    assert (trip.id, trip.priority, trip.latched, trip.locks) == (warning.id, "1", True, True)
    assert air.batch.state == "held"


@pytest.mark.fault_row("A2")
def test_who_wants_it_colder_waits_for_the_air_and_hears_no_alarm() -> None:
    air = hung(replace(DRY, air_temp_c=18.0), without("humidifier"))
    air.tick(Adjust(id="a", air_temp_c=13.0, because="slower"))
    air.go(110, c=13.0, k_per_min=0.05)
    assert air.rows == []
    air.go(150, c=16.8, k_per_min=0.03)
    assert {"A2", "A8"} & {row for row, _, _ in air.rows}, "from now on it is news"


@pytest.mark.fault_row("P4")
def test_a_ramp_is_given_half_its_time_again() -> None:
    air = Air(PLAIN, replace(PROFILE, stages=(replace(DRY, ramp_h=4.0),)))
    air.begin(24.0, 78.0).go(350)
    assert not air.has("P4"), "though the air has not followed at all"
    air.go(40)
    assert air.has("P4")


@pytest.mark.fault_row("P2")
def test_full_power_that_gains_too_little_in_an_hour_is_told_and_what_moves_well_is_not() -> None:
    warm = replace(FERMENT, air_temp_c=36.0)
    air = Air(PLAIN, replace(PROFILE, stages=(warm,))).begin(24.0, 85.0).go(60)  # Cold meat.
    air.go(216, c=33.0, k_per_min=2.5 / 60.0)
    assert air.rows == [], "2.5 K in an hour"
    air.go(240, c=36.0, k_per_min=0.15 / 60.0)
    assert [row for row, _, _ in air.rows] == ["P2"]
