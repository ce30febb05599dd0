"""What finished batches tell of a chamber, from minute rows whose truth was put into them."""

import datetime as dt
from math import exp
from pathlib import Path
from random import Random
from typing import Final

import pytest
from msgspec.structs import replace

from controller.core.memory import Batch
from controller.errors import DataError
from controller.records.batch_folder import make_folder
from controller.records.climate_log import COLUMNS, HEADER
from controller.records.csv_text import row_of, time_text
from controller.review.learning.batches import MOST, adapt
from controller.settings.chamber_file import ChamberFile, plan_of
from controller.settings.learned_file import Figure
from controller.settings.profile_file import adapt as fitted
from controller.settings.profile_file import read_profile
from controller.settings.shipped import find_profile
from tests.helpers.shipped_chambers import shipped_chamber

BEGAN_S: Final = dt.datetime(2026, 1, 5, 6, tzinfo=dt.UTC).timestamp()
FRIDGE: Final = shipped_chamber("old-fridge")
TRUE_UA: Final = 2.2
MEAT_TAU_H: Final = 3300.0 / (6.0 * 0.069) / 3600.0


def lived_through(
    state_dir: Path,
    name: str,
    *,
    chamber: ChamberFile = FRIDGE,
    ua: float = TRUE_UA,
    room_c: float = 14.0,
    seed: int = 1,
) -> None:
    """Leave the folder of a batch: a warm-up of 40 min at full power, then 30 h of ferment at 24 °C."""
    profile, _ = fitted(read_profile(find_profile("tangy")), plan_of(chamber))
    batch = Batch(id=name, profile=profile, began_wall_s=BEGAN_S, meat_kg=10.0)
    folder = make_folder(state_dir, batch, chamber, force=False)
    names = {stage.kind: stage.name for stage in profile.stages}
    lamp_w = sum(one.w or 0.0 for one in chamber.output if one.role == "heater")
    random, rows = Random(seed), []
    for minute in range(1, 31 * 60):
        hang = 40
        if minute <= hang:
            stage, air_c, pct = names["warm-up"], room_c + 0.5 * max(minute - 1, 0) * (1.0 - minute / 200.0), 100.0
        else:
            hours = (minute - hang) / 60.0
            power_w = ua * (24.0 - room_c) + 25.0 * exp(-hours / MEAT_TAU_H) + random.gauss(0.0, 1.0)
            stage, air_c, pct = names["ferment"], 24.0 + random.gauss(0.0, 0.05), 100.0 * power_w / lamp_w
        values = dict.fromkeys(COLUMNS, "") | {
            "time": time_text(BEGAN_S + 60.0 * minute), "stage": stage, "state": "running",
            "air_temp_c": f"{air_c:.3f}", "ambient_temp_c": f"{room_c:.3f}", "heater_pct": f"{pct:.2f}",
            "cooler_pct": "0.00",
        }  # fmt: skip
        rows.append(row_of([values[column] for column in COLUMNS]))
    (folder / "climate-2026-01-05.csv").write_bytes(HEADER + b"".join(rows) + b"torn,lin")
    hung = time_text(BEGAN_S + 40 * 60.0)
    (folder / "events.csv").write_text(f"time,kind,id,priority,text,actor\r\n{hung},hang,,,in,anna\r\n")


def test_one_batch_tells_what_holds_the_chamber(tmp_path: Path) -> None:
    lived_through(tmp_path, "2026-01-05-tangy-1")
    found = adapt(tmp_path, FRIDGE, None)
    (one,) = found.shown
    assert one.ua_w_per_k == pytest.approx(TRUE_UA, rel=0.03)
    assert one.ua_w_per_k is not None
    assert abs(one.ua_w_per_k - TRUE_UA) <= 2.0 * (one.ua_error or 0.0)
    assert one.hours >= 20
    assert one.slope_k_per_min == pytest.approx(0.5, rel=0.1)


def test_several_batches_are_surer_than_one_and_their_scatter_counts(tmp_path: Path) -> None:
    lived_through(tmp_path, "a")
    alone = adapt(tmp_path, FRIDGE, None).learned.ua_w_per_k
    for number, ua in enumerate((2.0, 2.3, 2.4)):
        lived_through(tmp_path, f"b{number}", ua=ua, seed=number)
    found = adapt(tmp_path, FRIDGE, None)
    assert len(found.shown) == 4
    assert found.learned.made.batches == 4
    assert found.learned.ua_w_per_k.value is not None
    assert 2.0 <= found.learned.ua_w_per_k.value <= 2.16, "from 1.8 of the file towards 2.2"
    assert alone.value is not None


def test_no_figure_moves_by_more_than_a_fifth_at_a_time(tmp_path: Path) -> None:
    lived_through(tmp_path, "a", ua=3.0)
    learned = adapt(tmp_path, FRIDGE, None).learned
    assert learned.ua_w_per_k.value is not None
    assert learned.ua_w_per_k.value == pytest.approx(FRIDGE.model.ua_w_per_k * (1.0 + MOST))
    again = adapt(tmp_path, FRIDGE, learned).learned
    assert learned.ua_w_per_k.value < (again.ua_w_per_k.value or 0.0) <= 3.0


def test_what_a_step_test_measured_well_hardly_moves(tmp_path: Path) -> None:
    lived_through(tmp_path, "a", ua=2.4)
    before = adapt(tmp_path, FRIDGE, None).learned
    sure = replace(before, ua_w_per_k=Figure(value=2.2, error=0.05))
    after = adapt(tmp_path, FRIDGE, sure).learned.ua_w_per_k
    assert after.value == pytest.approx(2.2, abs=0.03)


def test_batches_of_another_lamp_and_open_ones_are_left_out(tmp_path: Path) -> None:
    outputs = tuple(replace(one, w=100.0) if one.role == "heater" else one for one in FRIDGE.output)
    lived_through(tmp_path, "other", chamber=replace(FRIDGE, output=outputs))
    lived_through(tmp_path, "open")
    with pytest.raises(DataError, match="no finished batch of this chamber shows anything"):
        adapt(tmp_path, FRIDGE, None, ["open"])
    assert [one.batch for one in adapt(tmp_path, FRIDGE, None).shown] == ["open"]


def test_a_chamber_hardly_warmer_than_its_room_tells_nothing_of_its_walls(tmp_path: Path) -> None:
    lived_through(tmp_path, "a", room_c=22.5)
    (one,) = adapt(tmp_path, FRIDGE, None).shown
    assert one.ua_w_per_k is None
