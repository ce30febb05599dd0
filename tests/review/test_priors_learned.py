"""Priors learned from folders of finished batches of invented makers, what counts, and what forecasts make of them.

Whole makers come from `tests.bench.priors`; the 200 of each kind: `python -m tests.bench.priors`.
"""

from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from random import Random
from statistics import fmean
from typing import Final

import numpy as np
import pytest
from msgspec.structs import replace
from scipy import stats

from controller.core.sheet import Sheet, StarterChoice
from controller.food.bowl.cure import Strength
from controller.food.bowl.formulation import Formula
from controller.review.forecast.folder import Outlook, outlook
from controller.review.forecast.told import Forecast, words_of
from controller.review.priors.kept import (
    FILE,
    AcidPrior,
    DryingPrior,
    LeftOut,
    Priors,
    encode_priors,
    read_priors,
    use_priors,
    write_priors,
)
from controller.review.priors.lessons import Lesson, Lessons, lessons_of
from controller.review.priors.shrinking import usual
from tests.bench.priors import FIRST_SEED, KINDS, PARTS, Taught, teach
from tests.helpers.batch_logs import HOUR_S, Log
from tests.helpers.makers import RAW, leave, raw_log
from tests.helpers.recorded import WALL_S

SLOPE_LN, LAG_LN, DAYS_LN = -0.2, 0.3, -0.5
"""A starter that waits a third longer and falls less steeply, and a chamber that dries quickly."""
BATCHES: Final = 5
Change = Callable[[Log], object]


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the state folder of a maker with five finished batches."""
    state_dir, random = tmp_path_factory.mktemp("maker"), Random(3)
    for number in range(BATCHES):
        shift = (SLOPE_LN + random.gauss(0.0, 0.06), LAG_LN + random.gauss(0.0, 0.08))
        log = raw_log(shift, DAYS_LN + random.gauss(0.0, 0.1), 100 + number)
        leave(state_dir, f"2026-01-0{number + 1}-raw-1", log, began_day=number)
    return state_dir


@pytest.fixture(scope="module")
def lessons(home: Path) -> Lessons:
    return lessons_of(home / "batches")


def the(lessons: Lessons, thing: str) -> Lesson:
    (lesson,) = (one for one in lessons.lessons if one.thing == thing)
    return lesson


def test_what_is_learned_lies_between_the_recipe_and_what_the_batches_show(lessons: Lessons) -> None:
    drying, ferment = the(lessons, "drying"), the(lessons, "ferment")
    assert drying.batches == ferment.batches == tuple(f"2026-01-0{number}-raw-1" for number in range(1, 6))
    assert DAYS_LN < drying.belief.mean[0] < 0.5 * DAYS_LN
    assert 0.5 * LAG_LN < ferment.belief.mean[1] < 1.5 * LAG_LN
    for lesson, shipped in ((drying, PARTS["drying"][0]), (ferment, PARTS["ferment"][0])):
        assert np.all(lesson.belief.spread < shipped)


def test_left_out_in_turn_the_batches_are_forecast_better_by_the_others(lessons: Lessons) -> None:
    for thing in ("drying", "ferment"):
        scores = the(lessons, thing).scores
        assert len(scores.gains) == BATCHES
        assert scores.bound is not None
        assert 0.0 < scores.bound < scores.mean
        assert scores.shipped is not None
        assert scores.learned is not None
        assert scores.learned.crps < scores.shipped.crps
        assert scores.learned.held >= scores.shipped.held
        assert the(lessons, thing).proposed
    assert the(lessons, "drying").verdict.startswith("proposed")


def test_a_new_batch_of_this_maker_is_forecast_nearer_and_says_on_how_many_it_stands(
    lessons: Lessons, tmp_path: Path
) -> None:
    log = raw_log((SLOPE_LN, LAG_LN), DAYS_LN, 900)
    truth_h = _reached_h(log)
    log.climate = [row for row in log.climate if row["stage"] == "ferment"][:36]
    log.events = log.events[:2]
    log.readings = log.readings[:1]
    folder = leave(tmp_path, "2026-03-01-raw-1", log)
    before = _of(outlook(folder), 5.3)
    write_priors(lessons.priors("2026-02-01T00:00:00Z", "anna"), tmp_path)
    after = _of(outlook(folder), 5.3)
    assert (before.batches, after.batches) == (0, BATCHES)
    assert abs(_median_h(after) - truth_h) < 0.6 * abs(_median_h(before) - truth_h)
    assert "based mainly on the recipe, and stands on 5 of your batches" in words_of(after, "UTC")


def _reached_h(log: Log) -> float:
    """Return when 5.3 was passed, on the line between the readings as they were typed."""
    ph = [((_s(row["time"]) - WALL_S) / HOUR_S, float(row["value"])) for row in log.readings if row["kind"] == "ph"]
    times, values = zip(*ph, strict=True)
    place = next(number for number, value in enumerate(values) if value <= 5.3)
    share = (values[place - 1] - 5.3) / (values[place - 1] - values[place])
    return float(times[place - 1] + share * (times[place] - times[place - 1]))


def _s(text: str) -> float:
    import datetime as dt

    return dt.datetime.fromisoformat(text).timestamp()


def _of(seen: Outlook, target: float) -> Forecast:
    return next(one for one in seen.forecasts if one.target == target)


def _median_h(forecast: Forecast) -> float:
    assert forecast.quantiles_s is not None
    return (forecast.quantiles_s[2] - WALL_S) / HOUR_S


# What counts.


def spoiled(change: Change) -> Log:
    log = raw_log(seed=500)
    change(log)
    return log


def running(log: Log) -> None:
    log.events.pop()


def gap(log: Log) -> None:
    log.climate = log.climate[:100] + log.climate[200:]


def long_gap(log: Log) -> None:
    log.climate = log.climate[:1200] + log.climate[2000:]


def correct_the_drop(log: Log) -> None:
    for row in list(log.readings):
        if row["kind"] == "ph" and float(row["value"]) < 5.7:
            log.readings.append(row | {"id": f"c{row['id']}", "replaces": row["id"], "actor": "Bert"})


def correct_a_weight(log: Log) -> None:
    row = next(row for row in log.readings if row["kind"] == "weight" and row["value"] != "400.0")
    log.readings.append(row | {"id": "c", "replaces": row["id"], "actor": "Bert"})


def measure_twice(log: Log) -> None:
    ph = [row for row in log.readings if row["kind"] == "ph"]
    log.readings = [row for row in log.readings if row["kind"] != "ph"] + ph[:2]


def weigh_twice(log: Log) -> None:
    weights = [row for row in log.readings if row["kind"] == "weight"]
    log.readings = [row for row in log.readings if row["kind"] != "weight"] + weights[:3]


def not_hung(log: Log) -> None:
    log.events = [row for row in log.events if row["kind"] != "hang"]


WHY: Final[Mapping[str, tuple[Change, str, str]]] = {
    "running": (running, "batch", "it is not over"),
    "a gap in the ferment": (gap, "ferment", "gaps: of 96 h of its ferment 17 h of the climate are on no record"),
    "a gap in the drying": (long_gap, "drying", "days of the climate are on no record"),
    "the drop was corrected": (correct_the_drop, "ferment", "were corrected and do not count (corrected by Bert)"),
    "a weight was corrected": (correct_a_weight, "drying", "1 was corrected and does not count (corrected by Bert)"),
    "few pH": (measure_twice, "ferment", "too few pH readings inside the drop (2 are needed)"),
    "few weighings": (weigh_twice, "drying", "too few weighings (2 after the first; 3 are needed)"),
    "not hung": (not_hung, "ferment", "when it was hung is on no record"),
}


@pytest.mark.parametrize(("change", "thing", "why"), WHY.values(), ids=WHY.keys())
def test_what_does_not_count_is_named_with_its_reason(change: Change, thing: str, why: str, tmp_path: Path) -> None:
    leave(tmp_path, "2026-01-01-raw-1", spoiled(change))
    found = lessons_of(tmp_path / "batches")
    assert any(one.batch == "2026-01-01-raw-1" and one.thing == thing and why in one.why for one in found.excluded), (
        found.excluded
    )
    assert all(one.thing != thing for one in found.lessons)


def test_a_damaged_reading_a_damaged_card_and_a_person_s_word_leave_a_batch_out(tmp_path: Path) -> None:
    torn = leave(tmp_path, "torn", raw_log(seed=501))
    with (torn / "readings.csv").open("a") as file:
        file.write("r99,2026-01")
    card = leave(tmp_path, "card", raw_log(seed=502))
    (card / "recipe.toml").write_text("[batch", "utf-8")
    leave(tmp_path, "told", raw_log(seed=503))
    said = LeftOut(batch="told", because="the fan stood still", by="anna", on="2026-02-01")
    found = lessons_of(tmp_path / "batches", [said])
    why = {one.batch: one.why for one in found.excluded}
    assert why["torn"] == "damaged: 1 row of readings.csv cannot be read"
    assert why["card"].startswith("damaged: ")
    assert why["told"] == "left out by anna: the fan stood still"
    assert not found.lessons
    assert found.priors("", "anna").left_out == (said,)


def test_fewer_than_five_batches_are_too_few_to_be_proposed(tmp_path: Path) -> None:
    for number in range(2):
        leave(tmp_path, f"b{number}", raw_log((SLOPE_LN, LAG_LN), DAYS_LN, 600 + number), began_day=number)
    for lesson in lessons_of(tmp_path / "batches").lessons:
        assert not lesson.proposed
        assert "2 of 5 batches" in lesson.verdict
    assert lessons_of(tmp_path / "batches").priors("", "anna") == Priors(by="anna")


def sheet(starter: str, casing: str) -> Sheet:
    choice = StarterChoice(name=starter, dose_g_per_kg=0.25, temp_c=(18.0, 40.0))
    formula = Formula(
        meats=(),
        meat_kg=4.5,
        mix_kg=4.7,
        ingredients=(),
        cure="2",
        strength=Strength(nitrite_pct=6.25),
        nitrite_ppm_us=0.0,
        nitrite_ppm_ca=0.0,
        nitrite_ppm_eu_ion=0.0,
        nitrate_ppm=0.0,
        limits=(),
        salt_pct=2.6,
        end_ph=(4.9, 5.0, 5.1),
    )
    return Sheet(formula=formula, casing=casing, starter=choice)


def test_another_chamber_does_not_learn_from_this_one(tmp_path: Path) -> None:
    for number, chamber in enumerate(("cellar", "cellar", "fridge")):
        leave(tmp_path, f"b{number}", raw_log(days_ln=DAYS_LN, seed=610 + number), chamber=chamber, began_day=number)
    groups = {(one.thing, one.key[0]): len(one.batches) for one in lessons_of(tmp_path / "batches").lessons}
    assert groups == {("drying", "cellar"): 2, ("drying", "fridge"): 1, ("ferment", "mesophilic"): 3}


# The file.


KEPT: Final = Priors(
    on="2026-02-01T00:00:00Z",
    by="anna",
    acid=(
        AcidPrior(culture="mesophilic", batches=("a", "b", "c"), slope=0.1, slope_spread=0.1, lag=0.2, lag_spread=0.1),
    ),
    drying=(DryingPrior(chamber="bench", batches=("a", "b", "c"), days=-0.3, days_spread=0.1),),
    left_out=(LeftOut(batch="d", because="the fan", by="anna", on="2026-02-01"),),
)


@pytest.mark.parametrize("priors", [KEPT, Priors(), replace(KEPT, acid=(), left_out=())])
def test_the_file_says_again_what_was_kept(priors: Priors, tmp_path: Path) -> None:
    write_priors(priors, tmp_path)
    assert read_priors(tmp_path / FILE) == priors


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("slope = 0.1", "slope = 9.0", "acid[1].slope = 9.0"),
        ("slope = 0.1", "slope = nan", "acid[1].slope"),
        ("days_spread = 0.1", "days_spread = 0.0", "drying[1].days_spread = 0.0"),
        ("version = 1", "version = 2", "version = 2"),
        ("version = 1", "version = ", "line 6"),
        ("[[acid]]", "[[sour]]", "sour"),
    ],
)
def test_a_damaged_file_is_not_used_and_that_is_told(old: str, new: str, said: str, tmp_path: Path) -> None:
    log = Log().event(0.0, "hang").minutes(0.0, 6.0, 24.0, set_c=24.0, every_min=10.0).reading(0.0, "ph", 5.75)
    folder = leave(tmp_path, "b", log)
    plain = outlook(folder)
    text = encode_priors(KEPT)
    assert old in text
    (tmp_path / FILE).write_text(text.replace(old, new), "utf-8")
    use = use_priors(tmp_path)
    assert use.priors == Priors()
    assert said in use.why_not
    seen = outlook(folder)
    assert seen.forecasts == plain.forecasts
    assert seen.why_not == use.why_not


def test_a_file_of_another_starter_or_chamber_changes_nothing(tmp_path: Path) -> None:
    log = Log().event(0.0, "hang").minutes(0.0, 6.0, 24.0, set_c=24.0, every_min=10.0).reading(0.0, "ph", 5.75)
    folder = leave(tmp_path, "b", log)
    plain = outlook(folder)
    acid = replace(KEPT.acid[0], starter="another packet")
    write_priors(replace(KEPT, acid=(acid,)), tmp_path)
    assert outlook(folder) == plain
    write_priors(KEPT, tmp_path)
    assert outlook(folder) != plain


def test_the_starter_is_known_by_its_name_in_the_plan_whatever_its_case(tmp_path: Path) -> None:
    log = Log().event(0.0, "hang").minutes(0.0, 6.0, 24.0, set_c=24.0, every_min=10.0).reading(0.0, "ph", 5.75)
    folder = leave(tmp_path, "b", log, sheet=sheet("Flora  7", "beef 55"))
    acid = replace(KEPT.acid[0], starter="flora 7")
    write_priors(Priors(acid=(acid,)), tmp_path)
    assert outlook(folder).forecasts[0].batches == 3
    write_priors(KEPT, tmp_path)
    assert outlook(folder).forecasts[0].batches == 0


def test_what_was_learned_of_the_chamber_does_not_go_where_the_meat_dries_elsewhere(tmp_path: Path) -> None:
    log = raw_log(seed=700)
    log.events.pop()
    away = replace(RAW, stages=(*RAW.stages[:2], replace(RAW.stages[2], where="elsewhere")))
    write_priors(KEPT, tmp_path)
    assert outlook(leave(tmp_path, "here", log)).forecasts[0].batches == 3
    assert outlook(leave(tmp_path, "away", log, profile=away)).forecasts[0].batches == 0


# A slice of the makers.


SLICE: Final = 8
NO_MORE_THAN: Final = 0.10
"""Of makers from whom nothing can be learned so many are told yes at most, in the long run."""


@cache
def taught(part: str, kind: str) -> tuple[Taught, ...]:
    kind_of = next(one for one in KINDS if one.name == kind)
    return tuple(teach(part, kind_of, FIRST_SEED + 5000 + seed, 5) for seed in range(SLICE))


@pytest.mark.parametrize("part", ["ferment", pytest.param("drying", marks=pytest.mark.long)])
def test_makers_who_are_far_off_are_told_so_and_their_next_batches_are_forecast_better(part: str) -> None:
    makers = taught(part, "far off")
    assert sum(one.scores.better for one in makers) >= SLICE - 1
    assert all(fmean(one.fresh) > 0.0 for one in makers if one.scores.better)
    shipped = usual(PARTS[part][0])
    assert all(np.any(np.abs(one.belief.mean) > 0.3 * shipped.spread) for one in makers)


@pytest.mark.parametrize("part", ["drying", pytest.param("ferment", marks=pytest.mark.long)])
def test_makers_from_whom_nothing_can_be_learned_are_told_no(part: str) -> None:
    told_yes = sum(one.scores.better for one in taught(part, "nothing to learn"))
    assert told_yes <= int(stats.binom.ppf(0.995, SLICE, NO_MORE_THAN))
