"""`hangroom release` finds the batch by its folder, by its name, or because there is only one."""

import json
import tempfile
from pathlib import Path

import pytest

from controller.core.values import CheckEntry, InstrumentCheck
from controller.records.instruments import FILE, HEADER, check_row
from tests.cli.conftest import Typed
from tests.helpers.batch_logs import Log
from tests.helpers.recorded import NAME, WALL_S
from tests.helpers.somebody import somebody_else


def a_batch(state_dir: Path, name: str = NAME) -> Path:
    log = (
        Log().event(0.0, "hang").minutes(0.0, 20.0, 24.0, every_min=2.0).reading(19.0, "ph", 5.1, instrument="meter 1")
    )
    return log.write(state_dir / "batches" / name)


def test_a_folder_gives_the_sheet_as_words_and_as_one_object(state_dir: Path, typed: Typed) -> None:
    folder = a_batch(state_dir)
    code, page, _ = typed("release", str(folder))
    assert code == 0
    assert page.startswith(f"RELEASE SHEET: {NAME}\n")
    assert max(map(len, page.splitlines())) <= 80
    code, told, _ = typed("release", str(folder), "--json")
    assert code == 0
    made = json.loads(told)
    assert made["batch"] == NAME
    assert {each["verdict"] for each in made["criteria"]} <= {"met", "not met", "not measured"}


@pytest.mark.usefixtures("chamber")
@pytest.mark.parametrize("words", [(NAME,), ()], ids=["by name", "the only one"])
def test_a_name_finds_the_batch_and_no_name_the_only_one(words: tuple[str, ...], state_dir: Path, typed: Typed) -> None:
    a_batch(state_dir)
    code, page, _ = typed("release", *words)
    assert code == 0
    assert page.startswith(f"RELEASE SHEET: {NAME}\n")


@pytest.mark.usefixtures("chamber")
@pytest.mark.parametrize("verb", ["review", "release", "forecast"])
def test_a_batch_is_found_alike_by_every_verb_that_looks_back(
    verb: str, state_dir: Path, tmp_path: Path, typed: Typed
) -> None:
    folder = a_batch(state_dir)
    assert typed(verb, NAME)[0] == typed(verb, str(folder))[0] == 0 if verb != "forecast" else True
    (tmp_path / "empty").mkdir()
    code, out, err = typed(verb, str(tmp_path / "empty"))
    assert (code, out) == (66, "")
    assert "there is no batch card; a batch folder holds one" in err
    assert "there is no such folder" in typed(verb, str(tmp_path / "nowhere"))[2]


@pytest.mark.usefixtures("chamber")
@pytest.mark.parametrize("verb", ["review", "release"])
def test_without_a_name_the_only_batch_is_looked_at(verb: str, state_dir: Path, typed: Typed) -> None:
    assert "holds no batch yet" in typed(verb)[2]
    a_batch(state_dir)
    assert NAME in typed(verb)[1]
    assert f"there are {NAME}. A folder goes too." in " ".join(typed(verb, "2026-01-09-nobody-1")[2].split())


@pytest.mark.usefixtures("chamber")
def test_damage_of_the_record_stands_on_top_of_the_sheet(state_dir: Path, typed: Typed) -> None:
    folder = a_batch(state_dir)
    assert "RECORD" not in typed("release")[1]
    path = folder / "readings.csv"
    path.write_bytes(path.read_bytes().replace(b",5.1,", b",wet,"))
    page = typed("release")[1]
    head = page[: page.index("This sheet")]
    assert "! RECORD: 1 row of readings.csv cannot be read and is left out." in head


def test_batches_that_may_not_be_read_are_no_missing_ones(
    chamber: Path, state_dir: Path, typed: Typed, monkeypatch: pytest.MonkeyPatch
) -> None:
    with tempfile.TemporaryDirectory() as open_to_all:  # pytest's own folder lets nobody else pass.
        public = Path(open_to_all)
        public.chmod(0o755)
        file = public / "chamber.toml"
        file.write_text(chamber.read_text("utf-8").replace(str(state_dir), str(public)), "utf-8")
        monkeypatch.setenv("HANGROOM_CHAMBER", str(file))
        closed = public / "batches"
        closed.mkdir()
        closed.chmod(0)
        with somebody_else():
            found = [typed("release"), typed("review"), typed("status", "--chamber", str(closed))]
            found.append(typed("release", str(closed / NAME)))
        closed.chmod(0o755)
    for code, out, err in found:
        assert (code, out) == (77, "")
        assert "you may not read it; only " in " ".join(err.split())
        assert " may." in err


@pytest.mark.usefixtures("chamber")
def test_where_there_are_two_the_person_is_asked_which(state_dir: Path, typed: Typed) -> None:
    a_batch(state_dir)
    a_batch(state_dir, "2026-01-06-bench-1")
    code, page, said = typed("release")
    assert (code, page) == (64, "")
    assert said == f"which batch? There are {NAME}, 2026-01-06-bench-1.\nSay: hangroom release BATCH\n"


@pytest.mark.usefixtures("chamber")
@pytest.mark.parametrize(
    ("words", "says"),
    [(("nobody",), "nobody: is no batch of this chamber; there are none."), ((), "holds no batch yet")],
)
def test_what_is_not_there_is_said_in_a_line(words: tuple[str, ...], says: str, typed: Typed) -> None:
    code, page, said = typed("release", *words)
    assert (code, page) == (66, "")
    assert says in said


def test_a_path_that_is_no_batch_is_said_in_a_line(tmp_path: Path, typed: Typed) -> None:
    code, _, said = typed("release", str(tmp_path / "batches" / "nobody"))
    assert code == 66
    assert "there is no such folder" in said


def test_the_checks_of_the_chamber_stand_beside_the_ph_where_they_can_be_reached(state_dir: Path, typed: Typed) -> None:
    folder = a_batch(state_dir)
    points = (("7.00", 7.0, 7.02),)
    check = InstrumentCheck(instrument="meter 1", method="buffers", points=points, unit="pH", verdict="good")
    (state_dir / FILE).write_bytes(HEADER + check_row(CheckEntry("c1", WALL_S, check)))
    assert "meter 1, 2026-01-05 06:00: good" in typed("release", str(folder))[1]
