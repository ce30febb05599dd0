"""What follows from a chamber file: defaults by kind of switch, gains from the model's figures, heat refused or not."""

import csv
import datetime as dt
from pathlib import Path
from typing import Final

import pytest
from msgspec.structs import replace

from controller.core.plan import Chamber
from controller.settings.chamber_file import ChamberFile, OutputEntry, find_chamber, plan_of, read_chamber
from controller.settings.chamber_plan import lamp_response, simc
from tests.helpers.shipped_chambers import shipped_chamber

DATA: Final = Path(__file__).parents[1] / "data"
CHAMBERS: Final = ("insulated-box", "plywood-cabinet", "old-fridge")


def file(name: str) -> ChamberFile:
    return shipped_chamber(name, dt.date(2026, 2, 1))


def rows(name: str) -> list[dict[str, str]]:
    lines = (DATA / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def timing(plan: Chamber, role: str) -> tuple[float, float, float]:
    output = next(output for output in plan.outputs if output.role == role)
    return output.window_s, output.min_on_s, output.min_off_s


@pytest.mark.parametrize("row", rows("chamber_parameters.csv"), ids=lambda row: f"{row['chamber']} {row['key']}")
def test_a_shipped_chamber_has_the_published_figure(row: dict[str, str]) -> None:
    chamber = file(row["chamber"])
    role, _, key = row["key"].partition(".")
    if key:
        found = next(getattr(output, key) for output in chamber.output if output.role == role)
    elif role == "meat_area_m2":
        return  # Belongs to the sausage, not to the file.
    else:
        found = getattr(chamber.model, role)
    assert found == float(row["value"])


@pytest.mark.parametrize("row", rows("heat_gains.csv"), ids=lambda row: row["chamber"])
def test_the_gains_of_the_rule_are_the_published_ones(row: dict[str, str]) -> None:
    chamber = file(row["chamber"])
    lamp_w = next(output.w for output in chamber.output if output.role == "heater")
    assert lamp_w is not None
    slope, dead_s = lamp_response(chamber.model, lamp_w, 120.0)
    kc, ti_s = simc(slope, dead_s, float(row["window_s"]))
    # The published figures have two digits.
    assert slope * 60.0 == pytest.approx(float(row["slope_k_per_min"]), rel=0.02)
    assert float(row["dead_low_s"]) - 1.0 <= dead_s <= float(row["dead_high_s"]) + 1.0
    assert kc == pytest.approx(float(row["kc_per_k"]), rel=0.03)
    assert ti_s == pytest.approx(float(row["ti_s"]), rel=0.02)


def test_the_shipped_gains_are_three_quarters_of_them() -> None:
    plan = plan_of(file("old-fridge"))
    slope, dead_s = lamp_response(file("old-fridge").model, 60.0, 120.0)
    kc, ti_s = simc(slope, dead_s, 60.0)
    assert plan.gains.heat_per_k == pytest.approx(0.75 * kc)
    assert plan.gains.heat_ti_s == pytest.approx(ti_s / 0.75)


def test_a_slower_switch_makes_a_gentler_loop() -> None:
    box = file("insulated-box")
    slow = replace(box, output=(replace(box.output[0], switch="mechanical"), *box.output[1:]))
    assert plan_of(slow).gains.heat_per_k < plan_of(box).gains.heat_per_k / 2.0
    assert plan_of(slow).gains.heat_ti_s > plan_of(box).gains.heat_ti_s * 2.0


@pytest.mark.parametrize(("lamp_j_per_k", "wall_j_per_k", "response_s"), [(1e-3, 1e-3, 0.5), (2000.0, 2e5, 900.0)])
def test_extreme_figures_still_give_a_loop(lamp_j_per_k: float, wall_j_per_k: float, response_s: float) -> None:
    model = replace(
        file("insulated-box").model, lamp_j_per_k=lamp_j_per_k, lamp_w_per_k=20.0, wall_j_per_k=wall_j_per_k
    )
    slope, dead_s = lamp_response(model, 60.0, response_s)
    assert 0.0 < slope < 60.0 / 300.0  # Nothing warms faster than the fittings alone would.
    assert 0.0 <= dead_s < 3600.0


def test_an_output_is_switched_by_its_kind_where_the_file_says_nothing() -> None:
    assert timing(plan_of(file("insulated-box")), "heater") == (60.0, 2.0, 2.0)
    assert timing(plan_of(file("plywood-cabinet")), "heater") == (300.0, 20.0, 20.0)
    fridge = file("old-fridge")
    assert timing(plan_of(fridge), "humidifier") == (150.0, 1.0, 120.0)
    board = tuple(replace(entry, switch="solid-state") for entry in fridge.output if entry.role != "cooler")
    assert timing(plan_of(replace(fridge, output=board)), "humidifier") == (30.0, 1.0, 20.0)
    assert timing(plan_of(fridge), "cooler") == (600.0, 120.0, 300.0)
    assert timing(plan_of(fridge), "fan") == (3600.0, 10.0, 10.0)
    more = (*fridge.output, OutputEntry(role="dehumidifier", pin=5, w=60.0), OutputEntry(role="fresh_air", pin=6))
    plan = plan_of(replace(fridge, output=more))
    assert timing(plan, "dehumidifier") == (600.0, 180.0, 300.0)
    assert timing(plan, "fresh_air") == (3600.0, 10.0, 10.0)


def test_what_the_file_says_goes_before_the_default() -> None:
    box = file("insulated-box")
    said = replace(box.output[0], window_s=100.0, min_on_s=0.0, min_off_s=5.0)
    assert timing(plan_of(replace(box, output=(said, box.output[1]))), "heater") == (100.0, 0.0, 5.0)


def test_a_humidity_sensor_is_a_witness_of_the_temperature_too() -> None:
    plan = plan_of(file("old-fridge"))
    assert plan.channels == ("air_temp", "rh", "rh_temp", "ambient_temp")
    assert plan.response_s == {"air_temp": 120.0, "rh": 8.0, "rh_temp": 8.0, "ambient_temp": 120.0}


def test_the_mist_is_capped_by_what_the_box_may_take_in_an_hour() -> None:
    box = file("insulated-box")
    said = replace(box, limits=replace(box.limits, mist_ml_per_h=30.0))
    humidifier = plan_of(said).output("humidifier")
    assert humidifier is not None
    assert plan_of(said).limits.mist_ml_per_h == 30.0
    assert humidifier.max_duty == pytest.approx(30.0 / 150.0)


@pytest.mark.parametrize("name", CHAMBERS)
def test_the_cap_left_out_lies_between_one_filling_and_the_full_flow(name: str) -> None:
    chamber, plan = file(name), plan_of(file(name))
    # Saturated air of 36 °C holds 41.7 g/m3 (Smithsonian Meteorological Tables, from memory).
    filling_ml = 41.7 * chamber.model.volume_l / 1000.0
    flow = next(output.ml_per_h for output in chamber.output if output.role == "humidifier")
    assert flow is not None
    assert filling_ml < plan.limits.mist_ml_per_h <= flow


def test_one_second_of_mist_lifts_a_small_box_more_than_a_large_one() -> None:
    # A humidifier of 200 ml/h adds 6.5, 2.0 and 1.5 %RH a second in 75, 250 and 330 l at 13 °C (calculated, published
    # with one decimal); the figures here are for 20 °C, where air holds 17.28 instead of 11.34 g/m3 (Smithsonian
    # Meteorological Tables, from memory).
    for name, at_13_c in (("insulated-box", 6.5 * 150.0 / 200.0), ("plywood-cabinet", 2.0), ("old-fridge", 1.5)):
        assert plan_of(file(name)).figures.mist_pct_per_s * 17.28 / 11.34 == pytest.approx(at_13_c, rel=0.03)


@pytest.mark.parametrize(
    ("lacking", "named"),
    [
        ({"thermal_cutout_c": None}, "(thermal_cutout_c missing)"),
        ({"cutout_tested_on": None}, "(cutout_tested_on missing)"),
        ({"thermal_cutout_c": None, "cutout_tested_on": None}, "(thermal_cutout_c and cutout_tested_on missing)"),
    ],
)
def test_without_a_tested_cut_out_the_plan_refuses_heat_and_says_what_is_missing(
    lacking: dict[str, None], named: str
) -> None:
    assert plan_of(file("old-fridge")).heat_refused == ""
    assert named in plan_of(replace(file("old-fridge"), **lacking)).heat_refused


def test_a_file_without_a_cut_out_is_read_all_the_same(tmp_path: Path) -> None:
    path = tmp_path / "bare.toml"
    lines = find_chamber("old-fridge").read_text(encoding="utf-8").splitlines()
    path.write_text("\n".join(line for line in lines if "cutout" not in line.split("=")[0]), encoding="utf-8")
    assert plan_of(read_chamber(path)).heat_refused != ""
