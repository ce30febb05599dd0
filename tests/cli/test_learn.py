"""hangroom learn as a maker types it, from the modelled test to a batch that goes by what was learned."""

import json
from pathlib import Path

import pytest

from controller.cli import main
from controller.records.batch_folder import read_card
from controller.settings.learned_file import FILE, read_learned


def typed(*words: object) -> int:
    return main([str(word) for word in words])


@pytest.fixture(scope="module")
def runs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder of a modelled test of the insulated box."""
    out = tmp_path_factory.mktemp("runs")
    assert typed("learn", "--simulate", "--chamber", "insulated-box", "--out", out, "--seed", 3) == 0
    return out


def test_a_modelled_test_leaves_its_rows_its_file_and_its_page(runs: Path) -> None:
    (folder,) = (runs / "learned").iterdir()
    assert {path.name for path in folder.iterdir()} == {"test.toml", "steps.csv", "learned.toml", "learned.svg"}
    data = (folder / "steps.csv").read_bytes()
    assert data.startswith(b"time,elapsed_s,phase,air_temp_c,")
    assert b"2026-01-05T06:11:00Z,600.000,heat," in data
    assert all(line.count(b",") == data.split(b"\r\n")[0].count(b",") for line in data.split(b"\r\n")[:-1])
    assert (folder / "learned.svg").read_text().startswith("<svg xmlns=")


def test_its_result_is_shown_and_given_as_json(runs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder,) = (runs / "learned").iterdir()
    assert typed("learn", "--result", folder) == 0
    shown = capsys.readouterr().out
    assert "holds one kelvin with" in shown
    assert "± error" in shown
    assert all(len(line) <= 80 for line in shown.splitlines() if "/" not in line)
    assert typed("learn", "--result", folder, "--json") == 0
    told = json.loads(capsys.readouterr().out)
    assert told["made"]["chamber"] == "insulated-box"
    assert told["dead_s"]["value"] == pytest.approx(67.0, abs=10.0)


def test_it_is_taken_over_used_in_a_batch_and_forgotten(runs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert typed("learn", "--take", "--chamber", runs, "--yes") == 0
    assert "Taken over" in capsys.readouterr().out
    taken = read_learned(runs / FILE)
    assert typed("simulate", "tangy", "--chamber", "insulated-box", "--out", runs, "--days", 0.1) == 0
    assert "What step test 2026-01-05-1 has shown is used" in " ".join(capsys.readouterr().out.split())
    (batch,) = (runs / "batches").iterdir()
    assert read_card(batch).learned == taken, "the card keeps what the batch was led by"
    assert typed("learn", "--take", "--chamber", runs, "--yes") == 65
    assert "is open; figures are not changed in the middle of a batch" in " ".join(capsys.readouterr().err.split())
    assert typed("learn", "--forget", "--chamber", runs, "--yes") == 65


def test_another_chamber_does_not_use_it(runs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder,) = (runs / "learned").iterdir()
    (tmp_path / FILE).write_bytes((folder / FILE).read_bytes())
    assert typed("simulate", "tangy", "--chamber", "old-fridge", "--out", tmp_path, "--days", 0.02) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "Learned figures not used: made in a chamber of 75 l, this one has 330 l." in told
    (batch,) = (tmp_path / "batches").iterdir()
    assert read_card(batch).learned is None


def test_the_check_says_what_was_learned_and_what_is_not_used(
    runs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder,) = (runs / "learned").iterdir()
    text = (runs / "chamber.toml").read_text().replace('"/var/lib/hangroom"', f'"{tmp_path}"')
    (tmp_path / "box.toml").write_text(text)
    (tmp_path / FILE).write_bytes((folder / FILE).read_bytes())
    assert typed("check", "--chamber", tmp_path / "box.toml") == 0
    assert "By step test 2026-01-05-1 (2026-01-05T06:01:00Z, the chamber empty): dead time" in " ".join(
        capsys.readouterr().out.split()
    )
    (tmp_path / "box.toml").write_text(text.replace("w = 60.0 ", "w = 100.0 "))
    assert typed("check", "--chamber", tmp_path / "box.toml") == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "Learned figures not used: made with a lamp of 60 W, this one has 100 W." in told
    assert typed("check", "--chamber", tmp_path / "box.toml", "--json") == 0
    assert json.loads(capsys.readouterr().out)["learned"] is None


def test_it_is_forgotten_when_no_batch_is_open(runs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder,) = (runs / "learned").iterdir()
    (tmp_path / "box.toml").write_text(
        (runs / "chamber.toml").read_text().replace('"/var/lib/hangroom"', f'"{tmp_path}"')
    )
    chamber = ("--chamber", tmp_path / "box.toml")
    assert typed("learn", "--take", folder, *chamber, "--yes") == 0
    assert typed("learn", "--forget", *chamber) == 64, "there is nobody to ask"
    assert (tmp_path / FILE).exists()
    assert typed("learn", "--forget", *chamber, "--yes") == 0
    assert not (tmp_path / FILE).exists()
    assert typed("learn", "--forget", *chamber, "--yes") == 66
    capsys.readouterr()


def test_a_test_that_shows_nothing_ends_with_65_and_why(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ("learn", "--simulate", "--chamber", "insulated-box", "--out", tmp_path)
    assert typed(*words, "--fault", "power-cut@20m/1m") == 65
    assert "the test was broken off: the program ended in the middle of it" in " ".join(capsys.readouterr().err.split())
    assert typed(*words, "--ambient", "38C") == 65
    assert "at least 6 K between them are wanted" in " ".join(capsys.readouterr().err.split())


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--stop", "--take"), "say one of --stop and --take"),
        (("--loaded", "5"), "5"),
        (("--loaded", "500kg", "--simulate"), "more than 200 kg"),
    ],
)
def test_a_slip_is_told_by_example(words: tuple[str, ...], says: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert typed("learn", *words) in {64, 65}
    assert says in capsys.readouterr().err
