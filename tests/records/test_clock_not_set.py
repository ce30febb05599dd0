"""What is written while nobody has set the clock says so: rows of the climate, of the diary, of readings and checks."""

import csv
from pathlib import Path

from msgspec.structs import replace

from controller.core.requests import Calibrate, Ph
from controller.core.values import Event, InstrumentCheck
from controller.records.batch_folder import batches_of
from controller.records.keeper import Keeper
from tests.helpers.outages import hung
from tests.helpers.recorded import CHAMBER, NAME, Ticks


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_climate_and_diary_are_marked_until_the_clock_is_set(tmp_path: Path) -> None:
    keeper = Keeper(tmp_path, CHAMBER, force=False, threaded=False, status_every_s=1e9)
    ticks = Ticks()
    for trusted in (False, True):
        for number in range(30):
            events = (Event("note", "Something.", batch=NAME),) if number == 3 else ()
            memory, outcome = ticks.tick(events=events)
            keeper.keep(memory, replace(outcome, wall_trusted=trusted))
    keeper.close()
    folder = batches_of(tmp_path) / NAME
    texts = [row["text"] for row in rows_of(folder / "events.csv") if row["kind"] == "note"]
    assert texts == ["Something. (clock not set)", "Something."]
    (climate,) = folder.glob("climate-*.csv")
    marks = ["clock:untrusted" in row["quality"] for row in rows_of(climate)]
    assert marks == sorted(marks, reverse=True)
    assert len(set(marks)) == 2


def test_so_are_readings_and_checks() -> None:
    story = hung()
    story.wall_trusted = False
    story.tick(Ph(id="a", at_wall_s=story.wall_s, value=5.6, instrument="meter", note="wet", sure=True))
    assert story.outcome is not None
    assert [entry.note for entry in story.outcome.entries] == ["wet; clock not set"]
    check = InstrumentCheck("air_temp", "ice", (("ice", 0.0, 0.1),), "Cel", error=0.2, verdict="good")
    story.tick(Calibrate(id="c", at_wall_s=story.wall_s, check=check, sure=True))
    assert [entry.note for entry in story.outcome.checks] == ["clock not set"]
    story.wall_trusted = True
    story.tick(Ph(id="b", at_wall_s=story.wall_s, value=5.6, instrument="meter", note="wet", sure=True))
    assert not any("clock" in entry.note for entry in story.outcome.entries)
