"""What a step test finds of a modelled chamber, held against what the model really is.

The truth is the simulator's own: its figures, and the answer of its model to the full lamp, seen by a probe of the
true response. How far a figure may be off is its own stated error.
"""

import datetime as dt
import shutil
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import Final

import numpy as np
import pytest
from _pytest.mark import ParameterSet
from msgspec.structs import replace

from controller.app.learning import ModelTest, learn_with
from controller.errors import DataError
from controller.records.steps import FILE, HEAD, StepHead, encode_head
from controller.review.learning.learned import Result, learn_from
from controller.review.learning.lumped import AIR, BODIES, PROBE, WALL, Box, lags_s, matrices, run, tangent
from controller.review.learning.picture import draw
from controller.review.learning.rows import NonsenseError, read_head
from controller.review.learning.written import encode_learned
from controller.settings.chamber_file import ChamberFile
from controller.settings.learned_file import FIGURES, Figure
from controller.simulator.chamber_model import ChamberModel
from controller.simulator.chamber_parameters import parameters_of
from controller.simulator.load import Bottles
from tests.helpers.shipped_chambers import shipped_chamber

BEGIN_WALL_S: Final = dt.datetime(2026, 1, 5, 6, tzinfo=dt.UTC).timestamp()
Changed = Callable[[int, dict[str, str]], bool]
SMALL_STEP_K: Final = 5.0
"""A strong lamp on a hot day is off again after a minute; its step is small, and the error that is told larger."""
SELDOM_S: Final = 8.0
"""A tick as long as the file allows: half as many of them. The chamber of two thermometers has the usual 5 s."""
SIGMAS: Final = 3.0
"""A figure may be off by so many of its own standard errors: one in 400 is, and some dozens are looked at."""


@dataclass(frozen=True)
class Case:
    """Hold a chamber as its file says, and as it really is."""

    file: ChamberFile
    true: ChamberFile
    ambient_c: float | None
    seed: int
    loaded_kg: float = 0.0


def case(
    name: str, *, seed: int = 1, lamp_w: float | None = None, probe_s: float | None = None,
    ambient_c: float | None = None, loaded_kg: float = 0.0, drawn: bool = False,
) -> Case:  # fmt: skip
    """Return a case; with `drawn` the true walls and lamp differ by up to half from what the file says."""
    file = shipped_chamber(name)
    outputs = tuple(replace(one, w=lamp_w) if one.role == "heater" and lamp_w else one for one in file.output)
    file = replace(file, output=outputs, tick_s=SELDOM_S)
    true = file
    if probe_s is not None:
        sensors = tuple(replace(one, response_s=probe_s) if one.channel == "air_temp" else one for one in file.sensor)
        true = replace(true, sensor=sensors)
    if drawn:
        random, model = Random(seed), file.model
        walls = {
            "ua_w_per_k": model.ua_w_per_k * random.uniform(0.6, 1.5),
            "air_wall_w_per_k": model.air_wall_w_per_k * random.uniform(0.6, 1.5),
            "wall_j_per_k": model.wall_j_per_k * random.uniform(0.5, 1.6),
            "lamp_radiant": random.uniform(0.2, 0.6),
            "lamp_w_per_k": model.lamp_w_per_k * random.uniform(0.7, 1.3),
        }
        true = replace(true, model=replace(model, **walls))
    return Case(file, true, ambient_c, seed, loaded_kg)


def left_by_test(one: Case, out: Path, *faults: str) -> Path:
    """Let the daemon do the test on the true chamber; what it leaves names the file, which knows no better."""
    test = ModelTest(
        chamber=out, out=out, begin_wall_s=BEGIN_WALL_S, seed=one.seed, ambient_c=one.ambient_c,
        loaded_kg=one.loaded_kg, faults=faults,
    )  # fmt: skip
    folder = learn_with(one.true, test)
    head = read_head(folder)
    (folder / HEAD).write_bytes(
        encode_head(StepHead(name=head.name, began=head.began, loaded_kg=head.loaded_kg, chamber=one.file))
    )
    return folder


def true_answer(one: Case) -> tuple[float, float]:
    """Return steepest slope (K/min) and its dead time (s) of the simulator's own model under the full lamp."""
    model = ChamberModel(parameters_of(one.true), room_c=20.0, room_rh_pct=50.0)
    if one.loaded_kg:
        bottles = Bottles(one.loaded_kg, 20.0)
        model.hang(bottles.mass_kg, 20.0)
        model.set_meat(bottles.mass_kg, bottles.area_m2, 0.0, 0.0, 0.0)
    leading = next(sensor for sensor in one.true.sensor if sensor.channel == "air_temp")
    response_s, shown_c, steepest, dead_s = leading.response_s or 120.0, 20.0, 0.0, 0.0
    model.lamp_on = True
    for second in range(3600):
        slope = (model.air_c - shown_c) / response_s
        if slope > steepest:
            steepest, dead_s = slope, second - (shown_c - 20.0) / slope
        model.advance(1.0)
        shown_c += slope
    return 60.0 * steepest, dead_s


def near(figure: Figure, truth: float) -> bool:
    """Say whether a figure is as near to the truth as it says itself."""
    assert figure.value is not None, figure.because
    assert figure.error is not None
    return abs(figure.value - truth) <= SIGMAS * figure.error


CASES: Final = {
    "box": case("insulated-box"),
    "box in a cold garage, other walls": case("insulated-box", ambient_c=5.0, drawn=True, seed=2),
    "box on a hot day": case("insulated-box", ambient_c=32.0),
    "box, 250 W": case("insulated-box", lamp_w=250.0),
    "box, probe in steel, other walls": case("insulated-box", probe_s=400.0, drawn=True, seed=3),
    "plywood": case("plywood-cabinet"),
    "plywood, 250 W, probe in steel, other walls": case(
        "plywood-cabinet", lamp_w=250.0, probe_s=400.0, drawn=True, seed=4
    ),
    "fridge": case("old-fridge"),
    "fridge in a cold garage, other walls": case("old-fridge", ambient_c=5.0, drawn=True, seed=5),
    "fridge on a hot day, 250 W": case("old-fridge", ambient_c=32.0, lamp_w=250.0),
    "box, 5 kg": case("insulated-box", loaded_kg=5.0),
    "plywood, 10 kg, other walls": case("plywood-cabinet", loaded_kg=10.0, drawn=True, seed=6),
    "fridge, 12 kg": case("old-fridge", loaded_kg=12.0),
}  # fmt: skip
EMPTY: Final = [name for name, one in CASES.items() if not one.loaded_kg]
ORDINARY: Final = {
    "box", "fridge", "plywood, 250 W, probe in steel, other walls", "fridge in a cold garage, other walls",
    "fridge, 12 kg",
}  # fmt: skip


def each(names: Iterable[str]) -> list[ParameterSet]:
    """Return the cases as parameters; those that differ less from the others belong to the long run."""
    return [pytest.param(name, marks=() if name in ORDINARY else pytest.mark.long) for name in names]


_RESULTS: Final[dict[str, Result]] = {}


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Result]:
    """Return what does the test of a case, once."""

    def find(name: str) -> Result:
        if name not in _RESULTS:
            _RESULTS[name] = learn_from(left_by_test(CASES[name], tmp_path_factory.mktemp("learn")))
        return _RESULTS[name]

    return find


@pytest.mark.parametrize("name", each(CASES))
def test_dead_time_and_slope_are_found_within_their_stated_error(name: str, found: Callable[[str], Result]) -> None:
    slope, dead_s = true_answer(CASES[name])
    learned = found(name).learned
    assert near(learned.dead_s, dead_s)
    assert near(learned.slope_k_per_min, slope)
    assert (learned.dead_s.error or 0.0) <= max(15.0, 0.2 * dead_s)
    assert (learned.slope_k_per_min.error or 0.0) <= 0.1 * slope


@pytest.mark.parametrize("name", each(EMPTY))
def test_an_empty_chamber_shows_what_holds_it_within_its_stated_error(
    name: str, found: Callable[[str], Result]
) -> None:
    learned, truth = found(name).learned, CASES[name].true.model
    leak_w_per_k = truth.leak_per_h / 3600.0 * truth.volume_l / 1000.0 * 1.2 * 1006.0
    assert near(learned.ua_w_per_k, truth.ua_w_per_k + leak_w_per_k)
    assert near(learned.wall_j_per_k, truth.wall_j_per_k)
    assert near(learned.air_wall_w_per_k, truth.air_wall_w_per_k)
    rise_k = float(np.max(found(name).fitted.curve_c)) - found(name).fitted.start_c
    assert (learned.ua_w_per_k.error or 0.0) <= (0.1 if rise_k > SMALL_STEP_K else 0.2) * truth.ua_w_per_k


@pytest.mark.parametrize("name", each(name for name in CASES if name not in EMPTY))
def test_a_loaded_chamber_does_not_say_what_holds_it(name: str, found: Callable[[str], Result]) -> None:
    learned = found(name).learned
    for figure in (learned.ua_w_per_k, learned.wall_j_per_k, learned.air_wall_w_per_k, learned.slow_lag_s):
        assert figure.value is None
        assert "three hours cannot show it" in figure.because
    assert learned.gains.heat_per_k > 0.0


@pytest.mark.parametrize("name", each(CASES))
def test_the_response_of_the_probe_itself_is_found(name: str, found: Callable[[str], Result]) -> None:
    leading = next(one for one in CASES[name].true.sensor if one.channel == "air_temp")
    assert near(found(name).learned.probe_s, leading.response_s or 120.0)


@pytest.mark.parametrize("name", each(["box", "plywood", "fridge", "fridge, 12 kg"]))
def test_a_second_of_mist_is_found(name: str, found: Callable[[str], Result]) -> None:
    true = CASES[name].true
    flow_g_per_s = sum(one.ml_per_h or 0.0 for one in true.output if one.role == "humidifier") / 3600.0
    lift_pct = 100.0 * flow_g_per_s / (true.model.volume_l / 1000.0) / 17.3  # g/m3 of saturated air at 20 °C.
    assert near(found(name).learned.mist_pct_per_s, lift_pct)


@pytest.mark.parametrize("name", each(CASES))
def test_every_gain_is_robust_enough(name: str, found: Callable[[str], Result]) -> None:
    gains = found(name).learned.gains
    assert gains.ms < gains.simc_ms < 1.9
    assert gains.amigo_ms < 1.5


def test_both_thermometers_are_told_apart(tmp_path: Path) -> None:
    file = shipped_chamber("insulated-box")
    sensors = tuple(replace(one, offset_k=0.4) if one.channel == "air_temp" else one for one in file.sensor)
    folder = learn_with(
        replace(file, sensor=sensors), ModelTest(chamber=tmp_path, out=tmp_path, begin_wall_s=BEGIN_WALL_S)
    )
    offset = learn_from(folder).learned.offset_k
    assert offset.value == pytest.approx(-0.4, abs=0.05)


def test_the_cooling_is_found(found: Callable[[str], Result]) -> None:
    learned = found("fridge").learned
    steps = found("fridge").steps
    begin_s = steps.begin_s("cool") or 0.0
    air_c = steps.values["air_temp"]
    cold, apart = np.flatnonzero(steps.at_s >= begin_s), round(60.0 / steps.step_s)
    steepest = -min(air_c[place + apart] - air_c[place] for place in cold[:-apart]) * 60.0 / (apart * steps.step_s)
    assert learned.cool_slope_k_per_min.value == pytest.approx(steepest, rel=0.15)
    assert 30.0 < (learned.cool_dead_s.value or 0.0) < 200.0
    assert 0.0 < (learned.after_cool_k.value or 0.0) < 2.0
    assert found("box").learned.cool_dead_s.because == "the chamber has no cooling"


# What the fit itself rests on.


def test_the_modes_move_the_chamber_as_small_steps_do() -> None:
    box = Box(0.9, 8.0, 4000.0, 390.0, 60.0, 0.35, 60.0, 67.0, 120.0, 20.0, load_j_per_k=20_000.0, load_w_per_k=2.0)
    on = np.array([0.0, *[1.0] * 100, 0.5, *[0.0] * 100])
    start = np.linspace(-1.0, 1.0, BODIES)
    by_modes = run(box, start, on, np.full(len(on), -2.0), 5.0)
    a, b = matrices(box)
    state = start.copy()
    for place in range(1, len(on)):
        for _ in range(100):
            state = state + 0.05 * (a @ state + b @ np.array([on[place], -2.0]))
    assert by_modes[-1] == pytest.approx(state, abs=5e-3)


def test_the_lags_and_the_tangent_are_those_of_the_reference_chambers() -> None:
    """Of the empty 75 l chest: 37/80/120/4900 s with a DS18B20 of 120 s, by its eigenvalues (reckoned by others)."""
    box = Box(0.9, 8.0, 4000.0, 390.0, 60.0, 0.35, 60.0, 60.0 / 0.9, 120.0, 20.0)
    assert lags_s(box) == pytest.approx((4900.0, 120.0, 80.0, 37.0), rel=0.05)
    slope, dead_s = tangent(box)
    assert 45.0 < dead_s < 80.0
    assert slope * 60.0 == pytest.approx(1.25, rel=0.05)
    far = run(box, np.zeros(BODIES), np.ones(20_000), np.zeros(20_000), 5.0)[-1]
    assert far[AIR] == pytest.approx(far[PROBE], rel=1e-6)
    assert far[WALL] == pytest.approx(60.0 / 0.9, rel=1e-3)  # All the lamp's heat leaves through the wall.


# What is refused, and with which words.


@pytest.mark.parametrize(
    ("faults", "says"),
    [
        (("lamp-burnt@12m/3h",), "A3: heating without warming"),
        (("power-cut@40m/1m",), "the program ended in the middle of it"),
        (("missing:air_temp@30m/5m",), "S1: sensor missing"),
    ],
)
def test_a_test_that_was_broken_off_is_refused_with_its_reason(
    faults: tuple[str, ...], says: str, tmp_path: Path
) -> None:
    folder = left_by_test(case("insulated-box"), tmp_path, *faults)
    with pytest.raises(NonsenseError, match="broken off") as refused:
        learn_from(folder)
    assert says in str(refused.value)


def test_a_door_that_no_contact_saw_is_found_in_the_curve(tmp_path: Path) -> None:
    folder = left_by_test(case("insulated-box"), tmp_path, "door-open@45m/10m")
    with pytest.raises(NonsenseError, match=r"the air did what lamp and walls do not|the door was opened"):
        learn_from(folder)


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder of a test that went well."""
    return left_by_test(CASES["box"], tmp_path_factory.mktemp("whole"))


def spoiled(whole: Path, into: Path, change: Changed) -> Path:
    """Return a copy of a test's folder whose rows were changed."""
    folder = into / "spoiled"
    shutil.copytree(whole, folder)
    lines = (folder / FILE).read_text().splitlines()
    rows = [dict(zip(lines[0].split(","), line.split(","), strict=True)) for line in lines[1:]]
    kept = [row for number, row in enumerate(rows) if change(number, row)]
    text = "\r\n".join([lines[0], *(",".join(row.values()) for row in kept)]) + "\r\n"
    (folder / FILE).write_bytes(text.encode())
    return folder


def shaken(number: int, row: dict[str, str]) -> bool:
    row["air_temp_c"] = f"{float(row['air_temp_c']) + (0.8 if number % 2 else -0.8):.4f}"
    return True


def opened(number: int, row: dict[str, str]) -> bool:
    row["door_open"] = "yes" if number == 300 else ""
    return True


def holed(number: int, row: dict[str, str]) -> bool:
    del row
    return not 300 < number < 340


def flat(number: int, row: dict[str, str]) -> bool:
    del number
    row["air_temp_c"] = row["rh_temp_c"] = "20.0000"
    return True


def restless(number: int, row: dict[str, str]) -> bool:
    row["air_temp_c"] = f"{float(row['air_temp_c']) - max(0, 120 - number) * 0.02:.4f}"
    return True


def stormy(number: int, row: dict[str, str]) -> bool:
    row["ambient_temp_c"], row["ambient_temp_age_s"] = f"{20.0 + 0.004 * number:.4f}", "0"
    return True


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (shaken, "scatters by 0.80 K at rest, limit 0.3 K"),
        (opened, "the door was opened in it"),
        (holed, "rows are missing: the longest hole is 320 s"),
        (flat, "the air hardly rose: 0.0 K"),
        (restless, "the chamber was not at rest"),
        (stormy, "the room swung by 3.2 K"),
    ],
)
def test_nonsense_is_refused_with_a_reason(change: Changed, says: str, whole: Path, tmp_path: Path) -> None:
    with pytest.raises(NonsenseError) as refused:
        learn_from(spoiled(whole, tmp_path, change))
    assert says in str(refused.value)


def test_a_damaged_file_is_told_and_ends_in_no_traceback(whole: Path, tmp_path: Path) -> None:
    for number, text in enumerate((b"", b"\xff\xfe", b"time,phase,note\r\n1,heat,x\r\n", b"a,b\r\n" * 5000)):
        folder = tmp_path / str(number)
        shutil.copytree(whole, folder)
        (folder / FILE).write_bytes(text)
        with pytest.raises(DataError):
            learn_from(folder)


def test_the_page_tells_every_figure_and_escapes_what_it_is_told(found: Callable[[str], Result]) -> None:
    result = found("fridge")
    odd = replace(result.learned, made=replace(result.learned.made, chamber="<script>&"))
    page = draw(type(result)(odd, result.steps, result.fitted, result.rest))
    assert "&lt;script&gt;&amp;" in page
    assert "<script>" not in page
    for name in FIGURES:
        figure: Figure = getattr(result.learned, name)
        assert figure.value is None or f"{figure.value:g} " in page
    text = encode_learned(result.learned)
    assert all(f"[{name}]" in text for name in FIGURES)
