"""A second copy of the daemon refuses to start and touches nothing."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from controller.errors import AccessError, UnavailableError
from controller.hardware.single import OnlyCopy

ROOT = Path(__file__).parents[2]
HOLD = "import sys, pathlib, time; from controller.hardware.single import OnlyCopy\n"
HOLD += "held = OnlyCopy(pathlib.Path(sys.argv[1])); print('held', flush=True); sys.stdin.read()"


def test_a_second_copy_is_told_which_process_runs(tmp_path: Path) -> None:
    command = [sys.executable, "-c", HOLD, str(tmp_path)]
    with subprocess.Popen(command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as first:
        assert first.stdout is not None
        assert first.stdout.readline() == "held\n"
        before = sorted(tmp_path.iterdir())
        with pytest.raises(UnavailableError, match=f"already runs on this machine .process {first.pid}") as told:
            OnlyCopy(tmp_path)
        assert told.value.exit_code == 69
        assert sorted(tmp_path.iterdir()) == before
        assert (tmp_path / "daemon.lock").read_text() == f"process {first.pid}\n"
        first.send_signal(signal.SIGKILL)
    OnlyCopy(tmp_path).close()  # The kernel has given it back.


def test_the_lock_can_be_had_again_after_it_was_given_back(tmp_path: Path) -> None:
    for _ in range(2):
        with OnlyCopy(tmp_path / "made"):
            assert (tmp_path / "made" / "daemon.lock").read_text() == f"process {os.getpid()}\n"


def test_without_the_right_to_write_there_it_says_how_to_start(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    me = os.geteuid()
    if me == 0:
        os.seteuid(65534)  # Root may write everywhere; nobody may not.
    try:
        with pytest.raises(AccessError, match="systemctl start hangroom") as told:
            OnlyCopy(tmp_path)
    finally:
        os.seteuid(me)
    assert told.value.exit_code == 77
