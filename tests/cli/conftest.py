"""A chamber file with a state folder of its own, and the production daemon running on it in a thread."""

import os
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from controller.cli import main
from controller.core.memory import Inputs
from controller.core.restart import first_memory
from controller.core.step import step
from controller.core.values import Commands, Health, Reading, Readings, Role
from controller.daemon import Ports, run
from controller.records.keeper import Keeper
from controller.records.request_box import RequestBox, this_boot
from controller.records.status import status_of, write_status
from controller.settings.chamber_file import find_chamber, plan_of, read_chamber
from tests.helpers.shipped_chambers import with_day

TICK_S = 0.02

Typed = Callable[..., tuple[int, str, str]]


@pytest.fixture
def typed(capsys: pytest.CaptureFixture[str]) -> Typed:
    """Type a command line; return its exit code and what stood on stdout and stderr."""

    def type_line(*words: str) -> tuple[int, str, str]:
        code = main(list(words))
        said = capsys.readouterr()
        return code, said.out, said.err

    return type_line


@pytest.fixture
def state_dir(tmp_path: Path) -> Path:
    folder = tmp_path / "state"
    folder.mkdir()
    return folder


@pytest.fixture
def chamber(tmp_path: Path, state_dir: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Write the shipped old fridge with this state folder, and make it the chamber that is found."""
    text = with_day(find_chamber("old-fridge").read_text("utf-8"))
    path = tmp_path / "chamber.toml"
    path.write_text(text.replace("/var/lib/hangroom", str(state_dir)), "utf-8")
    assert str(state_dir) in path.read_text("utf-8")
    monkeypatch.setenv("HANGROOM_CHAMBER", str(path))
    return path


class World:
    """Be clock, sensors, relays, chores and supervisor of a chamber at 80 %RH, and at 20 °C until somebody heats it."""

    def __init__(self) -> None:
        self.air_c = 20.0
        self.ending = threading.Event()
        self.ticked = threading.Event()

    def monotonic_s(self) -> float:
        return time.monotonic()

    def wall_s(self) -> float:
        return time.time()

    def wall_trusted(self) -> bool:
        return True

    def boot_id(self) -> str:
        return this_boot()[0]

    def sleep_until(self, monotonic_s: float) -> bool:
        del monotonic_s
        return not self.ending.wait(TICK_S)

    def newest(self) -> Readings:
        now_s = time.monotonic()
        air_c = self.air_c
        return {"air_temp": Reading(air_c, now_s), "rh": Reading(80.0, now_s), "rh_temp": Reading(air_c, now_s)}

    def apply(self, commands: Commands) -> None:
        pass

    def all_off(self) -> None:
        pass

    def summary_due(self) -> bool:
        return False

    def close(self) -> None:
        pass

    def ready(self) -> None:
        self.ticked.set()

    def alive(self, status: str) -> None:
        pass

    def strangers(self) -> tuple[str, ...]:
        return ()

    def disobedient(self) -> tuple[Role, ...]:
        return ()

    def health(self) -> Health:
        return Health()

    def stopping(self) -> None:
        pass


@pytest.fixture
def world() -> World:
    """Return what the daemon sees, so that a test can change it."""
    return World()


@pytest.fixture
def daemon(chamber: Path, state_dir: Path, world: World) -> Iterator[Path]:
    """Run the daemon over real records; hand out its state folder."""
    file = read_chamber(chamber)
    plan = plan_of(file)
    keeper = Keeper(state_dir, file, force=False, threaded=False, status_every_s=0.0)
    ports = Ports(world, world, world, keeper, RequestBox(state_dir, force=False), world, world, world)
    memory = first_memory(plan, world.monotonic_s(), world.wall_s(), world.boot_id())
    thread = threading.Thread(target=run, args=(memory, plan, ports))
    thread.start()
    assert world.ticked.wait(5.0)
    yield state_dir
    world.ending.set()
    thread.join(5.0)
    keeper.close()
    assert not thread.is_alive()


@pytest.fixture
def dead_status(daemon_status: Path) -> Path:
    """Leave the status of a daemon that ended an hour ago."""
    hour_ago_s = time.time() - 3600.0
    os.utime(daemon_status, (hour_ago_s, hour_ago_s))
    return daemon_status


@pytest.fixture
def daemon_status(chamber: Path, state_dir: Path) -> Path:
    """Leave the status of one tick of the daemon."""
    file = read_chamber(chamber)
    plan = plan_of(file)
    memory = first_memory(plan, 0.0, time.time(), this_boot()[0])
    memory, outcome = step(memory, Inputs(0.0, time.time(), wall_trusted=True, readings={}), plan)
    write_status(state_dir, status_of(memory, outcome, chamber=file))
    return state_dir / "status.json"
