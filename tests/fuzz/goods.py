"""Good files to begin from: a plan as the command keeps it, and the state folder of a batch that was run to its end."""

import tomllib
from pathlib import Path
from typing import Final

import tomli_w

from controller.app.simulated import Simulation, simulate
from controller.core.values import CheckEntry, InstrumentCheck
from controller.planning.plan_file import keep_plan
from controller.records.csv_text import row_of
from controller.records.events import HEADER as EVENTS
from controller.records.instruments import HEADER, check_row
from controller.review.forecast.told import COLUMNS as FORECAST_COLUMNS
from controller.settings.chamber_file import find_chamber, plan_of
from controller.settings.profile_file import adapt, find_profile, read_profile
from tests.helpers.batch_logs import Log
from tests.helpers.planned import chamber_named, plan_for
from tests.helpers.recorded import NAME

WALL_S: Final = 1_767_592_800.0  # 2026-01-05T06:00:00Z


def good_plan(folder: Path) -> bytes:
    """Return the plan of a batch of tangy in the old fridge."""
    path = folder / "good.plan"
    keep_plan(path, plan_for("tangy"))
    return path.read_bytes()


def simulated_state(folder: Path, profile: str = "tangy", days: float = 6.0) -> Path:
    """Return the state folder of a simulated batch, a row for ten minutes of its climate. Takes half a minute."""
    told = tomllib.loads(find_chamber("old-fridge").read_text("utf-8"))
    told["limits"] |= {"log_every_s": 600.0}
    folder.mkdir(parents=True, exist_ok=True)
    chamber = folder / "coarse.toml"
    chamber.write_text(tomli_w.dumps(told), "utf-8")
    simulate(
        Simulation(
            profile=find_profile(profile), chamber=chamber, out=folder, begin_wall_s=WALL_S, days=days, seed=3,
            diameter_mm=60.0,
        ),
        lambda _progress: None,
    )  # fmt: skip
    _add_small_files(folder)
    return folder


def written_state(folder: Path, profile: str = "tangy") -> Path:
    """Return a state folder that was written by hand: short, and every kind of row stands in it."""
    stages = [stage.name for stage in read_profile(find_profile(profile)).stages]
    log = Log(every_s=600.0)
    hours = 0.0
    for place, stage in enumerate(stages):
        log.minutes(hours, hours + 8.0, lambda at_h: 24.0 + at_h % 3.0, stage=stage, every_min=20.0, core_temp_c="22.5")
        log.event(hours, "stage" if place else "start")
        hours += 8.0
    log.event(1.0, "hang").event(2.0, "prompt").event(3.0, "alarm", "A4-1", "1").event(3.5, "seen", "A4-1")
    log.event(4.0, "gap", "unknown").event(4.5, "gap", "known").event(5.0, "gap", "never").event(
        6.0, "clock", "C4", "E"
    )
    log.event(7.0, "confirm").event(7.2, "cool", "from").event(7.3, "set", "set").event(7.4, "note", "cleaning")
    log.event(7.5, "refused", "r9").event(7.6, "check", "c1").event(hours, "end", "complete")
    for number in range(8):
        log.reading(1.0 + number, "ph", round(5.8 - 0.15 * number, 2), unit="pH", note="sausage" if number > 5 else "")
    log.reading(5.0, "ph", "5.2", instrument="strips").reading(5.1, "ph", "5.3", replaces="r3")
    for piece in "ABC":
        log.reading(1.0, "weight", 400, piece=piece, unit="g", instrument="scale")
        log.reading(
            30.0,
            "weight",
            300,
            piece=piece,
            unit="g",
            instrument="scale",
            note="out; gross 310" if piece == "C" else "",
        )
    for number in range(6):
        log.reading(16.0 + number, "core_temp", 30.0 + 8.0 * number, unit="Cel", piece="A", instrument="probe")
        log.reading(16.0 + number, "smoker_temp", 60.0 + 4.0 * number, unit="Cel", instrument="probe")
    log.reading(31.0, "water_activity", 0.91, piece="A", instrument="meter").reading(31.0, "look", "tacky", piece="B")
    log.reading(31.0, "firmness", "firm").reading(31.0, "smell", "sour")
    folder.mkdir(parents=True, exist_ok=True)
    chamber = chamber_named("old-fridge")
    adapted, _ = adapt(read_profile(find_profile(profile)), plan_of(chamber))
    log.write(folder / "batches" / NAME, adapted, plan_for(profile).sheet)
    _add_small_files(folder)
    return folder


def _add_small_files(folder: Path) -> None:
    """Add the checks of instruments, the chamber's own diary, and forecasts."""
    (folder / "instruments.csv").write_bytes(HEADER + b"".join(check_row(check) for check in good_checks()))
    (folder / "events.csv").write_bytes(
        EVENTS + row_of(("2026-01-05T06:00:00Z", "records", "C6", "E", "x", "hangroom"))
    )
    rows = b"".join(row_of(("2026-01-05T12:00:00Z", kind, *values)) for kind, values in _forecasts())
    (next((folder / "batches").iterdir()) / "forecasts.csv").write_bytes(row_of(FORECAST_COLUMNS) + rows)


def _forecasts() -> list[tuple[str, tuple[str, ...]]]:
    times = ("2026-01-05T18:00:00Z",) * 5
    return [
        ("ph", ("4.9", "pH", "recipe", "2", *times, "0.02", "2026-01-05T14:00:00Z", "pH 4.9 expected Mon")),
        ("weight_loss", ("35", "%", "readings", "3", *("2026-02-05T18:00:00Z",) * 5, "0.1", "", "35 % loss, later")),
    ]


def good_checks() -> list[CheckEntry]:
    """Return a check of each kind."""
    buffers = ("7.00", 7.0, 7.03), ("4.01", 4.01, 4.05)
    checks = (
        InstrumentCheck("air_temp", "ice", (("ice", 0.0, 0.3),), "Cel", 0.0, 0.3, -0.3, None, "good"),
        InstrumentCheck("rh", "salt", (("NaCl", 75.4, 73.1),), "%RH", 21.0, 2.0, 2.3, None, "good"),
        InstrumentCheck("meter 1", "buffers", buffers, "pH", 22.0, 0.05, -0.03, 98.0, "good"),
        InstrumentCheck("probe 2", "reference", (("better probe", 64.0, 64.3),), "Cel", 64.0, 0.4, -0.3, None, "good"),
    )  # fmt: skip
    return [CheckEntry(f"c{n}", WALL_S + 60.0 * n, one, "Ann", WALL_S + 61.0 * n, "") for n, one in enumerate(checks)]
