"""The combined processes of acid and mild heat, row by row, and what of them a batch is shown to meet."""

import re
from typing import Any

import pytest

from controller.food.germs.kill_steps import (
    KILL_STEPS,
    REPORTED,
    KillStep,
    ecoli_drying_log,
    ecoli_log_per_day,
    judge_kill_step,
    kill_step_of,
)
from controller.food.germs.measured import broken, celsius, worst
from tests.helpers.published_rows import rows_of

ROWS = [row for row in rows_of("lethality.csv") if row["organism"] != "Salmonella"]
VALIDATED = [row for row in ROWS if row["table"].startswith("E. coli")]
MILD = [row for row in ROWS if row["table"].startswith("fermented product")]
HOUR_S = 3600.0


def steps_of(process: str) -> tuple[tuple[float, float], ...]:
    """Read "1 h at 110 F then 6 h at 125 F" and "at 90 F for 6 days" into (°F, hours)."""
    held = re.search(r"at (\d+) F for (\d+) days", process)
    if held:
        return ((float(held[1]), 24.0 * float(held[2])),)
    internal = re.search(r"to (\d+) F internal x (\d+) min", process)
    if internal:
        return ((float(internal[1]), float(internal[2]) / 60.0),)
    return tuple((float(temp), float(hours)) for hours, temp in re.findall(r"(\d+) h at (\d+) F", process))


def found_for(row: dict[str, str]) -> KillStep:
    sign, limit = row["ph_at_end_of_fermentation"][:2], float(row["ph_at_end_of_fermentation"][2:])
    casing = (0.0, 55.0) if row["casing"] == "<=55 mm" else (56.0, 105.0)
    [found] = [
        step
        for step in KILL_STEPS
        if step.ferment_f == float(row["ferment_temp_F"])
        and step.ph == (sign, limit)
        and step.casing_mm == casing
        and tuple((hold.temp_f, hold.hours) for hold in step.steps) == steps_of(row["process"])
    ]
    return found


@pytest.mark.parametrize("row", VALIDATED, ids=lambda row: f"{row['ferment_temp_F']}F-{row['process'][:12]}")
def test_each_published_process_is_a_row_with_a_name_of_its_own(row: dict[str, str]) -> None:
    found = found_for(row)  # CFIA, Meat Hygiene Manual of Procedures, ch. 4, Annex K.
    assert found.log == float(row["log_reduction"])
    assert found.confirm == (row["how_known"] == "memory")
    assert ("1.6" in row["process"]) == (found.mpr_max == 1.6)
    assert kill_step_of(found.id) is found


@pytest.mark.parametrize("row", MILD, ids=lambda row: f"{row['temp_F']}F-pH{row['ph_at_end_of_fermentation']}")
def test_each_mild_heat_of_the_summary_is_a_row(row: dict[str, str]) -> None:
    [found] = [
        step
        for step in KILL_STEPS
        if step.ph == ("<=", float(row["ph_at_end_of_fermentation"]))
        and [(hold.of, hold.temp_f, hold.hours * 60.0) for hold in step.steps]
        == [("core", float(row["temp_F"]), float(row["time"]))]
    ]
    assert found.log is None  # The summary gives none,
    assert found.confirm  # so a person has to confirm it.


def test_lebanon_bologna_is_a_row() -> None:
    [row] = [row for row in ROWS if row["table"] == "Lebanon bologna"]
    found = kill_step_of("lebanon-80f-100f-110f")
    printed = [(float(temp), float(hours)) for temp, hours in re.findall(r"(\d+) F (\d+) h", row["process"])]
    assert [(hold.temp_f, hold.hours) for hold in found.steps] == printed
    assert found.log == float(row["log_reduction"])


def test_what_was_reported_without_a_fixed_number_is_shown_and_never_judged() -> None:
    for row in ROWS:
        if row["table"] in {"pepperoni-type", "dry sausage without heat"}:
            author = row["source"].split(" ")[0]
            assert any(author in text for text in REPORTED)
    assert {step.id for step in KILL_STEPS if "Shane" in step.source or "Glass" in step.source} == set()


def test_the_names_that_a_profile_may_carry_stay() -> None:
    assert {"90f-4.6-55mm-hold-6d", "70f-5.0-55mm-heat", "110f-4.6-55mm-hold-4d"} <= {step.id for step in KILL_STEPS}
    assert len({step.id for step in KILL_STEPS}) == len(KILL_STEPS)
    with pytest.raises(KeyError, match=r"no such process; there are 70f-5\.0-55mm-heat"):
        kill_step_of("100f")


def air(*steps: tuple[float, float], every_h: float = 0.5) -> list[tuple[float, float]]:
    """Return a log of air: (°F, hours) one after another."""
    at_h, log = 0.0, list[tuple[float, float]]()
    for temp_f, hours in steps:
        log += [((at_h + n * every_h) * HOUR_S, celsius(temp_f)) for n in range(round(hours / every_h) + 1)]
        at_h += hours
    return log


def verdicts(step: KillStep, **told: Any) -> dict[str, str]:  # noqa: ANN401 - whatever was measured
    found = judge_kill_step(step, **told)
    return {f"{place}:{condition.what}": condition.verdict for place, condition in enumerate(found)}


def test_a_ferment_with_its_heat_is_met_step_by_step() -> None:
    step = kill_step_of("90f-4.6-55mm-heat")
    log = [*air((110.0, 1.0)), *[(at_s + HOUR_S + 60.0, temp_c) for at_s, temp_c in air((125.0, 6.0))]]
    told: dict[str, Any] = {"end_ph": 4.55, "ferment_c": celsius(91.0), "diameter_mm": 50.0, "air": log}
    assert set(verdicts(step, **told).values()) == {"met"}
    assert set(verdicts(step, **told | {"end_ph": 4.7}).values()) == {"met", "not met"}
    assert worst(c.verdict for c in judge_kill_step(step, diameter_mm=60.0, air=log)) == "not met"


def test_an_hour_short_of_heat_is_not_met_and_no_log_is_not_measured() -> None:
    step = kill_step_of("90f-4.6-55mm-heat")
    told: dict[str, Any] = {"end_ph": 4.55, "ferment_c": celsius(90.0), "diameter_mm": 55.0}
    short = air((110.0, 1.0), (125.0, 5.0))
    assert list(verdicts(step, **told, air=short).values()) == ["met", "met", "met", "met", "not met"]
    assert list(verdicts(step, **told).values()) == ["met", "met", "met", "not measured", "not measured"]


def test_the_thermometers_error_is_taken_off_each_hold() -> None:
    step = kill_step_of("summer-4.6-130f")
    found = verdicts(step, end_ph=4.5, core=[(0.0, 54.5)], error_k=0.5)
    assert list(found.values()) == ["met", "met", "not met"]
    assert list(found)[-1].endswith("heat or hold, with 0.5 K of error taken off")


def test_a_hold_of_which_days_are_on_no_record_is_not_measured() -> None:
    step = kill_step_of("90f-4.6-55mm-hold-6d")
    told: dict[str, Any] = {"end_ph": 4.5, "ferment_c": celsius(91.0), "diameter_mm": 50.0}
    two = [(0.0, celsius(92.0)), (145.0 * HOUR_S, celsius(92.0))]
    assert verdicts(step, **told, air=two)["3:heat or hold"] == "met"
    assert verdicts(step, **told, air=broken(two, 12.0 * HOUR_S))["3:heat or hold"] == "not measured"
    cooled = [*two[:1], (HOUR_S, celsius(80.0)), (145.0 * HOUR_S, celsius(80.0))]
    assert verdicts(step, **told, air=broken(cooled, 12.0 * HOUR_S))["3:heat or hold"] == "not met"


def test_a_sausage_thinner_than_the_row_is_told_to_be_an_inference() -> None:
    step = kill_step_of("90f-4.6-105mm-heat")
    [casing] = [c for c in judge_kill_step(step, diameter_mm=55.0) if c.what == "casing"]
    assert casing.confirm
    assert casing.found.startswith("55 mm, thinner than the row")
    [inside] = [c for c in judge_kill_step(step, diameter_mm=56.0) if c.what == "casing"]
    assert (inside.verdict, inside.confirm) == ("met", False)


def test_what_was_before_the_end_of_the_ferment_does_not_count() -> None:
    step = kill_step_of("90f-4.6-55mm-hold-6d")
    log = air((92.0, 150.0))
    told: dict[str, Any] = {"end_ph": 4.6, "ferment_c": celsius(92.0), "diameter_mm": 55.0, "air": log}
    assert set(verdicts(step, **told).values()) == {"met"}
    assert set(verdicts(step, **told, after_s=10 * HOUR_S).values()) == {"met", "not met"}


def test_a_dip_is_left_out_and_the_lower_neighbour_counts() -> None:
    step = kill_step_of("summer-5.0-130f-30min")
    told: dict[str, Any] = {"end_ph": 4.9}
    core = [(0.0, 55.0), (900.0, 54.0), (1800.0, 55.0), (2700.0, 55.0)]
    assert list(verdicts(step, **told, core=core).values()) == ["met", "not met"]
    core += [(3600.0, 55.0)]
    assert list(verdicts(step, **told, core=core).values()) == ["met", "met"]


def test_the_row_at_or_above_ph_5_is_read_as_it_is_printed() -> None:
    step = kill_step_of("70f-5.0-55mm-heat")
    assert verdicts(step, end_ph=5.1)["1:pH after the ferment"] == "met"
    assert verdicts(step, end_ph=4.8)["1:pH after the ferment"] == "not met"


def test_the_meters_error_counts_against_the_row_whichever_way_that_is() -> None:
    acid, mild = kill_step_of("90f-4.6-55mm-heat"), kill_step_of("70f-5.0-55mm-heat")
    for step, ph in ((acid, 4.55), (mild, 5.05)):
        assert verdicts(step, end_ph=ph, ph_error=0.05)["1:pH after the ferment"] == "met"
        assert verdicts(step, end_ph=ph, ph_error=0.06)["1:pH after the ferment"] == "not met"


@pytest.mark.parametrize("row", rows_of("ecoli_inactivation_McQuestin2009.csv"), ids=lambda row: row["T_C"] + "C")
def test_e_coli_falls_while_drying_as_mcquestin_found(row: dict[str, str]) -> None:
    # McQuestin, Shadbolt and Ross (2009), Appl. Environ. Microbiol. 75:6963.
    temp_c = float(row["T_C"])
    assert ecoli_log_per_day(temp_c) == pytest.approx(float(row["log10_per_day"]), abs=5.1e-6)
    assert 1.0 / ecoli_log_per_day(temp_c) == pytest.approx(float(row["D_days"]), abs=5.1e-6)
    for powers in (2, 3, 5):
        days = float(row[f"days_for_{powers}log"])
        log = [(86_400.0 * days * part / 20.0, temp_c) for part in range(21)]
        assert ecoli_drying_log(log) == pytest.approx(powers, abs=1e-4)


def test_e_coli_is_not_reckoned_beyond_where_the_relation_holds() -> None:
    with pytest.raises(ValueError, match="holds from 0 to 47"):
        ecoli_log_per_day(50.0)
    assert ecoli_drying_log([(0.0, -5.0), (86_400.0, -5.0)]) == 0.0
    assert ecoli_drying_log([(0.0, 60.0), (86_400.0, 60.0)]) == pytest.approx(ecoli_log_per_day(47.0))
