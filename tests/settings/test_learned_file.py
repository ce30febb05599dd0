"""The learned file: read with all its problems at once, used for the one chamber it was made with, never in the way."""

from pathlib import Path
from typing import Final

import pytest
from msgspec.structs import replace

from controller.errors import NoInputError, SettingsError
from controller.review.learning.written import encode_learned
from controller.settings.chamber_file import ChamberFile, plan_of
from controller.settings.chamber_plan import simc
from controller.settings.learned_file import (
    FILE,
    RANGES,
    Figure,
    Learned,
    LearnedGains,
    Made,
    read_learned,
    use_learned,
)
from tests.helpers.shipped_chambers import shipped_chamber

BOX: Final = shipped_chamber("insulated-box")
GAINS: Final = LearnedGains(
    window_s=60.0, heat_per_k=0.2, heat_ti_s=1000.0, ms=1.5, simc_per_k=0.25, simc_ti_s=750.0, simc_ms=1.75,
    amigo_per_k=0.16, amigo_ti_s=970.0, amigo_ms=1.4,
)  # fmt: skip
MADE: Final = Made(
    test="2026-01-05-1", on="2026-01-05T06:01:00Z", chamber="insulated-box", lamp_w=60.0, switch="solid-state",
    thermometer="ds18b20 28-000000000001", volume_l=75.0, ml_per_h=150.0, room_c=20.0, room_is="measured",
)  # fmt: skip
LEARNED: Final = Learned(
    made=MADE,
    dead_s=Figure(value=80.0, error=3.0, in_file=60.0),
    slope_k_per_min=Figure(value=1.5, error=0.1),
    ua_w_per_k=Figure(value=1.2, error=0.1),
    air_wall_w_per_k=Figure(value=9.0, error=1.0),
    wall_j_per_k=Figure(value=3000.0, error=100.0),
    lamp_s=Figure(value=50.0, error=5.0),
    mist_pct_per_s=Figure(value=2.0, error=0.2),
    cool_dead_s=Figure(because="the chamber has no cooling"),
    gains=GAINS,
)


def written(folder: Path, learned: Learned = LEARNED, *changed: tuple[str, str]) -> Path:
    """Put a learned file into a folder, with some of its text changed."""
    text = encode_learned(learned)
    for old, new in changed:
        assert old in text
        text = text.replace(old, new, 1)
    (folder / FILE).write_text(text)
    return folder / FILE


def test_what_is_written_is_read_back(tmp_path: Path) -> None:
    assert read_learned(written(tmp_path)) == LEARNED


def test_the_plan_goes_by_what_was_learned() -> None:
    plan, usual = plan_of(BOX, LEARNED), plan_of(BOX)
    assert (plan.figures.ua_w_per_k, plan.figures.wall_j_per_k, plan.figures.air_wall_w_per_k) == (1.2, 3000.0, 9.0)
    assert plan.figures.mist_pct_per_s == 2.0
    assert plan.figures.lamp_s == pytest.approx(50.0)
    kc, ti_s = simc(1.5 / 60.0, 80.0, 60.0)
    assert plan.gains.heat_per_k / kc == pytest.approx(usual.gains.heat_per_k / simc_of_file()[0])
    assert plan.gains.heat_ti_s / ti_s == pytest.approx(usual.gains.heat_ti_s / simc_of_file()[1])
    assert plan.limits == usual.limits, "nothing that protects hangs on it"
    assert plan.thresholds == usual.thresholds
    assert plan.response_s == usual.response_s


def simc_of_file() -> tuple[float, float]:
    from controller.settings.chamber_plan import lamp_response

    return simc(*lamp_response(BOX.model, 60.0, 120.0), 60.0)


def test_of_a_loaded_chamber_only_the_gains_are_used() -> None:
    nothing = Figure(because="the chamber was loaded: three hours cannot show it")
    learned = replace(LEARNED, ua_w_per_k=nothing, air_wall_w_per_k=nothing, wall_j_per_k=nothing, lamp_s=nothing)
    plan, usual = plan_of(BOX, learned), plan_of(BOX)
    assert plan.figures.ua_w_per_k == usual.figures.ua_w_per_k
    assert plan.figures.lamp_s == usual.figures.lamp_s
    assert plan.gains.heat_per_k == plan_of(BOX, LEARNED).gains.heat_per_k != usual.gains.heat_per_k


def other_lamp(w: float) -> ChamberFile:
    outputs = tuple(replace(one, w=w) if one.role == "heater" else one for one in BOX.output)
    return replace(BOX, output=outputs)


OTHERS: Final = {
    "made with a lamp of 60 W, this one has 100 W": other_lamp(100.0),
    "made with a solid-state switch at the lamp, this one is mechanical": replace(
        BOX, output=tuple(replace(one, switch="mechanical") for one in BOX.output)
    ),
    "made with the air thermometer ds18b20 28-000000000001, this one is ds18b20 28-0000000000ff": replace(
        BOX,
        sensor=tuple(replace(one, id="28-0000000000ff") if one.channel == "air_temp" else one for one in BOX.sensor),
    ),
    "made in a chamber of 75 l, this one has 100 l": replace(BOX, model=replace(BOX.model, volume_l=100.0)),
}


@pytest.mark.parametrize("why", OTHERS)
def test_it_is_not_used_for_another_chamber(why: str, tmp_path: Path) -> None:
    written(tmp_path)
    assert use_learned(tmp_path, BOX).learned == LEARNED
    use = use_learned(tmp_path, OTHERS[why])
    assert use.learned is None
    assert use.why_not == f"learned figures not used: {why}"


@pytest.mark.parametrize(("name", "value"), [("wall_j_per_k", 200_000.0), ("ua_w_per_k", 30.0), ("ua_w_per_k", 0.05)])
def test_figures_that_would_blind_the_rules_of_the_lamp_are_not_used(name: str, value: float, tmp_path: Path) -> None:
    """Each is within what any chamber can have; this one's file has 4000 J/K and 0.9 W/K."""
    low, high = RANGES[name]
    assert low <= value <= high
    written(tmp_path, replace(LEARNED, **{name: Figure(value=value, error=0.1)}))
    use = use_learned(tmp_path, BOX)
    assert use.learned is None
    assert f"{name} = {value:g} is more than 10 times off" in use.why_not


def test_a_lamp_whose_number_differs_by_little_is_the_same_one(tmp_path: Path) -> None:
    written(tmp_path)
    assert use_learned(tmp_path, other_lamp(62.0)).learned is not None
    assert use_learned(tmp_path, other_lamp(64.0)).learned is None


def test_without_a_file_nothing_is_said(tmp_path: Path) -> None:
    use = use_learned(tmp_path, BOX)
    assert (use.learned, use.why_not) == (None, "")
    with pytest.raises(NoInputError):
        read_learned(tmp_path / FILE)


@pytest.mark.parametrize("name", RANGES)
def test_what_no_chamber_has_is_no_figure(name: str, tmp_path: Path) -> None:
    low, high = RANGES[name]
    path = written(tmp_path, replace(LEARNED, **{name: Figure(value=high * 1.01 + 1.0)}))
    with pytest.raises(SettingsError, match=rf"{name}\.value = .*take {low:g} to {high:g}"):
        read_learned(path)


def test_all_problems_are_told_at_once(tmp_path: Path) -> None:
    path = written(
        tmp_path, LEARNED,
        ("value = 80.0", "value = 8000.0"), ("value = 1.5", 'value = "fast"'), ("lamp_w = 60.0", "lamp_w = -1.0"),
        ("ms = 1.5", "ms = nan"), ("version = 1", "version = 7"),
    )  # fmt: skip
    with pytest.raises(SettingsError) as told:
        read_learned(path)
    for key in ("dead_s.value", "slope_k_per_min.value", "made.lamp_w", "gains.ms", "version"):
        assert key in str(told.value)


@pytest.mark.parametrize(
    "damage",
    [
        b"",
        b"\xff\xfe\x00",
        b"version = 1\n",
        b"[dead_s\n",
        b"dead_s = 3\n",
        b"x" * 200_000,
        b"[made]\nlamp_w = 1e999\n",
    ],
)
def test_a_damaged_file_never_stops_anything_and_is_told(damage: bytes, tmp_path: Path) -> None:
    (tmp_path / FILE).write_bytes(damage)
    use = use_learned(tmp_path, BOX)
    assert use.learned is None
    assert use.why_not.startswith("learned figures not used: learned.toml")
    assert use.why_not.endswith("; the chamber file's own are")


def test_a_folder_in_its_place_never_stops_anything(tmp_path: Path) -> None:
    (tmp_path / FILE).mkdir()
    assert use_learned(tmp_path, BOX).learned is None
