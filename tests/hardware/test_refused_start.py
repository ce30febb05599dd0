"""What must not run does not begin: the command ends with its code, claims no pin and writes no record."""

from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import NoReturn

import pytest

from controller import app
from controller.cli import main
from controller.hardware.single import OnlyCopy
from controller.settings.chamber_file import find_chamber
from tests.helpers.shipped_chambers import with_day


def no_pins(label: str) -> NoReturn:
    raise AssertionError(f"the pins of {label!r} were asked for")


class Place:
    """Be the chamber file, state folder and run folder of a machine."""

    def __init__(self, root: Path) -> None:
        self.file, self.state, self.run_dir = root / "chamber.toml", root / "state", root / "run"
        self.state.mkdir()
        self.run_dir.mkdir()
        text = with_day(find_chamber("insulated-box").read_text("utf-8"))
        self.file.write_text(text.replace("/var/lib/hangroom", str(self.state)), "utf-8")
        assert str(self.state) in self.file.read_text("utf-8")

    def rewrite(self, change: Callable[[str], str]) -> None:
        self.file.write_text(change(self.file.read_text("utf-8")), "utf-8")


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Place]:
    place = Place(tmp_path)
    monkeypatch.setenv("RUNTIME_DIRECTORY", str(place.run_dir))
    monkeypatch.setattr(app, "run", partial(app.run, pins=no_pins))
    yield place
    assert list(place.state.iterdir()) == []


def run(place: Place, capsys: pytest.CaptureFixture[str]) -> tuple[int, str]:
    code = main(["run", "--chamber", str(place.file)])
    return code, " ".join(capsys.readouterr().err.split())  # It is folded for a screen.


def without_cutout(text: str) -> str:
    return "\n".join(line for line in text.splitlines() if "cutout" not in line)


@pytest.mark.fault_row("C15")
def test_a_second_program_ends_with_69_and_leaves_the_first_ones_lock_alone(
    place: Place, capsys: pytest.CaptureFixture[str]
) -> None:
    with OnlyCopy(place.run_dir):
        lock = (place.run_dir / "daemon.lock").read_bytes()
        code, said = run(place, capsys)
        assert (place.run_dir / "daemon.lock").read_bytes() == lock
        assert len(list(place.run_dir.iterdir())) == 1
    assert code == 69
    assert "already runs on this machine" in said
    assert "this copy has touched nothing" in said


@pytest.mark.fault_row("C13")
@pytest.mark.parametrize(
    ("change", "remedy"),
    [
        (lambda text: text[: len(text) // 2], "chamber.toml"),  # Half of it is gone.
        (lambda text: text.replace("volume_l = 75.0", "volume_l = 7.5"), "model.volume_l = 7.5"),
        (lambda text: text.replace("[model]", "[modle]"), "modle"),
        (lambda _text: "\0" * 4096, "chamber.toml"),  # What a file system leaves where the data never came.
    ],
    ids=["torn", "out of range", "misspelt", "zero bytes"],
)
def test_a_damaged_chamber_file_ends_the_start_with_78_and_a_sentence(
    place: Place, capsys: pytest.CaptureFixture[str], change: Callable[[str], str], remedy: str
) -> None:
    place.rewrite(change)
    code, said = run(place, capsys)
    assert code == 78
    assert remedy in said
    assert "Traceback" not in said
    assert list(place.run_dir.iterdir()) == []


@pytest.mark.fault_row("H11")
def test_without_a_tested_cut_out_nothing_begins(place: Place, capsys: pytest.CaptureFixture[str]) -> None:
    place.rewrite(without_cutout)
    code, said = run(place, capsys)
    assert code == 78
    assert "heat is refused" in said
    assert "thermal_cutout_c" in said


@pytest.mark.fault_row("H10")
def test_who_may_not_write_the_run_folder_ends_with_77(
    place: Place, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    opened = Path.open

    def forbidden(path: Path, *how: str, **more: str) -> object:
        if path.parent == place.run_dir:
            raise PermissionError(13, "Permission denied")
        return opened(path, *how, **more)  # type: ignore[call-overload] # handed on as it came

    monkeypatch.setattr(Path, "open", forbidden)  # Root may write everywhere, and these tests may be run by root.
    code, said = run(place, capsys)
    assert code == 77
    assert "daemon.lock: this user may not write it" in said
