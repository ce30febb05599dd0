"""Looks, mould and a measured water activity: noted, answered with what to do, and proof of nothing."""

import pytest
from msgspec.structs import replace

from controller.core.plan import Profile
from controller.core.requests import Look, WaterActivity
from controller.core.values import LookKind
from tests.helpers.bench_chamber import PROFILE, WALL_S, Bench
from tests.helpers.pieces_bench import DRY, REST, bench_in, refused, told, weigh


def weighed(profile: Profile = PROFILE) -> Bench:
    return bench_in(DRY, REST, profile=profile).tick(weigh("w0", 0.0, A=400.0, B=410.0))


def look(piece: str = "", **looks: str) -> Look:
    kinds: dict[LookKind, str] = looks  # type: ignore[assignment]
    return Look(id=f"l-{piece}-{looks}", at_wall_s=WALL_S + 60.0, piece=piece, looks=kinds)


def aw(name: str, value: float, days: float = 20.0, *, piece: str = "", replaces: str = "") -> WaterActivity:
    at_wall_s = WALL_S + days * 86_400.0
    return WaterActivity(
        id=name, at_wall_s=at_wall_s, value=value, piece=piece, instrument="meter 1", replaces=replaces
    )


def test_each_word_leaves_a_row_of_its_own() -> None:
    bench = weighed()
    said = told(bench, look("A", look="tacky", firmness="firm", smell="fresh"))
    assert "tacky, firm, fresh of A: noted." in said
    assert "prove nothing" in said
    assert bench.outcome is not None
    rows = [(entry.kind, entry.value, entry.piece) for entry in bench.outcome.entries]
    assert rows == [("look", "tacky", "A"), ("firmness", "firm", "A"), ("smell", "fresh", "A")]


def test_green_mould_is_answered_with_what_to_do() -> None:
    said = told(weighed(), look(look="green-mould"))
    for words in ("brush the mould off", "salt water or vinegar", "gone through the casing, throw the piece away"):
        assert words in said


def test_white_mould_is_wanted_only_where_it_was_planned() -> None:
    assert "brush it off" in told(weighed(), look(look="white-mould"))
    said = told(weighed(replace(PROFILE, mould=True)), look(look="white-mould"))
    assert "White mould, as planned." in said
    assert "White mould is wanted only where" not in said


@pytest.mark.parametrize(
    ("request_", "says"),
    [
        (look("a", look="good"), "did you mean A?"),
        (look("A", look="lovely"), "choose one of good, dry, tacky"),
        (look("A"), "say what you see"),
        (aw("x1", 91.0), "aw 91: of sausage it lies between 0.5 and 1; did you mean 0.91?"),
        (aw("x2", 0.2), "measure it again"),
        (aw("x3", 0.91, piece="Q"), "Q: has never been weighed"),
        (aw("x4", 0.91, replaces="nothing"), "no such entry"),
    ],
)
def test_what_cannot_be_is_asked_back(request_: Look | WaterActivity, says: str) -> None:
    assert says in refused(weighed(), request_)


def test_a_measured_water_activity_is_held_against_the_estimate() -> None:
    bench = weighed()
    bench.tick(weigh("w1", 20.0, A=320.0, B=320.0))
    said = told(bench, aw("x1", 0.94))
    assert "water activity 0.940, measured with meter 1." in said
    assert "By recipe and 20.0 % loss 0.94 ±0.02 was estimated: they agree." in said
    assert "0.06 apart" in told(bench, aw("x2", 0.88, piece="A"))
    assert bench.outcome is not None
    (row,) = bench.outcome.entries
    assert (row.kind, row.value, row.unit, row.piece) == ("water_activity", "0.88", "1", "A")


def test_a_corrected_water_activity_takes_the_place_of_the_wrong_one() -> None:
    bench = weighed()
    told(bench, aw("x1", 0.95, 10.0))
    told(bench, aw("x2", 0.90, 20.0))
    told(bench, aw("x3", 0.91, 20.0, replaces="x2"))
    assert bench.batch.aw == 0.91
    assert [value for _, _, value in bench.batch.aw_taken] == [0.95, 0.91]
