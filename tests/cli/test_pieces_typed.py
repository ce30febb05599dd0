"""What a maker types of pieces, smoker and climate, word by word, to a real daemon."""

import csv
import re
from pathlib import Path

import pytest

from tests.cli.conftest import Typed

USAGE, DATA = 64, 65

LINES = [
    ("weigh E=out E=out", USAGE, ["E=out", "Name each once"]),
    ("weigh =out", USAGE, ["which piece leaves"]),
    ("weigh A=412 --tare -5", USAGE, ["--tare -5", "more than 0"]),
    ("weigh A=412 --tare 3stone", USAGE, ["--tare 3stone", "kg"]),
    ("look", USAGE, ["--look, --mould, --firmness or --smell"]),
    ("look A --look lovely", USAGE, ["lovely", "tacky"]),
    ("look --look wet --mould green", USAGE, ["--mould green", "--look wet"]),
    ("aw 0.91", USAGE, ["--by"]),
    ("aw 0,91 --by meter", DATA, ["0,91", "did you mean 0.91?"]),
    ("aw 0.91 --by nose", USAGE, ["--by nose", "meter or laboratory"]),
    ("smoker 60", USAGE, ["smoker 60", "°C or °F?"]),
    ("core 147C", DATA, ["core 147C", "did you mean 147F (63.9 °C)?"]),
    ("set --because x", USAGE, ["--air-temp 12C", "--rh 82"]),
    ("set --rh 82", USAGE, ["--because"]),
    ("set --air-temp 12 --because x", USAGE, ["--air-temp 12", "°C or °F?"]),
    ("set --rh damp --because x", DATA, ["--rh damp", "82"]),
]


@pytest.mark.usefixtures("chamber")
@pytest.mark.parametrize(("line", "code", "fragments"), LINES, ids=[line for line, _, _ in LINES])
def test_a_line_that_cannot_be_right_is_refused_in_words(
    line: str, code: int, fragments: list[str], typed: Typed, state_dir: Path
) -> None:
    got, out, err = typed(*line.split(" "))
    assert (got, out) == (code, ""), err
    for fragment in fragments:
        assert fragment in err
    assert 1 <= len(err.strip().splitlines()) <= 5
    assert not list(state_dir.iterdir()), "a line that was refused leaves nothing behind"


def one_line(text: str) -> str:
    return " ".join(text.split())


def test_pieces_are_weighed_looked_at_and_taken_out_by_typing(typed: Typed, daemon: Path) -> None:
    batch = typed("start", "tangy", "--meat", "4.5kg")[1].partition(" started")[0]
    assert "12.00 kg together" in one_line(typed("hang", "A=12kg")[2])
    assert typed("hang", "A=430", "E=421", "--tare", "18")[0] == 0
    code, out, err = typed("weigh", "A=428", "E=419")
    assert code == 0
    assert out.splitlines() == [
        f"{batch}: less 18 g for hook and string: A 410 g, E 401 g.",
        "lost of the green weight: A 0.5 % (slowest), E 0.5 %.",
    ]
    entry = re.findall(r"Entry (\w+)\.", err)[0]
    code, out, err = typed("weigh", "a=426")
    assert (code, out) == (DATA, "")
    assert "did you mean A? If it is so, say it again with --sure" in one_line(err)
    assert typed("weigh", "A=425", "--replaces", entry)[0] == 0
    assert "E: out, and no longer counted." in typed("weigh", "E=out", "--note", "firm")[1]
    assert "tacky, firm of A: noted." in typed("look", "A", "--look", "tacky", "--firmness", "firm")[1]
    assert "brush the mould off" in one_line(typed("look", "--mould", "green")[1])
    assert "measured with meter 1" in typed("aw", "0.96", "--by", "meter 1", "--piece", "A")[1]
    assert "belongs to a smoke or a cook" in one_line(typed("smoker", "45C")[2])

    rows = list(csv.DictReader((daemon / "batches" / batch / "readings.csv").read_text("utf-8").splitlines()))
    told = [(row["kind"], row["value"], row["unit"], row["piece"], row["note"]) for row in rows]
    assert told == [
        ("weight", "412", "g", "A", "430 g gross, tare 18 g"),
        ("weight", "403", "g", "E", "421 g gross, tare 18 g"),
        ("weight", "410", "g", "A", "428 g gross, tare 18 g"),
        ("weight", "401", "g", "E", "419 g gross, tare 18 g"),
        ("weight", "407", "g", "A", "425 g gross, tare 18 g"),
        ("weight", "401", "g", "E", "out; firm"),
        ("look", "tacky", "", "A", ""),
        ("firmness", "firm", "", "A", ""),
        ("look", "green-mould", "", "", ""),
        ("water_activity", "0.96", "1", "A", ""),
    ]
    assert rows[4]["replaces"] == entry


def test_another_climate_is_typed_with_its_reason_and_recorded(typed: Typed, daemon: Path) -> None:
    batch = typed("start", "mild", "--meat", "4.5kg")[1].partition(" started")[0]
    typed("hang")
    card = (daemon / "batches" / batch / "recipe.toml").read_bytes()
    code, out, err = typed("set", "--air-temp", "75F", "--rh", "88%", "--because", "warm room", "--who", "ann")
    assert code == 0, err
    assert "ferment wants 23.9 °C and 88 % RH from now on, before 24.0 °C and 90 % RH." in one_line(out)
    assert "did you mean 75F" in one_line(typed("set", "--air-temp", "75C", "--because", "x")[2])
    assert "this starter works at 18 to 32 °C" in one_line(typed("set", "--air-temp", "34C", "--because", "x")[2])
    events = list(csv.DictReader((daemon / "batches" / batch / "events.csv").read_text("utf-8").splitlines()))
    (row,) = [event for event in events if event["kind"] == "set"]
    assert (row["actor"], row["text"]) == (
        "ann",
        "ferment: wanted is now 23.9 °C and 88 % RH, before 24.0 °C and 90 % RH: warm room.",
    )
    assert (daemon / "batches" / batch / "recipe.toml").read_bytes() == card
