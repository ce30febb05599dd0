"""A computer that is unwell under a chamber that is led: one alarm for one cause, and the climate goes on."""

import csv
from pathlib import Path

import pytest
from msgspec.structs import replace

from controller.app import Simulation, simulate
from controller.core.memory import Memory, Outcome
from controller.core.values import Trouble
from controller.records.batch_folder import batches_of
from controller.records.keeper import Keeper
from controller.settings.chamber_file import find_chamber
from controller.settings.profile_file import find_profile
from tests.helpers.chamber_story import BEGIN_WALL_S, ChamberStory, Notebook
from tests.helpers.shipped_chambers import shipped_chamber


class OnDisk(Notebook):
    """Keep the records of a story on the disk of its modelled computer, as the daemon does."""

    def __init__(self, story: ChamberStory, folder: Path) -> None:
        super().__init__()
        disk = story.world.disk
        self.keeper = Keeper(
            folder, story.file, force=False, threaded=False, status_every_s=1e9, disk=disk.use, now=disk.now_s
        )

    def keep(self, memory: Memory, outcome: Outcome) -> None:
        super().keep(memory, outcome)
        self.keeper.keep(memory, outcome)

    def trouble(self) -> tuple[Trouble, ...]:
        return self.keeper.trouble()


def story_of(folder: Path, *faults: str) -> ChamberStory:
    """Return a chamber that has been warmed for an hour; the fault is ordered for ten minutes later."""
    story = ChamberStory(changed=replace(shipped_chamber("insulated-box"), tick_s=5.0), faults=faults)
    story.book = OnDisk(story, folder)
    return story.start().run_for(hours=1)


def said(story: ChamberStory) -> list[str]:
    """Return what was called out, and called again."""
    return [event.text for _, event in story.book.events if event.kind.startswith("alarm")]


def climate_rows(folder: Path) -> list[dict[str, str]]:
    rows: list[dict[str, str]] = []
    for path in sorted((batches_of(folder) / "story").glob("climate-*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            rows += csv.DictReader(file)
    return rows


@pytest.mark.parametrize(
    ("fault", "row", "text"),
    [
        pytest.param("loop-late@70m/25s", "C1", "A decision came 30 s after", marks=pytest.mark.fault_row("C1")),
        pytest.param(
            "disk-filling@70m/30m", "C6", "The disk is nearly full: 120 MB", marks=pytest.mark.fault_row("C6")
        ),
        pytest.param("disk-full@70m/30m", "C6", "The disk is full; records of ", marks=pytest.mark.fault_row("C6")),
        pytest.param("disk-read-only@70m/30m", "C7", "The disk can only be read", marks=pytest.mark.fault_row("C7")),
        pytest.param("disk-slow@70m/30m", "C8", "One write took the disk 8 s", marks=pytest.mark.fault_row("C8")),
        pytest.param("low-voltage@70m/4m", "C9", "supply is too weak", marks=pytest.mark.fault_row("C9")),
        pytest.param(
            "processor-hot@70m/30m", "C10", "The processor is at 85 °C, limit 80 °C", marks=pytest.mark.fault_row("C10")
        ),
    ],
)
def test_one_fault_of_the_computer_is_one_alarm_within_a_minute_or_two_and_the_climate_is_led_on(
    tmp_path: Path, fault: str, row: str, text: str
) -> None:
    story = story_of(tmp_path, fault)
    assert said(story) == []
    story.run_for(hours=1)
    assert story.rows == [row]
    assert text in said(story)[-1]
    ((at_s, _),) = [(at_s, event) for at_s, event in story.book.events if event.kind == "alarm"]
    assert at_s - 70 * 60.0 <= 90.0
    assert story.state == "running"
    assert story.world.true_air_temp_c == pytest.approx(36.0, abs=0.7)  # What the profile wants.
    times = [row["time"][11:] for row in climate_rows(tmp_path)]
    assert times == [f"{6 + minute // 60:02}:{minute % 60:02}:00Z" for minute in range(1, 120)]


@pytest.mark.fault_row("C1")
def test_while_the_program_gets_no_time_the_lamp_goes_out_by_its_own_timer(tmp_path: Path) -> None:
    story = ChamberStory(faults=("loop-late@10m/2m",))
    story.book = OnDisk(story, tmp_path)
    story.start().run_for(minutes=20)
    assert story.burns_between(590.0, 600.0) > 0.0  # A cold chamber: the lamp burnt just then.
    assert story.dark_from(600.0) <= 610.0  # Two ticks.
    assert story.burns_between(610.0, 720.0) == 0.0
    assert story.burns_between(720.0, 900.0) > 0.0


@pytest.mark.fault_row("C3")
def test_a_computer_that_hung_says_so_when_it_is_back_and_goes_on(tmp_path: Path) -> None:
    story = story_of(tmp_path, "computer-hangs@70m/50s")
    story.run_for(minutes=20)
    assert story.rows == ["C3"]
    assert "its own watchdog reset it" in said(story)[0]
    assert story.state == "running"


@pytest.mark.fault_row("C6")
def test_a_simulated_batch_over_a_full_disk_has_every_row_and_says_which_came_late(tmp_path: Path) -> None:
    summary = simulate(
        Simulation(
            profile=find_profile("tangy"),
            chamber=find_chamber("insulated-box"),
            out=tmp_path,
            begin_wall_s=BEGIN_WALL_S,
            days=0.1,
            faults=("disk-full@30m/1h",),
        ),
        lambda _progress: None,
    )
    rows: list[dict[str, str]] = []
    for path in sorted(Path(summary.folder).glob("climate-*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            rows += csv.DictReader(file)
    assert summary.rows == len(rows) == 144
    late = [row["time"][11:16] for row in rows if "record:written_late" in row["quality"]]
    assert (late[0], late[-1], len(late)) == ("06:30", "07:29", 60)  # It begins at 06:00.
    with (Path(summary.folder) / "events.csv").open(encoding="utf-8", newline="") as file:
        events = list(csv.DictReader(file))
    assert [row["id"] for row in events if row["kind"] == "alarm"] == ["C6-1"]
    assert next(row["text"] for row in events if row["id"] == "C6-1").endswith("(written late)")


def test_what_waits_in_memory_for_a_full_disk_is_gone_with_the_power(tmp_path: Path) -> None:
    """No program can keep that; the record shows the hole, and the degree-hours count it as a gap."""
    summary = simulate(
        Simulation(
            profile=find_profile("tangy"),
            chamber=find_chamber("insulated-box"),
            out=tmp_path,
            begin_wall_s=BEGIN_WALL_S,
            days=0.06,
            faults=("disk-full@20m/40m", "power-cut@40m/5m"),
        ),
        lambda _progress: None,
    )
    times = []
    for path in sorted(Path(summary.folder).glob("climate-*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            times += [row["time"][11:16] for row in csv.DictReader(file)]
    assert "06:19" in times
    assert not [time for time in times if "06:21" <= time < "06:46"]
    assert "06:50" in times  # After the cut, while it was still full.
    assert times == sorted(set(times))


def test_a_bad_disk_is_as_repeatable_as_a_good_one(tmp_path: Path) -> None:
    folders = []
    for name in ("first", "second"):
        summary = simulate(
            Simulation(
                profile=find_profile("tangy"),
                chamber=find_chamber("insulated-box"),
                out=tmp_path / name,
                begin_wall_s=BEGIN_WALL_S,
                days=0.06,
                faults=("disk-slow@10m/10m", "disk-full@30m/20m"),
            ),
            lambda _progress: None,
        )
        folders.append(Path(summary.folder))
    files = [sorted(path.name for path in folder.iterdir()) for folder in folders]
    assert files[0] == files[1]
    for name in files[0]:
        assert (folders[0] / name).read_bytes() == (folders[1] / name).read_bytes(), name
