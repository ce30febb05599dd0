"""The drawing of a chamber's wires as one SVG file for a page of A4: header, parts, wires, the mains side as a block.

Plain lines. A wire is told from others by its number at both ends, and its kind by its dashes; colour only helps.
All words are text. Who does not see the drawing reads the same in its description, wire by wire.
"""

from collections.abc import Iterator, Sequence
from html import escape
from typing import Final

from controller.cli.wires.header import PINS
from controller.cli.wires.layout import GRID, HALF_RESISTOR, ROW, ROWS, TOP, Placed, Run, place, row_of, runs
from controller.cli.wires.lettering import clean, fitted, lines_of, width_of
from controller.cli.wires.listed import GROUND, HELD_UP_SAID, POWER, Kind, Wires, list_wires, sentences
from controller.cli.wires.mains import chain, others
from controller.review.drawing.svg import Point, box, line, text
from controller.settings.chamber_tables import ChamberFile

WIDTH: Final = 1130.0
LEAST_HEIGHT: Final = 775.0
PAPER_MM: Final = (277.0, 190.0)
"""A4 on its side, less a margin of 10 mm: ISO 216."""
SMALL: Final = 10.0
PLAIN: Final = 11.0
LARGE: Final = 15.0
HALF_PIN: Final = 7.0
PIN_X: Final = (402.0, 553.0)  # Of the odd and the even row.
TRACK_X: Final = (362.0, 593.0)  # Of the track nearest to the header on each side.
PARTS_X: Final = ((44.0, 234.0), (716.0, 896.0))  # Left and right edge of the boxes on each side.
RAILS_X: Final = ({"3.3 V": 14.0, "ground": 28.0}, {"3.3 V": 926.0, "ground": 912.0})
MAINS_X: Final = (948.0, 1122.0)
LOOK: Final[dict[Kind, tuple[str, float, str]]] = {
    "power": ("#9c1c00", 2.6, ""),
    "ground": ("#000000", 2.6, "10 3 2 3"),
    "sensor": ("#00508c", 1.7, ""),
    "contact": ("#5a2d82", 1.7, "7 3"),
    "output": ("#1c5c2e", 1.7, "2 2"),
}
"""Colour, width and dashes of each kind of wire; each colour has 7:1 or more against white (WCAG 2.2, 1.4.6)."""
NAMES: Final[dict[Kind, str]] = {
    "power": "3.3 V, wire 1",
    "ground": "ground, wire 2",
    "sensor": "data of sensors",
    "contact": "contacts to ground",
    "output": "to relays",
}
TERMINAL: Final = {"3.3 V": "3.3 V", "ground": "GND"}
"""As it is printed on modules."""
BEGINS: Final = '<?xml version="1.0" encoding="UTF-8"?>\n<!-- Wiring, drawn by hangroom check. -->'
MAINS_TOP: Final = 12.0
ORDER_ONLY: Final = (
    "The order only: one closed, earthed housing. Between it and the Pi nothing but relays and free contacts."
)
PRINT: Final = "@page{size:A4 landscape;margin:10mm}"


def draw(chamber: ChamberFile) -> str:
    """Return the SVG file for a chamber that was read without a problem."""
    found = list_wires(chamber)
    sides = [(place(found, name), name) for name in ("reads", "switches")]
    low = max(TOP + ROW * (ROWS - 1), *(one.bottom for placed, _ in sides for one in placed)) + 2 * GRID
    mains, mains_y = _mains(chamber, found)
    notes, notes_y = _notes(chamber, found, low + 26.0)
    height = max(LEAST_HEIGHT, notes_y, mains_y + 8.0)
    shapes = [*_title(chamber), *_rails(found, sides, low)]
    for at, (placed, name) in enumerate(sides):
        for run in runs(found, placed, name):
            shapes.extend(_wire(run, at))
    shapes.extend(_header(found))
    for at, (placed, _) in enumerate(sides):
        for one in placed:
            shapes.extend(_part(one, at))
    return _page(chamber, found, height, [*shapes, *mains, *notes])


def _page(chamber: ChamberFile, found: Wires, height: float, shapes: Sequence[str]) -> str:
    wide, high = PAPER_MM
    told = " ".join((*sentences(found), _mains_said(chamber, found)))
    return "\n".join(
        (
            BEGINS,
            f"<svg xmlns='http://www.w3.org/2000/svg' width='{wide:g}mm' height='{high:g}mm'",
            f"viewBox='0 0 {WIDTH:g} {height:g}' role='graphics-document' lang='en'",
            "aria-labelledby='name' aria-describedby='told'>",
            f"<title id='name'>Wiring of {escape(clean(chamber.name))}</title>",
            f"<desc id='told'>{escape(clean(told))}</desc>",
            f"<style>{PRINT}</style>",
            box(0, 0, WIDTH, height, "white"),
            *shapes,
            "</svg>\n",
        )
    )


def _title(chamber: ChamberFile) -> Iterator[str]:
    name = fitted(f"Wiring of {chamber.name}", LARGE, 560.0)
    yield text(10, 22, name, LARGE, more="font-weight='bold'")
    if chamber.title:
        yield text(10, 39, fitted(chamber.title, PLAIN, 560.0), PLAIN)
    yield text(PARTS_X[0][0], 57, "What the Pi reads", PLAIN, more="font-weight='bold'")
    yield text(PARTS_X[1][0], 57, "What the Pi switches", PLAIN, more="font-weight='bold'")
    middle = sum(PIN_X) / 2
    yield text(middle, 57, "40-pin header", PLAIN, "middle", "font-weight='bold'")


def _rails(found: Wires, sides: Sequence[tuple[Sequence[Placed], str]], low: float) -> Iterator[str]:
    """Yield 3.3 V over the header, ground under it, and both down the outer sides, as far as a part hangs on them."""
    for rail, number, level, pin in (
        ("3.3 V", POWER, TOP - 24.0, (PIN_X[0], TOP)),
        ("ground", GROUND, low, (PIN_X[0], row_of(39))),
    ):
        kind = found.by_number[number].kind
        ways: list[list[Point]] = []
        for at, (placed, _) in enumerate(sides):
            heights = [height for one in placed for height in _on_rail(one, rail)]
            if not heights:
                continue
            x = RAILS_X[at][rail]
            far = max(heights) if rail == "3.3 V" else min(heights)
            ways.append([pin, (pin[0], level), (x, level), (x, far)])
        yield from _lines(kind, ways)
        if not ways:
            continue
        for at, (placed, _) in enumerate(sides):
            if any(_on_rail(one, rail) for one in placed):
                place_x = 300.0 if at == 0 else 650.0
                yield from _tag(place_x, level, f"{number}: {rail}")
        yield _dot(pin[0], level, kind) if len(ways) > 1 else ""


def _on_rail(one: Placed, rail: str) -> list[float]:
    """Return the heights at which a part hangs on a rail."""
    heights = [height for name, height in zip(one.part.rails, one.rails, strict=True) if name == rail]
    if one.part.resistor is not None and one.resistor is not None and one.part.resistor.to == rail:
        heights.append(one.resistor)
    return heights


def _wire(run: Run, at: int) -> Iterator[str]:
    """Yield one wire on one side, with its number at both ends and a dot wherever it joins."""
    sign = 1.0 if at else -1.0
    kind = run.wire.kind
    edge = PARTS_X[at][0] if at else PARTS_X[at][1]
    number = str(run.wire.number)
    if run.exit is None or run.wire.pin is None:
        x = edge - sign * 50.0
        yield from _lines(kind, [[(x, y), (edge, y)] for y in run.ends] + [[(x, run.ends[0]), (x, run.ends[-1])]])
        yield from _tag(x, run.ends[0], f"{number}?")
        return
    track = TRACK_X[at] + sign * GRID * run.track
    pin_x = PIN_X[0] if run.wire.pin % 2 else PIN_X[1]
    row = row_of(run.wire.pin)
    start: list[Point] = [(pin_x, row), (pin_x, run.exit)] if run.exit != row else [(pin_x, row)]
    ways: list[list[Point]] = [[*start, (track, run.exit), (track, y), (edge, y)] for y in run.ends]
    yield from _lines(kind, ways)
    for y in _joins(run):
        yield _dot(track, y, kind)
    yield from _tag(TRACK_X[at] - sign * 18.0, run.exit, number)
    for y in run.ends:
        yield from _tag(edge - sign * 14.0, y, number)


def _joins(run: Run) -> list[float]:
    """Return the heights on the upright stretch at which three ends meet: all but the outermost two."""
    if run.exit is None:
        return []
    return sorted({run.exit, *run.ends})[1:-1]


def _lines(kind: Kind, ways: Sequence[Sequence[Point]]) -> Iterator[str]:
    """Yield lines that interrupt whatever they cross, and not each other."""
    colour, width, dash = LOOK[kind]
    for way in ways:
        yield line(way, width + 4.0, grey="white")
    for way in ways:
        yield line(way, width, dash, colour)


def _dot(x: float, y: float, kind: Kind) -> str:
    return f"<circle cx='{x:.1f}' cy='{y:.1f}' r='3.2' fill='{LOOK[kind][0]}'/>"


def _tag(x: float, y: float, words: str) -> Iterator[str]:
    """Yield words in the middle of a line, on a ground that interrupts it."""
    wide = width_of(words, SMALL) + 3.0
    yield box(x - wide / 2, y - 5.0, wide, 10.0, "white")
    yield text(x, y + 3.5, words, SMALL, "middle")


def _header(found: Wires) -> Iterator[str]:
    """Yield the forty pins, drawn apart so that their names fit between; those that are used stand out."""
    used = {wire.pin for wire in found.wires}
    names = {wire.pin: wire for wire in found.wires}
    for pin, what in enumerate(PINS, 1):
        x, y, odd = PIN_X[(pin - 1) % 2], row_of(pin), pin % 2
        is_used = pin in used
        edge = "stroke='black' stroke-width='2.2'" if is_used else "stroke='#595959' stroke-width='0.8'"
        yield box(x - HALF_PIN, y - HALF_PIN, 2 * HALF_PIN, 2 * HALF_PIN, "white", edge)
        if pin == 1:
            yield box(x - HALF_PIN - 3.5, y - HALF_PIN - 3.5, 2 * HALF_PIN + 7, 2 * HALF_PIN + 7, "none", edge)
        weight = "font-weight='bold'" if is_used else "fill='#404040'"
        yield text(x, y + 3.6, str(pin), SMALL, "middle", weight)
        name = f"GPIO {what}" if isinstance(what, int) else what
        if is_used and names[pin].name in {"SDA", "SCL"}:
            name = f"{name} {names[pin].name}"
        yield text(x + (14 if odd else -14), y + 3.8, name, SMALL, "start" if odd else "end", weight)


def _part(one: Placed, at: int) -> Iterator[str]:
    """Yield one part: its box, its words, its terminals, the ways to the rails, and its resistor under it."""
    left, right = PARTS_X[at]
    outer, inner = (left, right) if at == 0 else (right, left)
    part = one.part
    for rail, y in zip(part.rails, one.rails, strict=True):
        yield from _to_rail(rail, outer, y, at)
    yield box(left, one.top, right - left, one.height, "white", "stroke='black' stroke-width='1.4'")
    to_in, anchor = (1.0, "start") if at == 0 else (-1.0, "end")
    back = "end" if at == 0 else "start"
    outer_room = max(width_of(TERMINAL[rail], SMALL) for rail in part.rails) + 9.0
    inner_room = max(width_of(name, SMALL) for name, _ in part.terminals) + 9.0
    for rail, y in zip(part.rails, one.rails, strict=True):
        yield text(outer + to_in * 5, y + 3.6, TERMINAL[rail], SMALL, anchor)
    for (name, _), y in zip(part.terminals, one.terminals, strict=True):
        if name:
            yield text(inner - to_in * 5, y + 3.6, name, SMALL, back)
    before, after = (outer_room, inner_room) if at == 0 else (inner_room, outer_room)
    middle = (left + before + right - after) / 2
    y = one.top + one.height / 2 - 12.0 * len(part.lines) / 2 + 9.4
    for row, words in enumerate(part.lines):
        size = PLAIN if row == 0 else SMALL
        more = "font-weight='bold'" if row == 0 else ""
        room = right - left - before - after
        yield text(middle, y + 12.0 * row, fitted(words, size, room), size, "middle", more)
    yield from _resistor(one, at)


def _to_rail(rail: str, outer: float, y: float, at: int) -> Iterator[str]:
    kind: Kind = "power" if rail == "3.3 V" else "ground"
    x = RAILS_X[at][rail]
    yield from _lines(kind, [[(outer, y), (x, y)]])
    yield _dot(x, y, kind)


def _resistor(one: Placed, at: int) -> Iterator[str]:
    """Yield the resistor of a part, between its wire and a rail, under the box."""
    resistor, y = one.part.resistor, one.resistor
    if resistor is None or y is None:
        return
    left, right = PARTS_X[at]
    inner = left if at else right
    kind: Kind = "sensor" if one.part.side == "reads" else "output"
    middle = (left + right) / 2
    yield line([(inner, y), (middle, y)], LOOK[kind][1], LOOK[kind][2], LOOK[kind][0])
    yield from _to_rail(resistor.to, middle, y, at)
    words = f"{resistor.said} to {resistor.to}"
    wide = width_of(words, SMALL) + 8.0
    yield box(
        middle - wide / 2, y - HALF_RESISTOR, wide, 2 * HALF_RESISTOR, "white", "stroke='black' stroke-width='1.2'"
    )
    yield text(middle, y + 3.5, words, SMALL, "middle")


def _mains(chamber: ChamberFile, found: Wires) -> tuple[list[str], float]:
    """Return the closed block, what stands behind what in it and the words that keep hands off; and where it ends."""
    left, right = MAINS_X
    middle, wide = (left + right) / 2, right - left
    y = MAINS_TOP + 4.0
    inside: list[str] = []

    def say(words: str, size: float, more: str = "") -> None:
        nonlocal y
        for row in lines_of(words, size, wide - 20.0):
            y += 12.0
            inside.append(text(middle, y, row, size, "middle", more))

    say("Mains side: work for a qualified person", PLAIN, "font-weight='bold'")
    y += 3.0
    say(ORDER_ONLY, SMALL)
    for at, words in enumerate(chain(chamber, found)):
        y += 10.0
        if at:
            inside.append(line([(middle, y - 10.0), (middle, y)], 1.4))
        place_of_box, top = len(inside), y
        y += 1.0
        say(words, SMALL)
        y += 6.0
        inside.insert(place_of_box, box(left + 8, top, wide - 16, y - top, "white", "stroke='black' stroke-width='1'"))
    y += 4.0
    for words in others(chamber, found):
        y += 4.0
        say(words, SMALL)
    y += 8.0
    frame = box(left, MAINS_TOP, wide, y - MAINS_TOP, "#f2f2f2", "stroke='black' stroke-width='3'")
    return [frame, *inside], y


def _mains_said(chamber: ChamberFile, found: Wires) -> str:
    order = "; then ".join(chain(chamber, found))
    return f"Mains side, work for a qualified person, the order only: {order}. {' '.join(others(chamber, found))}"


def _notes(chamber: ChamberFile, found: Wires, y: float) -> tuple[list[str], float]:
    """Return what the lines mean, and what must be known before one is made; and where it ends."""
    x = 14.0
    shapes: list[str] = []
    drawn = {wire.kind for wire in found.wires}
    for kind, (colour, width, dash) in LOOK.items():
        if kind not in drawn:
            continue
        shapes.append(line([(x, y - 3.5), (x + 44.0, y - 3.5)], width, dash, colour))
        shapes.append(text(x + 50.0, y, NAMES[kind], SMALL))
        x += 66.0 + width_of(NAMES[kind], SMALL)
    half = (MAINS_X[0] - 40.0) / 2
    lowest = y
    for column, said in enumerate((BOARD, _of_this(chamber, found))):
        rows = [row for words in said for row in lines_of(words, SMALL, half)]
        for at, row in enumerate(rows):
            shapes.append(text(14.0 + column * (half + 12.0), y + 18.0 + 12.0 * at, row, SMALL))
        lowest = max(lowest, y + 18.0 + 12.0 * len(rows))
    return shapes, lowest


BOARD: Final = (
    "The same number is the same wire. A dot joins; lines that only cross do not.",
    "Seen from above, USB sockets below: pin 1 (two frames) is at the top left, even numbers are along the edge.",
    "Wire with the Pi's plug out. Nothing but the relays' own supply may have 5 V; sensors take 3.3 V.",
)


def _of_this(chamber: ChamberFile, found: Wires) -> Iterator[str]:
    """Yield what to know of the parts of this chamber."""
    if any(part.held_up for part in found.parts):
        yield f"NOT HELD OFF: {HELD_UP_SAID}"
    if any(wire.pin is None for wire in found.wires):
        yield "A number with ?: this file names no pin; the wire goes to the GPIO that dtoverlay=dht11 names."
    if chamber.output:
        yield "A relay board has its own supply, as its sheet says; its ground is joined to wire 2."
    if any(output.active == "low" for output in chamber.output):
        yield "A board that is on when low must be off at 3.3 V: measure it before anything hangs on it."
    if any(sensor.kind == "contact" for sensor in chamber.sensor):
        yield "Contacts: the Pi itself pulls their pins to 3.3 V; nothing but a bare contact or an open collector."
    if chamber.clock_battery:
        yield "A clock module (DS3231) is joined to SDA, SCL, 3.3 V and ground as an I2C sensor is."
