"""First light: what is told, asked and kept, and what `check` says of it."""

import io
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from controller.cli import main
from controller.hardware.single import OnlyCopy
from controller.planning.setting_up.first_light import layers_of
from controller.records.proofs import FILE, read_proofs
from controller.records.status import SounderStatus, read_status
from controller.settings.chamber_file import read_chamber
from tests.helpers.setup_story import Sitter
from tests.helpers.terminal import Terminal

SOUNDER = '\n[[output]]\nrole = "sounder"\npin = 24\n'


@pytest.fixture
def sitter(tmp_path: Path) -> Sitter:
    return Sitter(tmp_path)


@pytest.fixture
def file(chamber: Path) -> Path:
    """Return a chamber of lamp, mist, compressor and fan, with a sounder."""
    text = chamber.read_text("utf-8")
    chamber.write_text(text.replace("\n[limits]", f"{SOUNDER}\n[limits]", 1), "utf-8")
    return chamber


@pytest.fixture
def at(sitter: Sitter, file: Path) -> Iterator[Terminal]:
    terminal = sitter.sit_down("--first-light", "--chamber", str(file), "--who", "anna")
    yield terminal
    terminal.kill()


def wait_until_known(state_dir: Path, who: str) -> None:
    """Wait for the next status: an answer is there a moment before it."""
    until_s = time.monotonic() + 5.0
    while (sounder := read_status(state_dir).sounder) is None or sounder.by != who:
        assert time.monotonic() < until_s, sounder
        time.sleep(0.01)


def check(file: Path, capsys: pytest.CaptureFixture[str]) -> str:
    main(["check", "--chamber", str(file)])
    return " ".join(capsys.readouterr().out.split())


def test_each_layer_is_never_proven_until_somebody_has_seen_it(
    at: Terminal, sitter: Sitter, file: Path, state_dir: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said = check(file, capsys)
    for layer in layers_of(read_chamber(file)):
        assert f"{layer.title}: never proven." in said
    for words in ("", "yes", "", "indicator", "yes", "", "quit"):
        at.answer(words)
    assert at.end() == 0
    assert [(proof.layer, proof.outcome, proof.actor) for proof in read_proofs(state_dir)] == [
        ("power-up", "yes", "anna"),
        ("relay heater", "yes", "anna"),
    ]
    assert sitter.edges(17)[:3] == ["out 0", "out 1", "out 0"]
    assert sitter.edges(17)[-1] == "out 0"
    assert sitter.pins() == {17}
    said = check(file, capsys)
    assert "nothing closes while the Pi starts: proven 20" in said
    assert "by anna" in said
    assert "relay of the humidifier: never proven." in said


def test_what_did_not_happen_is_told_with_its_meaning_and_stands_on_the_page(
    at: Terminal, file: Path, state_dir: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for words in ("1", "no", "the fan came on"):
        at.answer(words)
    assert at.end() == 0
    told = " ".join(at.text.split())
    assert "THIS LAYER DOES NOT WORK. A relay that closes by itself heats while no program watches." in told
    assert "no heat lamp at this chamber, its plug pulled" in told
    assert "NO HEAT before these work: nothing closes while the Pi starts." in told
    assert (state_dir / FILE).read_bytes().endswith(b",power-up,no,,anna,the fan came on\r\n")
    assert "DID NOT WORK 20" in check(file, capsys)


def test_it_goes_on_with_what_is_not_proven_yet(at: Terminal, sitter: Sitter, file: Path) -> None:
    for words in ("", "yes", ""):
        at.answer(words)
    at.answer("quit")
    at.end()
    again = sitter.sit_down("--first-light", "--chamber", str(file))
    again.answer("")
    assert "relay of the heat lamp (GPIO 17)" in " ".join(again.answer("quit").split())
    assert again.end() == 0


def test_no_relay_is_clicked_on_which_something_hangs(at: Terminal, sitter: Sitter, state_dir: Path) -> None:
    for words in ("2", "else"):
        at.answer(words)
    assert at.end() == 0
    assert sitter.pins() == set()
    assert read_proofs(state_dir) == []


def test_no_relay_is_clicked_while_the_daemon_runs(at: Terminal, sitter: Sitter) -> None:
    with OnlyCopy(sitter.run_dir):
        for words in ("2", "nothing"):
            at.answer(words)
        assert "sudo systemctl stop hangroom" in at.answer("else")
    assert at.end() == 0
    assert sitter.pins() == set()


def test_the_temperature_at_which_the_cut_out_opened_is_kept_and_its_day_is_for_the_maker_to_write(
    at: Terminal, file: Path, state_dir: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = file.read_bytes()
    layers = [layer.id for layer in layers_of(read_chamber(file))]
    for words in (str(layers.index("thermal cut-out") + 1), "yes", "58"):
        at.answer(words)
    assert "58C or 58F" in at.answer("58.5C")
    at.answer("")
    assert at.end() == 0
    assert "cutout_tested_on = 20" in " ".join(at.text.split())
    assert file.read_bytes() == before
    assert [proof.temp_c for proof in read_proofs(state_dir)] == [58.5]
    assert "thermal cut-out: proven 20" in check(file, capsys)


@pytest.mark.parametrize(("word", "stands"), [("yes", "proven"), ("no", "DID NOT WORK")])
def test_what_is_said_of_the_sounder_is_known_to_the_daemon_too(
    file: Path,
    daemon: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    word: str,
    stands: str,
) -> None:
    layers = [layer.id for layer in layers_of(read_chamber(file))]
    typed = (str(layers.index("sounder") + 1), "", word, "")
    monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{words}\n" for words in typed)))
    assert main(["setup", "--first-light", "--chamber", str(file), "--who", "anna"]) == 0
    assert [(proof.layer, proof.outcome) for proof in read_proofs(daemon)] == [("sounder", word)]
    wait_until_known(daemon, "anna")
    sounder = read_status(daemon).sounder or SounderStatus()
    assert (sounder.heard, sounder.tried_wall_s) == (word == "yes", pytest.approx(time.time(), abs=60.0))
    capsys.readouterr()
    assert f"the sounder is heard: {stands} 20" in check(file, capsys)


def test_a_test_of_the_sounder_by_hangroom_alarms_proves_it_as_well(
    file: Path, daemon: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["alarms", "--heard", "now", "--who", "berta", "--chamber", str(file)]) == 0
    capsys.readouterr()
    wait_until_known(daemon, "berta")
    assert read_proofs(daemon) == []
    assert "the sounder is heard: proven 20" in (said := check(file, capsys))
    assert "by berta" in said


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["--first-light", "--out", "x.toml"], 64),
        (["--chamber", "x.toml"], 64),
        (["--first-light", "--chamber", "nowhere.toml"], 66),
    ],
)
def test_a_line_that_cannot_be_meant_is_refused(
    words: list[str], code: int, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["setup", *words]) == code
    assert "Traceback" not in capsys.readouterr().err


def test_nothing_of_it_is_called_safe(at: Terminal, file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for layer in layers_of(read_chamber(file)):
        for sentence in (layer.title, *layer.do, layer.must, layer.no):
            assert "safe" not in sentence.lower()
    at.answer("quit")
    at.end()
    assert "safe" not in at.text.replace("safety layer", "").lower()
    assert "first light" in check(file, capsys).lower()


def test_its_words_are_those_that_the_chamber_has(file: Path) -> None:
    with_sounder = [layer.id for layer in layers_of(read_chamber(file))]
    file.write_text(file.read_text("utf-8").replace(SOUNDER, ""), "utf-8")
    without = [layer.id for layer in layers_of(read_chamber(file))]
    assert set(with_sounder) - set(without) == {"sounder", "relay sounder"}
    assert {"power-up", "thermal cut-out", "program killed", "program hangs", "thermometer lost"} <= set(without)
