"""The status shows what a stage waits for, whether it is confirmed, its note, and the date of the weights."""

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from controller.core.memory import Batch, Inputs
from controller.core.plan import Stage, Until
from controller.core.restart import first_memory
from controller.core.step import step
from controller.core.values import Reading
from controller.records.request_box import this_boot
from controller.records.status import status_of, write_status
from controller.settings.chamber_file import plan_of, read_chamber
from tests.cli.conftest import Typed
from tests.helpers.bench_chamber import PROFILE

Shown = Callable[..., str]
COOK = Stage(
    name="cook", kind="cook", where="elsewhere", air_temp_c=75.0, at_least_h=4.0,
    until=Until(core_temp_c=68.0, confirm=True), note="Measure with a probe that was checked in ice.",
)  # fmt: skip
DRY = Stage(name="dry", kind="dry", until=Until(weight_loss_pct=35.0), air_temp_c=13.0, rh_pct=78.0)


@pytest.fixture
def shown(chamber: Path, state_dir: Path, typed: Typed) -> Shown:
    """Show the page of a batch that has been in this stage for some hours."""

    def show(stage: Stage, hours: float = 2.0, **more: Any) -> str:  # noqa: ANN401 - fields of a batch
        file = read_chamber(chamber)
        plan, now_s = plan_of(file), time.time()
        batch = Batch(
            id="b", profile=replace(PROFILE, stages=(stage,)), began_wall_s=now_s - 40_000.0, hung_s=4_000.0,
            hung_wall_s=now_s - 36_000.0, elapsed_s=40_000.0, stage_elapsed_s=hours * 3600.0,
            stage_began_wall_s=now_s - hours * 3600.0, **more,
        )  # fmt: skip
        memory = replace(first_memory(plan, 0.0, now_s, this_boot()[0]), batches=(batch,), leader="b")
        inputs = Inputs(0.0, now_s, wall_trusted=True, readings={"air_temp": Reading(13.0, 0.0)})
        write_status(state_dir, status_of(*step(memory, inputs, plan), chamber=file))
        out = typed("status")[1]
        assert max(map(len, out.splitlines())) <= 80
        return " ".join(out.split())

    return show


def test_what_a_stage_waits_for_is_shown_with_the_piece_and_how_to_take_an_entry_back(shown: Shown) -> None:
    now_s = time.time()
    out = shown(COOK, core_temps=((now_s - 600.0, 61.0),), core_ids=("k1",), core_of=("A",), core_temp_c=61.0)
    assert "still wanted: 2 h, core 68.0 °C in A (now 61.0 °C; typed wrong? hangroom core TEMP --piece A" in out
    assert "--replaces k1)" in out
    assert "waits for you: say `hangroom confirm` when it is done" in out
    assert "Measure with a probe that was checked in ice." in out


def test_an_early_confirmation_is_shown(shown: Shown) -> None:
    out = shown(COOK, confirmed=True)
    assert "confirmed; still wanted: 2 h, core 68.0 °C" in out
    assert "waits for you" not in out


def test_the_date_of_the_weights_is_shown_and_when_it_is_time_again(shown: Shown) -> None:
    now_s = time.time()

    def weights(days: float) -> dict[str, Any]:
        grams = {"A": 400.0}
        taken = (("w0", now_s - 20.0 * 86_400.0, grams), ("w1", now_s - days * 86_400.0, {"A": 380.0}))
        return {"weighings": taken, "green_g": grams, "now_g": {"A": 380.0}}

    day = time.strftime("%Y-%m-%d", time.gmtime(now_s - 2.0 * 86_400.0))
    out = shown(DRY, **weights(2.0))
    assert f"the slowest piece has lost 5.0 %; weighed {day}" in out
    assert "weigh now" not in out
    assert "still wanted: 35 % of weight lost in A (now 5.0 %)" in out


def test_old_weights_say_weigh_now(shown: Shown) -> None:
    taken = (("w0", time.time() - 20.0 * 86_400.0, {"A": 400.0}),)
    out = shown(DRY, hours=80.0, weighings=taken, green_g={"A": 400.0})
    assert "; weigh now" in out
    assert "no piece was weighed; weigh now" in shown(DRY, hours=80.0)


def test_a_ferment_that_is_let_cool_where_nothing_cools_wants_nothing(shown: Shown) -> None:
    ferment = replace(PROFILE.stages[1], air_temp_c=24.0)
    out = shown(ferment, cool_from_s=39_000.0)
    assert "and it comes down to the room at most" in out
    assert "wanted 24" not in out
