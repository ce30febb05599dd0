"""Batches side by side, against sums done by hand with numpy, and what is said of their scatter."""

import datetime as dt
from collections.abc import Callable, Sequence
from math import sqrt
from pathlib import Path
from random import Random
from typing import Any, Final

import numpy as np
import pytest
from msgspec.structs import replace
from scipy import stats

from controller.cli.pages.compare_page import csv_rows, tell_comparison
from controller.core.plan import Profile, Until
from controller.errors import DataError, NoInputError, UsageError
from controller.records.batch_folder import CARD, encode_card, read_card
from controller.review.compare.chart import Curve, chart
from controller.review.compare.comparison import compare
from controller.review.compare.curves import crossing, value_at
from controller.review.compare.scatter import is_larger, scatter_of
from tests.helpers.batch_logs import HOUR_S, Log
from tests.helpers.makers import RAW, leave
from tests.helpers.recorded import PROFILE, WALL_S

DAY_H: Final = 24.0
SOUR: Final = ((0.0, 5.8), (12.0, 5.7), (24.0, 5.5), (36.0, 5.1), (48.0, 4.9))
LOST: Final = ((2.0, 0.0), (5.0, 6.0), (9.0, 14.0), (14.0, 21.0), (21.0, 29.0))
SCATTER: Final = (0.98, 1.01, 1.03, 0.97, 1.02)


def batch(
    slower: float = 1.0,
    *,
    air_c: float = 24.0,
    rh_pct: float = 85.0,
    hang_h: float = 0.0,
    end: bool = True,
    sour: Sequence[tuple[float, float]] = SOUR,
    lost: Sequence[tuple[float, float]] = LOST,
) -> Log:
    """Return a batch that sours and dries so many times slower; hung so many hours after its begin."""
    log = Log(every_s=600.0).event(hang_h, "hang").event(hang_h + 0.05, "stage", "hang")
    if hang_h:
        log.minutes(0.0, hang_h, 24.0, stage="warm", set_c=24.0, every_min=10.0)
    log.minutes(hang_h, hang_h + 48.0, air_c, set_c=24.0, rh_pct=rh_pct, every_min=10.0)
    log.event(hang_h + 48.0, "stage", "until")
    last_h = hang_h + lost[-1][0] * DAY_H
    log.minutes(hang_h + 48.0, last_h, 13.0, stage="dry", set_c=13.0, rh_pct=80.0, every_min=10.0)
    for at_h, ph in sour:
        log.reading(hang_h + at_h * slower, "ph", ph)
    for day, pct in lost:
        log.reading(hang_h + day * DAY_H, "weight", 500.0 * (1.0 - pct / slower / 100.0), piece="A")
    return log.event(last_h, "stage", "until").event(last_h + 0.1, "end", "complete") if end else log


@pytest.fixture
def home(tmp_path: Path) -> Callable[..., Path]:
    """Put a batch into this maker's folder, each one day later than the one before."""
    count = 0

    def put(log: Log, profile: Profile = RAW, place: Path = tmp_path) -> Path:
        nonlocal count
        count += 1
        return leave(place, f"b{count:02}", log, profile=profile, began_day=count)

    return put


def row(told: dict[str, Any], key: str) -> dict[str, Any]:
    return next(one for one in told["figures"] if one["key"] == key)


def page(told: dict[str, Any]) -> str:
    lines = list(tell_comparison(told))
    assert max(map(len, lines)) <= 80
    text = "\n".join(lines)
    assert "safe" not in text
    return text


# The figures.


def test_the_figures_are_those_of_a_sum_by_hand(home: Callable[..., Path]) -> None:
    told = compare([home(batch(hang_h=1.5)), home(batch(1.2, air_c=23.0, hang_h=3.0))])
    for place, slower in enumerate((1.0, 1.2)):
        hours, ph = (np.array(column) for column in zip(*SOUR, strict=True))
        hours = hours * slower
        reached = np.interp(-5.3, -ph, hours)  # It only falls, so it can be read the other way round.
        assert row(told, "hours_to_ph_5_3")["values"][place] == pytest.approx(reached, abs=1e-3)
        for at in (12, 24, 36, 48):
            value = row(told, f"ph_at_{at}_h")["values"][place]
            assert value == pytest.approx(np.interp(at, hours, ph), abs=1e-3)
        days, loss = (np.array(column) for column in zip(*LOST, strict=True))
        loss = loss / slower
        for level in (10, 20):
            day = np.interp(level, loss, days)
            assert row(told, f"days_to_{level}_pct")["values"][place] == pytest.approx(day, abs=1e-3)
            after = int(np.searchsorted(loss, level))
            steep = (loss[after] - loss[after - 1]) / (days[after] - days[after - 1])
            assert row(told, f"rate_at_{level}_pct")["values"][place] == pytest.approx(steep, abs=1e-3)
    assert row(told, "ferment_air_mean_c")["values"] == [24.0, 23.0]
    assert row(told, "ferment_hours")["values"] == [48.0, 48.0]
    assert row(told, "ferment_air_within_pct")["values"][0] == 100.0


def test_a_ferment_that_is_wetter_than_it_has_to_be_is_compared_by_what_it_asks_for(home: Callable[..., Path]) -> None:
    told = compare([home(batch(rh_pct=97.0)), home(batch(rh_pct=79.0))])
    assert row(told, "ferment_rh_at_least_pct")["values"] == [100.0, 0.0]
    assert "ferment_rh_within_pct" not in {one["key"] for one in told["figures"]}
    assert "dry_rh_within_pct" in {one["key"] for one in told["figures"]}
    assert "ferment: at most 4 %RH below" in page(told)


def test_nothing_is_read_beyond_the_last_reading_or_before_the_first(home: Callable[..., Path]) -> None:
    short = batch(sour=SOUR[:3], lost=LOST[:3])
    late = batch(sour=SOUR[3:])
    told = compare([home(short), home(late)])
    assert row(told, "ph_at_36_h")["values"] == [None, 5.1]
    assert row(told, "ph_at_24_h")["values"] == [5.5, None]
    assert row(told, "days_to_20_pct")["values"][0] is None
    assert not any(one["key"] == "hours_to_ph_5_3" for one in told["figures"])  # One never came, one was past it.


def test_the_axis_begins_at_hanging_whenever_that_was(home: Callable[..., Path]) -> None:
    told = compare([home(batch()), home(batch(hang_h=5.0))])
    first, second = told["curves"]
    for name in ("ph", "loss"):
        assert np.allclose(first[name], second[name])
    assert [value for _, value in first["air_temp_c"]] == [value for _, value in second["air_temp_c"]]
    begins = [dt.datetime.fromisoformat(one["axis_begins"]).timestamp() for one in told["batches"]]
    assert begins == [WALL_S, WALL_S + 5.0 * HOUR_S]
    assert all(one["differences"][1] in (None, 0.0) for one in told["figures"])


def test_hourly_means_are_those_of_the_rows(home: Callable[..., Path]) -> None:
    log = batch()
    for number, one in enumerate(log.climate):
        one["air_temp_c"] = f"{24.0 + (number % 7) / 10.0:.3f}"
    told = compare([home(log), home(batch())])
    air = np.array([float(one["air_temp_c"]) for one in log.climate[: 48 * 6]]).reshape(48, 6).mean(axis=1)
    assert np.allclose([value for _, value in told["curves"][0]["air_temp_c"][:48]], air, atol=1e-3)
    assert [at for at, _ in told["curves"][0]["air_temp_c"][:3]] == [0.5, 1.5, 2.5]


def test_a_batch_beside_itself_differs_in_nothing(home: Callable[..., Path]) -> None:
    folder = home(batch())
    for slower in SCATTER:
        home(batch(slower))
    told = compare([folder, folder])
    assert told["recipe"] == []
    assert all(one["differences"][1] in (None, 0.0) for one in told["figures"])
    assert told["chance"]["larger"] == 0
    assert "Recipe, profile and chamber are the same." in page(told)


def test_what_was_meant_to_differ_is_told_with_both_values(home: Callable[..., Path]) -> None:
    warm, ferment, dry = RAW.stages
    other = replace(
        RAW,
        per_kg=replace(RAW.per_kg, salt_pct=2.8),
        stages=(warm, replace(ferment, air_temp_c=26.0, until=Until(ph_at_most=5.1)), replace(dry, rh_pct=75.0)),
    )
    first, second = home(batch()), home(batch(), other)
    card = read_card(second)
    grams = replace(card.formulation, salt_g=126.0)
    (second / CARD).write_bytes(
        encode_card(replace(card, formulation=grams, batch=replace(card.batch, diameter_mm=60)))
    )
    told = compare([first, second])
    assert {one["key"]: one["values"] for one in told["recipe"]} == {
        "diameter_mm": [55.0, 60.0],
        "formulation.salt_g_per_kg": [26.0, 28.0],
        "profile.per_kg.salt_pct": [2.6, 2.8],
        "stage ferment.air_temp_c": [24.0, 26.0],
        "stage ferment.until.ph_at_most": [5.25, 5.1],
        "stage dry.rh_pct": [78.0, 75.0],
    }
    said = page(told)
    assert "stage ferment.air_temp_c:  A 24   B 26" in said
    assert "diameter_mm:  A 55   B 60" in said


# The scatter.


def test_the_limit_of_a_difference_is_student_s_and_holds_95_of_100() -> None:
    random = np.random.default_rng(5)
    values = [3.0, 4.5, 2.8, 3.9, 4.1]
    found = scatter_of(values)
    spread = float(np.std(values, ddof=1))
    assert found.limit == pytest.approx(stats.t.ppf(0.975, 4) * spread * sqrt(2.0))
    assert found.high == pytest.approx(np.mean(values) + stats.t.ppf(0.975, 4) * spread * sqrt(1.2))
    beyond = 0
    for _ in range(4000):
        *earlier, first, second = random.normal(20.0, 3.0, 7)
        beyond += bool(is_larger(first - second, scatter_of(earlier)))
    assert 0.04 < beyond / 4000 < 0.06


@pytest.mark.parametrize("values", [[], [1.0], [1.0, 2.0], [2.0, 2.0, 2.0]])
def test_with_fewer_than_three_or_without_any_scatter_nothing_is_judged(values: list[float]) -> None:
    assert scatter_of(values).limit is None
    assert is_larger(5.0, scatter_of(values)) is None


def test_what_is_larger_than_the_earlier_scatter_is_said_with_what_chance_would_do(home: Callable[..., Path]) -> None:
    for slower in SCATTER:
        home(batch(slower))
    usual, slow = home(batch()), home(batch(1.5))
    told = compare([usual, slow])
    assert told["earlier"]["batches"] == [f"b{number:02}" for number in range(1, 6)]
    reached = row(told, "hours_to_ph_5_3")
    earlier = [slower * 30.0 for slower in SCATTER]  # 5.3 lies halfway between the readings of 24 and 36 h.
    limit = stats.t.ppf(0.975, 4) * np.std(earlier, ddof=1) * sqrt(2.0)
    assert reached["earlier"]["limit"] == pytest.approx(limit, abs=1e-3)
    assert reached["larger"] == [None, True]
    judged = [one["larger"][1] for one in told["figures"] if one["larger"][1] is not None]
    assert told["chance"] == {
        "judged": len(judged), "larger": sum(judged), "expected_by_chance": round(0.05 * len(judged), 2), "each": 0.05,
    }  # fmt: skip
    said = page(told)
    assert f"{len(judged)} differences were judged; {0.05 * len(judged):.1f} would stand out by chance alone" in said
    assert "hours to pH 5.3, between readings: B is 15.0 h higher than A" in " ".join(said.split())
    assert compare([usual, home(batch(1.01))])["chance"]["larger"] <= 1


def test_two_earlier_batches_say_nothing_of_scatter(home: Callable[..., Path]) -> None:
    home(batch(0.9)), home(batch(1.1))
    told = compare([home(batch()), home(batch(2.0))])
    assert told["chance"]["judged"] == 0
    assert "2 earlier batches of this kind: with fewer than 3 nothing can be said of scatter" in " ".join(
        page(told).split()
    )


def test_earlier_are_finished_ones_of_the_same_kind_that_began_before(
    home: Callable[..., Path], tmp_path: Path
) -> None:
    cooked = replace(PROFILE, style="cooked")
    home(batch(), cooked)
    home(batch(end=False))
    torn = home(batch())
    with (torn / "readings.csv").open("a") as file:
        file.write("r9,2026")
    good = [home(batch(slower)) for slower in SCATTER[:3]]
    first, second = home(batch()), home(batch())
    home(batch())  # Later than both.
    (tmp_path / "batches" / "notes").mkdir()
    told = compare([first, second])
    assert told["earlier"]["batches"] == [folder.name for folder in good]
    assert told["earlier"]["left_out"] == [
        {"batch": "b02", "why": "it is not over"},
        {"batch": "b03", "why": "1 of its rows of readings and events cannot be read"},
    ]
    assert "Not counted as earlier: b02: it is not over." in page(told)


def test_the_folder_of_earlier_batches_can_be_named(home: Callable[..., Path], tmp_path: Path) -> None:
    old = tmp_path / "old"
    for slower in SCATTER:
        home(batch(slower), place=old)
    pair = [home(batch()), home(batch(1.4))]
    assert compare(pair)["earlier"]["batches"] == []
    for place in (old, old / "batches"):
        assert len(compare(pair, place)["earlier"]["batches"]) == 5
    with pytest.raises(NoInputError, match="there is no such folder"):
        compare(pair, tmp_path / "nowhere")


# Odd ones.


def test_a_running_batch_is_compared_so_far_and_what_may_change_is_not_judged(home: Callable[..., Path]) -> None:
    for slower in SCATTER:
        home(batch(slower))
    told = compare([home(batch()), home(batch(1.3, lost=LOST[:3], end=False))])
    assert row(told, "weight_loss_pct")["so_far"] == [False, True]
    assert row(told, "weight_loss_pct")["larger"] == [None, None]
    assert row(told, "dry_hours")["so_far"] == [False, True]
    assert row(told, "hours_to_ph_5_3")["larger"] == [None, True]
    said = page(told)
    assert "~ may still change, and is not judged." in said
    assert "running" in said


def test_a_damaged_batch_says_what_of_its_record_is_missing(home: Callable[..., Path]) -> None:
    broken = batch()
    broken.climate = broken.climate[:60] + broken.climate[120:]
    folder = home(broken)
    with (folder / "events.csv").open("a") as file:
        file.write("2026-01-0")
    said = " ".join(page(compare([home(batch()), folder])).split())
    assert "RECORD: 1 row of events.csv" in said
    assert "RECORD: the climate of 10.2 h is missing, in 1 gap" in said


def test_different_kinds_of_sausage_say_so_and_no_scatter_is_applied(home: Callable[..., Path]) -> None:
    for slower in SCATTER:
        home(batch(slower))
    cooked = replace(RAW, style="cooked", starter="thermotolerant", title="Cooked")
    told = compare([home(batch()), home(batch(1.5), cooked)])
    assert told["same_family"] == [True, False]
    assert told["chance"]["judged"] == 0
    said = " ".join(page(told).split())
    assert "These are different kinds of sausage" in said
    assert "A raw-dried, mesophilic starter; warm-up, ferment, dry B cooked, thermotolerant starter" in said


def test_of_three_batches_only_those_of_the_first_one_s_kind_are_judged(home: Callable[..., Path]) -> None:
    for slower in SCATTER:
        home(batch(slower))
    other = replace(RAW, starter="thermotolerant")
    told = compare([home(batch()), home(batch(1.5)), home(batch(1.5), other)])
    assert row(told, "hours_to_ph_5_3")["larger"] == [None, True, None]
    assert row(told, "hours_to_ph_5_3")["differences"] == [None, 15.0, 15.0]
    assert all(one["larger"][2] is None for one in told["figures"])


def test_a_maker_of_fahrenheit_reads_fahrenheit(home: Callable[..., Path]) -> None:
    folders = []
    warm, ferment, dry = RAW.stages
    for air_c, wanted_c in ((24.0, 24.0), (25.0, 25.0)):
        folder = home(batch(air_c=air_c), replace(RAW, stages=(warm, replace(ferment, air_temp_c=wanted_c), dry)))
        card = read_card(folder)
        (folder / CARD).write_bytes(encode_card(replace(card, chamber=replace(card.chamber, units="F"))))
        folders.append(folder)
    told = compare(folders)
    said = page(told)
    assert "stage ferment.air_temp_f:  A 75.2   B 77" in said
    line = next(one for one in said.splitlines() if "ferment: air, mean" in one)
    assert line.split()[-2:] == ["75.20", "77.00"]
    assert "°C" not in said
    assert "within 0.9 °F" in said
    assert "degree-hours above 60 °F" in said
    assert row(told, "ferment_air_mean_c")["values"] == [24.0, 25.0]  # JSON stays in °C.


def test_without_hanging_the_first_row_of_the_ferment_begins_the_axis_and_that_is_said(
    home: Callable[..., Path],
) -> None:
    log = batch()
    log.events = [one for one in log.events if one["kind"] != "hang"]
    told = compare([home(batch()), home(log)])
    assert told["batches"][1]["counted_from"] == "first row"
    assert told["batches"][1]["axis_begins"] == told["batches"][0]["axis_begins"]
    assert "hanging is on no record; first row of its ferment" in " ".join(page(told).split())
    empty = home(Log())
    with pytest.raises(DataError, match="neither hanging nor a ferment is on record"):
        compare([empty, empty])


def test_one_batch_or_seven_are_refused(home: Callable[..., Path]) -> None:
    folder = home(batch())
    for count in (0, 1, 7):
        with pytest.raises(UsageError, match="name two to 6 batches"):
            compare([folder] * count)
    assert len(page(compare([folder] * 6)).splitlines()) > 20


def test_the_csv_holds_what_the_json_holds(home: Callable[..., Path]) -> None:
    told = compare([home(batch()), home(batch(1.2))])
    figures, curves = csv_rows(told)
    assert len(figures) == 1 + len(told["figures"])
    at = figures[0].index("b02")
    by_key = {one[0]: one for one in figures}
    assert float(by_key["hours_to_ph_5_3"][at]) == pytest.approx(36.0)
    assert len(curves) == 1 + sum(len(points) for one in told["curves"] for points in one.values())


# Curves and drawings.


def test_a_curve_is_read_between_its_points_alone() -> None:
    random = Random(7)
    times = sorted(random.uniform(0.0, 50.0) for _ in range(12))
    points = [(at, random.uniform(4.0, 6.0)) for at in times]
    for _ in range(200):
        at = random.uniform(-5.0, 55.0)
        if times[0] <= at <= times[-1]:
            assert value_at(points, at) == pytest.approx(np.interp(at, times, [value for _, value in points]))
        else:
            assert value_at(points, at) is None
    assert value_at(points, times[3]) == points[3][1]
    assert value_at([], 1.0) is None


def test_the_first_passing_counts_and_one_that_was_before_the_first_point_is_not_known() -> None:
    points = [(0.0, 5.6), (10.0, 5.2), (20.0, 5.4), (30.0, 5.0)]
    assert crossing(points, 5.3, falling=True) == (pytest.approx(7.5), pytest.approx(-0.04))
    assert crossing(points[1:], 5.3, falling=True) is None
    assert crossing(points[:1], 5.3, falling=True) is None
    assert crossing([(0.0, 0.0), (2.0, 10.0)], 10.0, falling=False) == (2.0, 5.0)


def test_a_drawing_has_round_labels_capitals_where_it_was_measured_and_no_line_over_a_gap() -> None:
    lines = chart([Curve("A", [(0.0, 5.8), (48.0, 4.8)]), Curve("B", [(0.0, 5.8), (24.0, 5.0)])], "h", 5.3)
    labels = [float(line.split("|")[0]) for line in lines[:-2]]
    assert labels == sorted(labels, reverse=True)
    assert np.allclose(np.diff(labels), labels[1] - labels[0])
    text = "\n".join(lines)
    assert text.count("A") == 1
    assert "+" in text.splitlines()[0]  # Both begin there.
    assert text.count("B") == 1
    assert max(map(len, lines)) <= 80
    by_hour = [(float(hour), 20.0) for hour in (*range(10), *range(30, 40))]
    (drawn,) = (line for line in chart([Curve("A", by_hour, 2.0, dots=False)], "h")[:-2] if "a" in line)
    assert "a " * 1 in drawn
    assert "          " in drawn.split("|")[1].strip("\n")
    assert chart([Curve("A", [])], "h") == []


def test_a_level_curve_is_drawn_level() -> None:
    lines = chart([Curve("A", [(0.0, 24.0), (10.0, 24.0)])], "h")
    assert sum("a" in line for line in lines[:-2]) == 1
