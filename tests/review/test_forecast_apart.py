"""A forecast decides nothing: the daemon cannot even import it, and a file of forecasts changes nothing it does."""

import os
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from controller.app import Progress, Simulation, simulate
from controller.review.forecast.told import FILE, HEADER
from controller.settings.chamber_file import find_chamber
from controller.settings.profile_file import find_profile
from tests.helpers.chamber_story import BEGIN_WALL_S

ROOT = Path(__file__).parents[2]
UNITS = ROOT / "systemd"


def test_a_running_daemon_has_loaded_neither_forecasts_nor_their_libraries() -> None:
    code = (
        "import sys, controller.app, controller.daemon, controller.core.step\n"
        "import controller.records.keeper, controller.records.request_box\n"
        "print([name for name in sys.modules if name.split('.')[0] in ('numpy', 'scipy') or 'review' in name])"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert said.stdout == "[]\n"


def test_the_page_of_the_status_loads_no_heavy_library() -> None:
    code = "import sys, controller.cli.pages.status_page; print(sorted({'numpy', 'scipy'} & set(sys.modules)))"
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert said.stdout == "[]\n"


def test_the_rings_forbid_what_decides_to_read_a_forecast() -> None:
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["importlinter"]["contracts"]
    (contract,) = (one for one in contracts if one.get("forbidden_modules") == ["controller.review"])
    assert {"controller.daemon", "controller.core", "controller.records"} <= set(contract["source_modules"])
    assert contract["type"] == "forbidden"
    assert not contract.get("ignore_imports")
    assert not contract.get("allow_indirect_imports")


LIE = (
    b"2026-01-05T06:00:00Z,ph,5.3,pH,readings,9,2026-01-05T07:00:00Z,2026-01-05T07:00:00Z,2026-01-05T07:00:00Z,"
    b"2026-01-05T07:00:00Z,2026-01-05T07:00:00Z,0.000,,pH 5.3 is reached\r\n"
)


def run(out: Path, *, with_forecast: bool) -> dict[str, bytes]:
    """Run the first five hours of a batch; return what it left, but the forecasts."""

    def watch(progress: Progress) -> None:
        del progress
        for folder in (out / "batches").glob("*-tangy-*"):
            if with_forecast and not (folder / FILE).exists():
                (folder / FILE).write_bytes(HEADER + LIE)

    simulation = Simulation(
        profile=find_profile("tangy"),
        chamber=find_chamber("insulated-box"),
        out=out,
        begin_wall_s=BEGIN_WALL_S,
        days=0.21,
        seed=1,
        faults=("missing@3h/20m",),
    )
    simulate(simulation, watch)
    (folder,) = (out / "batches").glob("*-tangy-*")
    assert (folder / FILE).exists() == with_forecast
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.name != FILE}


def test_a_forecast_file_changes_nothing_in_stages_outputs_and_alarms(tmp_path: Path) -> None:
    without = run(tmp_path / "without", with_forecast=False)
    beside = run(tmp_path / "beside", with_forecast=True)
    assert beside == without
    assert b"alarm" in without["events.csv"]
    assert {"recipe.toml", "events.csv", "climate-2026-01-05.csv"} <= set(without)


@pytest.mark.parametrize("name", ["hangroom-forecast.service", "hangroom-forecast.timer"])
def test_systemd_finds_nothing_to_say_about_the_unit(name: str, tmp_path: Path) -> None:
    if shutil.which("systemd-analyze") is None:
        give_up = pytest.fail if os.environ.get("CI") else pytest.skip
        give_up("THE UNIT WAS NOT VERIFIED: systemd-analyze is not here (apt-get install systemd)")
    (tmp_path / "bin").mkdir()
    (tmp_path / "bin" / "hangroom").touch(0o755)
    for unit in UNITS.glob("hangroom-forecast.*"):
        (tmp_path / unit.name).write_text(unit.read_text("utf-8").replace("/opt/hangroom", str(tmp_path)), "utf-8")
    said = subprocess.run(
        ["systemd-analyze", "verify", "--man=no", str(tmp_path / name)], capture_output=True, text=True, check=False
    )
    assert (said.returncode, said.stdout + said.stderr) == (0, "")


def test_the_unit_steps_back_behind_the_daemon_and_touches_no_device() -> None:
    lines = (UNITS / "hangroom-forecast.service").read_text("utf-8").splitlines()
    told = dict(line.split("=", 1) for line in lines if "=" in line and not line.startswith("#"))
    assert (told["User"], told["Nice"], told["CPUSchedulingPolicy"]) == ("hangroom", "19", "idle")
    assert (told["DevicePolicy"], told["PrivateDevices"], told["PrivateNetwork"]) == ("closed", "yes", "yes")
    assert "SupplementaryGroups" not in told
    assert told["ExecStart"].split()[1:3] == ["forecast", "--keep"]
    for key in ("Requires", "BindsTo", "PartOf", "Wants", "Before", "After", "Conflicts"):
        assert "hangroom.service" not in told.get(key, "")
