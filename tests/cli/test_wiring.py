"""Table and drawing of the wires: against gpiozero's own board data, and every wire of the file in both."""

import json
import random
import re
from itertools import pairwise, permutations
from pathlib import Path
from typing import Final
from xml.etree import ElementTree as ET

import gpiozero
import pytest
from msgspec.structs import replace

from controller.cli.pages.unprotected import list_unprotected
from controller.cli.pages.wiring import tell_wiring
from controller.cli.wires.header import HEADER_PIN, HELD_UP, PINS
from controller.cli.wires.layout import place, runs
from controller.cli.wires.listed import list_wires
from controller.cli.wires.picture import LOOK, draw
from controller.settings.chamber_file import ChamberFile
from tests.cli.conftest import Typed
from tests.helpers.odd_chambers import ODD_NAME, THERMOMETERS, UNLIKELY, contacts, odd_chambers, on_pins, one_wire

CHAMBERS: Final = odd_chambers()
SVG: Final = "{http://www.w3.org/2000/svg}"
REVISIONS: Final = (0xA020D3, 0x902120, 0xC03115, 0xD04170)  # Pi 3B+, Zero 2 W, 4B, 5.
every_chamber = pytest.mark.parametrize("chamber", CHAMBERS.values(), ids=CHAMBERS)


@pytest.mark.parametrize("revision", REVISIONS)
def test_every_pin_is_what_gpiozeros_board_data_has_there(revision: int) -> None:
    header = gpiozero.PiBoardInfo.from_revision(revision).headers["J8"]
    called = {"3.3 V": "3V3", "5 V": "5V", "ground": "GND"}
    here = {pin: f"GPIO{what}" if isinstance(what, int) else called[what] for pin, what in enumerate(PINS, 1)}
    assert {number: pin.name for number, pin in header.pins.items()} == here
    assert {f"GPIO{bcm}" for bcm in HELD_UP} == {pin.name for pin in header.pins.values() if pin.pull == "up"}


def words(chamber: ChamberFile) -> list[str]:
    drawing = ET.fromstring(draw(chamber))  # noqa: S314 - our own file
    return ["".join(element.itertext()) for element in drawing.iter(f"{SVG}text")]


@every_chamber
def test_each_wire_has_its_number_at_the_header_and_at_each_of_its_ends(chamber: ChamberFile) -> None:
    found = list_wires(chamber)
    said = words(chamber)
    for wire in found.wires[2:]:
        ends = sum(number == wire.number for part in found.parts for _, number in part.terminals)
        resistors = sum(part.resistor is not None and part.resistor.wire == wire.number for part in found.parts)
        if wire.pin is None:
            assert said.count(f"{wire.number}?") == 1
        else:
            assert sum(one == str(wire.number) for one in said) - (wire.number <= 40) == 1 + ends + resistors


@every_chamber
def test_table_and_drawing_give_a_wire_the_same_number(chamber: ChamberFile) -> None:
    lines = list(tell_wiring(chamber))
    assert all(len(line) <= 80 or ODD_NAME in line or UNLIKELY in line for line in lines)
    for output in chamber.output:
        row = next(line.split() for line in lines if line.startswith(output.role.replace("_", " ")))
        (number,) = list_wires(chamber).of(output.role)
        wire = list_wires(chamber).by_number[number]
        assert row[-1] == str(number)
        assert (wire.gpio, wire.pin) == (output.pin, HEADER_PIN[output.pin])


def overlaps_and_crossings(chamber: ChamberFile) -> list[str]:
    """Return what river routing promises not to happen: stretches on one line, crossings of wires with one end each."""
    found, wrong = list_wires(chamber), list[str]()
    for side, room in (("reads", 12), ("switches", 9)):
        placed = place(found, side)
        wrong += [f"{one.part.role} lies on the next" for one, two in pairwise(placed) if one.bottom > two.top]
        here = [run for run in runs(found, placed, side) if run.exit is not None]
        if len({run.track for run in here}) != len(here) or any(run.track >= room for run in here):
            wrong.append(f"{side}: two on a track, or one beside its channel")
        heights = [height for run in here for height in (run.exit, *run.ends)]
        if len(set(heights)) != len(heights):
            wrong.append(f"{side}: two stretches at one height")
        for one, other in permutations(here, 2):
            assert one.exit is not None
            assert other.exit is not None
            low, high = min(*one.ends, one.exit), max(*one.ends, one.exit)
            crossed = any(low < end < high and other.track < one.track for end in other.ends)
            crossed |= low < other.exit < high and other.track > one.track
            if crossed and {one.wire.name, other.wire.name} != {"SDA", "SCL"}:
                wrong.append(f"{other.wire.name} crosses {one.wire.name}")
    return wrong


@every_chamber
def test_no_two_wires_run_on_each_other_and_only_shared_ones_are_crossed(chamber: ChamberFile) -> None:
    assert overlaps_and_crossings(chamber) == []


def test_on_whatever_pins_a_chamber_hangs_its_wires_stay_apart() -> None:
    for seed in range(300):
        drawn = random.Random(seed)
        pins = drawn.sample(range(5, 28), 14)
        sensors = (*one_wire(*drawn.sample(THERMOMETERS, drawn.randint(1, 5))), *CHAMBERS["all there is"].sensor[5:7])
        chamber = replace(
            CHAMBERS["all there is"],
            sensor=(*sensors, *contacts(tuple(pins[:6]))),
            output=on_pins(tuple(pins[6:]), drawn.choice(["high", "low"])),
        )
        assert overlaps_and_crossings(chamber) == [], f"seed {seed}"


@every_chamber
def test_no_wire_is_told_by_its_colour_alone(chamber: ChamberFile) -> None:
    del chamber
    looks = [(width, dash) for _, width, dash in LOOK.values()]
    assert len(set(looks)) == len(looks)


def _luminance(colour: str) -> float:
    """Return relative luminance: WCAG 2.2, definition of the same name."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def test_each_colour_stands_out_from_the_paper() -> None:
    for colour, _, _ in LOOK.values():
        assert 1.05 / (_luminance(colour) + 0.05) >= 7.0


@every_chamber
def test_each_relay_has_its_resistor_to_the_level_that_is_off(chamber: ChamberFile) -> None:
    parts = {part.role: part for part in list_wires(chamber).parts}
    for output in chamber.output:
        part = parts[output.role]
        if output.active == "high" and output.pin in HELD_UP:
            assert part.resistor is None
            assert "NOT HELD OFF" in words(chamber)
            assert any("take another pin" in said for said in list_unprotected(chamber))
        else:
            assert part.resistor is not None
            assert part.resistor.to == ("ground" if output.active == "high" else "3.3 V")


@every_chamber
def test_who_does_not_see_the_drawing_reads_every_wire(chamber: ChamberFile) -> None:
    drawing = ET.fromstring(draw(chamber))  # noqa: S314 - our own file
    title, told = drawing.find(f"{SVG}title"), drawing.find(f"{SVG}desc")
    assert title is not None
    assert told is not None
    assert drawing.get("aria-labelledby") == title.get("id")
    assert drawing.get("aria-describedby") == told.get("id")
    said = "".join(told.itertext())
    for wire in list_wires(chamber).wires[1:]:
        assert f"Wire {wire.number}, " in said


def test_the_mains_side_is_an_order_of_parts_and_names_who_may_work_on_it() -> None:
    said = " ".join(" ".join(words(CHAMBERS["all there is"])).replace("\xa0", " ").split())
    block = said[said.index("Mains side") :]
    order = ("qualified person", "residual-current device, 30 mA", "fuse", "master contactor", "heat relay",
             "thermal cut-out", "heat lamp")  # fmt: skip
    places = [block.index(name) for name in order]
    assert places == sorted(places)
    assert re.search(r"its free auxiliary contact, with no mains on it, is wire \d+", block)


def test_without_a_free_contact_no_wire_leads_from_the_cut_out_to_the_pi() -> None:
    said = " ".join(words(CHAMBERS["old-fridge"]))
    assert "no wire of it goes to the Pi" in said
    assert not list_wires(CHAMBERS["old-fridge"]).of("cutout")


def test_what_a_name_holds_cannot_become_a_part_of_the_file() -> None:
    drawing = ET.fromstring(draw(CHAMBERS["odd names"]))  # noqa: S314 - our own file
    assert not list(drawing.iter(f"{SVG}script"))
    assert "<script>&\"'</text>" in "".join(words(CHAMBERS["odd names"])).replace("…", "")


def test_it_is_written_where_it_is_asked_for_and_the_table_stays_on_the_screen(typed: Typed, tmp_path: Path) -> None:
    path = tmp_path / "wiring.svg"
    code, table, err = typed("check", "--chamber", "old-fridge", "--wiring", "--out", str(path))
    assert (code, err) == (0, "")
    *rows, where = table.splitlines()
    assert rows == typed("check", "--chamber", "old-fridge", "--wiring")[1].splitlines()[:-1]
    assert where == f"Drawn on a page: {path}"
    assert path.read_text("utf-8") == draw(CHAMBERS["old-fridge"])
    assert typed("check", "--chamber", "old-fridge", "--wiring", "--out", str(path))[0] == 0, "drawn anew"
    assert [one.name for one in tmp_path.iterdir()] == ["wiring.svg"]


@pytest.mark.parametrize(
    ("given", "code", "said"),
    [
        (("--out", "FOLDER/a.svg"), 64, "Say --wiring too"),
        (("--wiring", "--protected"), 64, "say one at a time"),
        (("--wiring", "--out", "FOLDER/a.txt"), 64, "as --out wiring.svg"),
        (("--wiring", "--out", "FOLDER/mine.svg"), 64, "is no drawing of wires"),
        (("--wiring", "--out", "FOLDER/none/a.svg"), 66, "no such folder"),
    ],
)
def test_a_slip_is_named_and_nothing_is_replaced(
    typed: Typed, tmp_path: Path, given: tuple[str, ...], code: int, said: str
) -> None:
    mine = tmp_path / "mine.svg"
    mine.write_text("<svg/>", "utf-8")
    line = [word.replace("FOLDER", str(tmp_path)) for word in given]
    ended, out, err = typed("check", "--chamber", "old-fridge", *line)
    assert (ended, out) == (code, "")
    assert said in " ".join(err.split())
    assert [(one.name, one.read_text("utf-8")) for one in tmp_path.iterdir()] == [("mine.svg", "<svg/>")]


def test_programs_get_the_wires_too(typed: Typed) -> None:
    _, out, _ = typed("check", "--chamber", "old-fridge", "--json")
    wires = {wire["number"]: wire for wire in json.loads(out)["wires"]}
    assert wires[6] == {"number": 6, "name": "heater", "gpio": 17, "header_pin": 11, "to": ["heater"]}
    assert wires[5]["to"] == ["air_temp", "ambient_temp"]
