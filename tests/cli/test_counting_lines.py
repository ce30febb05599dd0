"""The status shows both rules, the hour of the limit in local time, and what is asked of the maker."""

import re
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from controller.cli.local import in_local_time
from controller.core.memory import Batch, Inputs
from controller.core.restart import first_memory
from controller.core.step import step
from controller.core.values import Reading
from controller.records.request_box import this_boot
from controller.records.status import status_of, write_status
from controller.settings.chamber_file import plan_of, read_chamber
from tests.cli.conftest import Typed
from tests.helpers.bench_chamber import PROFILE

Shown = Callable[..., str]


@pytest.fixture
def shown(chamber: Path, state_dir: Path, typed: Typed) -> Shown:
    """Show the page of a batch that is in its ferment, hung ten hours ago in air of 36 °C."""

    def show(profile: Any = PROFILE, air_c: float = 36.0, used: float = 1.0, **more: Any) -> str:  # noqa: ANN401 - fields of a batch
        file = read_chamber(chamber)
        plan, now_s = plan_of(file), time.time()
        batch = Batch(
            id="b", profile=profile, began_wall_s=now_s - 40_000.0, stage_index=1, hung_s=4_000.0,
            hung_wall_s=now_s - 36_000.0, elapsed_s=40_000.0, stage_elapsed_s=36_000.0, degree_hours_f=368.0 * used,
            degree_hours_c=204.0 * used, guarded_f=377.0 * used, guarded_c=209.0 * used, highest_air_c=36.0,
            ph_demanded=1, **more,
        )  # fmt: skip
        memory = replace(first_memory(plan, 0.0, now_s, this_boot()[0]), batches=(batch,), leader="b")
        inputs = Inputs(0.0, now_s, wall_trusted=True, readings={"air_temp": Reading(air_c, 0.0)})
        write_status(state_dir, status_of(*step(memory, inputs, plan), chamber=file))
        out = typed("status")[1]
        assert max(map(len, out.splitlines())) <= 80
        return out

    return show


def test_both_rules_stand_side_by_side_guarded_and_as_measured(shown: Shown) -> None:
    out = shown()
    assert "US       377 of 1000 °F·h, 38 %  (368 of 1000)" in out
    assert "Canada   209 of 555 °C·h, 38 %  (204 of 555)" in out
    assert "limits partly from memory: confirm with your authority" in out


def test_the_hour_of_the_limit_is_told_in_local_time(shown: Shown) -> None:
    out = shown()
    left_h = min((1000.0 - 377.0) / (36.5 * 1.8 + 32.0 - 60.0), (555.0 - 209.0) / (36.5 - 15.6))
    from_now = time.strftime("%Y-%m-%d %H:%M", time.gmtime(time.time() + left_h * 3600.0))
    minute_later = time.strftime("%Y-%m-%d %H:%M", time.gmtime(time.time() + left_h * 3600.0 - 60.0))
    words = "if nothing changes; latest hour for pH 5.3"
    assert any(f"limit reached at {clock} {words}" in out for clock in (from_now, minute_later))


def test_while_the_chamber_still_warms_the_latest_hour_is_that_of_the_wanted_temperature(shown: Shown) -> None:
    def hour(out: str) -> str:
        (found,) = re.findall(r"limit reached at (\d{4}-\d\d-\d\d \d\d:\d\d) if nothing changes; latest hour", out)
        return str(found)

    # One hour and no later one beside it: the air is on its way to what is wanted, and the meat with it.
    assert hour(shown(air_c=30.0)) == hour(shown(air_c=36.0))
    assert hour(shown(air_c=38.0)) < hour(shown(air_c=36.0))


def test_over_the_limit_the_status_says_what_to_do(shown: Shown) -> None:
    assert "OVER" not in shown()
    out = " ".join(shown(used=3.0).split())
    assert "US 1131 of 1000 °F·h, 113 % (1104 of 1000) OVER" in out
    assert "OVER THE LIMIT: do not taste; hold the batch; a laboratory test and a competent person decide" in out
    assert "a person said go on" in " ".join(shown(used=3.0, over_accepted=True).split())


def test_a_ferment_below_the_base_has_its_days_as_the_only_bound(shown: Shown) -> None:
    cold = replace(PROFILE.stages[1], air_temp_c=15.0, at_most_h=240.0)
    out = shown(replace(PROFILE, stages=(PROFILE.stages[0], cold, PROFILE.stages[2])), 15.0)
    assert "this rule protects nothing here; at most 10.0" in " ".join(out.split())
    assert "latest hour" not in out


def test_a_real_sausage_is_asked_for_with_the_words_to_type(shown: Shown) -> None:
    now_s = time.time()
    out = shown(ph=((now_s - 60.0, 4.7),), ph_ids=("a",), ph_errors=(0.05,), passed_5_3=True)
    assert "hangroom ph VALUE --by meter --sample sausage" in " ".join(out.split())
    assert "counts as 4.75" in out
    assert "degree-hours, ended by pH 5.3" in out
    assert "limit reached" not in out


def test_a_ferment_that_is_let_cool_says_so(shown: Shown) -> None:
    now_s = time.time()
    read = {"ph": ((now_s - 60.0, 5.2),), "ph_ids": ("a",), "ph_errors": (0.05,), "passed_5_3": True}
    assert "is let cool from" in shown(cool_from_s=41_000.0, **read)
    assert "let cool since you asked for it: lamp off" in shown(cool_from_s=39_000.0, **read)


def test_the_daemons_utc_becomes_the_chambers_local_time() -> None:
    text = "limit reached at 2026-01-05 23:30 UTC, in 4.0 h; 2026-07-05 23:30 UTC"
    told = in_local_time(text, "Europe/Vienna")
    assert told == "limit reached at 2026-01-06 00:30, in 4.0 h; 2026-07-06 01:30"


def test_what_no_degree_hour_holds_is_told_beside_them(shown: Shown) -> None:
    out = " ".join(shown(gap_lost=True).split())
    assert (
        "NOT ALL COUNTED: a gap whose length no clock can tell is not counted: the degree-hours are incomplete" in out
    )
    assert "NOT ALL COUNTED" not in shown()
