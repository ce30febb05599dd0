"""One page of a step test as SVG: temperatures, outputs, the fitted curve over the measured one, the figures.

It is drawn in black and greys with solid, dashed and dotted lines, so that it can be printed and read by everybody.
Everything that could come from a file of somebody else is escaped.
"""

from collections.abc import Iterator
from typing import Final

import numpy as np

from controller.core.values import Role
from controller.review.drawing.axis import Axis
from controller.review.drawing.svg import line, text
from controller.review.learning.learned import Result
from controller.review.learning.rows import Series
from controller.settings.learned_file import FIGURES, Figure, LearnedGains

WIDTH, HEIGHT = 1000, 1414
LEFT, RIGHT = 70, 960
TOP, BOTTOM = 130, 520
WET_TOP, WET_BOTTOM = 562, 656
BARS_TOP: Final = 682
BAR: Final = 20
TABLE_TOP: Final = 812
OUTPUT_WORDS: Final[dict[Role, str]] = {"heater": "lamp", "humidifier": "mist", "cooler": "cooling"}
PHASE_WORDS: Final = {
    "rest": "rest", "heat": "lamp on", "off": "all off", "mist": "mist", "cool": "cooling", "after": "all off",
}  # fmt: skip

NAMES: Final[dict[str, tuple[str, str]]] = {
    "dead_s": ("Dead time of the lamp", "s"),
    "slope_k_per_min": ("Steepest rise", "K/min"),
    "probe_s": ("Response of the air thermometer", "s"),
    "fast_lag_s": ("Lamp, air and thermometer together", "s"),
    "slow_lag_s": ("Empty chamber follows its room", "s"),
    "after_heat_k": ("After-heat", "K"),
    "after_heat_s": ("After-heat lasts", "s"),
    "ua_w_per_k": ("Holds one kelvin", "W"),
    "air_wall_w_per_k": ("Air to wall", "W/K"),
    "wall_j_per_k": ("Walls hold", "J/K"),
    "lamp_s": ("Lamp's own lag", "s"),
    "noise_k": ("Scatter of the thermometer", "K"),
    "offset_k": ("Second thermometer less first", "K"),
    "mist_pct_per_s": ("One second of mist at 20 °C", "%RH"),
    "mist_delay_s": ("Mist is seen after", "s"),
    "mist_falls_s": ("Humidity falls back in", "s"),
    "cool_dead_s": ("Dead time of the cooling", "s"),
    "cool_slope_k_per_min": ("Steepest fall", "K/min"),
    "after_cool_k": ("Still falls afterwards", "K"),
}
"""What each figure is called on the page and on the screen, and its unit."""


def draw(result: Result) -> str:
    """Return the page."""
    parts = [
        f"<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 {WIDTH} {HEIGHT}' width='{WIDTH}' height='{HEIGHT}'>",
        f"<rect width='{WIDTH}' height='{HEIGHT}' fill='white'/>",
        *_head(result),
        *_temperatures(result),
        *_humidity(result),
        *_outputs(result),
        *_table(result),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _head(result: Result) -> Iterator[str]:
    made = result.learned.made
    load = f"{made.loaded_kg:g} kg in it" if made.loaded_kg else "empty"
    yield text(LEFT, 48, f"Getting to know {made.chamber}", 26, more="font-weight='bold'")
    yield text(
        LEFT, 74, f"Step test {made.test}, begun {made.on}; chamber {load}; lamp {made.lamp_w:g} W, {made.switch}"
    )
    yield text(
        LEFT, 94, f"Air thermometer {made.thermometer}; {made.volume_l:g} l; room {made.room_c:.1f} °C ({made.room_is})"
    )


def _time_axis(result: Result) -> Axis:
    return Axis(0.0, float(result.steps.at_s[-1]) / 60.0, LEFT, RIGHT)


def _thinned(x: Axis, y: Axis, at_s: Series, value: Series) -> list[tuple[float, float]]:
    every = max(len(at_s) // 900, 1)
    return [(x(float(t) / 60.0), y(float(v))) for t, v in zip(at_s[::every], value[::every], strict=True)]


def _temperatures(result: Result) -> Iterator[str]:
    steps, fitted = result.steps, result.fitted
    shown = [steps.values[name] for name in ("air_temp", "rh_temp", "ambient_temp") if name in steps.values]
    low, high = min(float(np.min(one)) for one in shown), max(float(np.max(one)) for one in shown)
    x, y = _time_axis(result), Axis(low - 1.0, high + 1.5, BOTTOM, TOP)
    yield from _frame(x, y, "°C")
    for phase, words in PHASE_WORDS.items():
        begin_s = steps.begin_s(phase)
        if begin_s is not None:
            yield line([(x(begin_s / 60.0), TOP), (x(begin_s / 60.0), BOTTOM)], 0.7, "1,4", "#666")
            yield text(x(begin_s / 60.0) + 4, TOP - 6, words, 12)
    if "ambient_temp" in steps.values:
        yield line(_thinned(x, y, steps.at_s, steps.values["ambient_temp"]), 1.0, "2,3", "#555")
    if "rh_temp" in steps.values:
        yield line(_thinned(x, y, steps.at_s, steps.values["rh_temp"]), 0.8, "", "#999")
    yield line(_thinned(x, y, steps.at_s, steps.values["air_temp"]), 1.6)
    fitted_s = steps.at_s[steps.during("rest", "heat", "off")]
    yield line(_thinned(x, y, fitted_s, fitted.curve_c), 3.0, "9,7", "#777")
    yield from _tangent(result, x, y, high)
    legend = [("air thermometer", "", 1.6, "black"), ("fitted chamber", "9,7", 3.0, "#777"),
              ("thermometer in the humidity sensor", "", 0.8, "#999"), ("room", "2,3", 1.0, "#555"),
              ("steepest tangent", "3,2", 1.2, "black")]  # fmt: skip
    for place, (words, dash, width, grey) in enumerate(legend):
        at = TOP + 20 + 18 * place
        yield line([(RIGHT - 290, at - 4), (RIGHT - 245, at - 4)], width, dash, grey)
        yield text(RIGHT - 238, at, words, 12)


def _tangent(result: Result, x: Axis, y: Axis, high: float) -> Iterator[str]:
    """Draw the steepest tangent of the answer to the full lamp, from where it leaves the rest."""
    begin_s = result.steps.begin_s("heat") or 0.0
    dead_s, slope = result.learned.dead_s.value or 0.0, (result.learned.slope_k_per_min.value or 0.0) / 60.0
    first_s, first_c = begin_s + dead_s, result.fitted.start_c
    last_s = first_s + (high - first_c) / max(slope, 1e-6)
    yield line([(x(first_s / 60.0), y(first_c)), (x(last_s / 60.0), y(high))], 1.2, "3,2")


def _frame(x: Axis, y: Axis, unit: str, *, about: int = 8, times: bool = True) -> Iterator[str]:
    bottom, top = y.first, y.last
    corners = [(LEFT, bottom), (RIGHT, bottom), (RIGHT, top), (LEFT, top), (LEFT, bottom)]
    yield line(corners, 0.8)
    for value in y.ticks(about):
        yield line([(LEFT - 4, y(value)), (LEFT, y(value))], 0.8)
        yield line([(LEFT, y(value)), (RIGHT, y(value))], 0.3, "", "#bbb")
        yield text(LEFT - 8, y(value) + 4, f"{value:g}", 12, "end")
    yield text(LEFT - 44, (top + bottom) / 2 if not times else top - 4, unit, 12)
    for value in x.ticks(10):
        yield line([(x(value), bottom), (x(value), bottom + 4)], 0.8)
        if times:
            yield text(x(value), bottom + 17, f"{value:g}", 12, "middle")


def _humidity(result: Result) -> Iterator[str]:
    steps = result.steps
    if "rh" not in steps.values:
        yield text(LEFT, WET_TOP + 30, "No humidity was measured.", 13)
        return
    x, y = _time_axis(result), Axis(0.0, 100.0, WET_BOTTOM, WET_TOP)
    yield from _frame(x, y, "%RH", about=4, times=False)
    yield line(_thinned(x, y, steps.at_s, steps.values["rh"]), 1.2)


def _outputs(result: Result) -> Iterator[str]:
    steps, x = result.steps, _time_axis(result)
    roles = [role for role in OUTPUT_WORDS if role in steps.on]
    for place, role in enumerate(roles):
        base = BARS_TOP + (BAR + 8) * place
        yield text(LEFT - 8, base + 15, OUTPUT_WORDS[role], 12, "end")
        yield line([(LEFT, base + BAR), (RIGHT, base + BAR)], 0.5, "", "#888")
        on, began = steps.on[role] > 0.0, 0
        edges = np.flatnonzero(np.diff(np.concatenate(([0], on.astype(int), [0]))))
        for began, ended in zip(edges[::2], edges[1::2], strict=True):
            first = x(float(steps.at_s[max(began - 1, 0)]) / 60.0)
            last = x(float(steps.at_s[min(ended - 1, len(on) - 1)]) / 60.0)
            yield f"<rect x='{first:.1f}' y='{base}' width='{max(last - first, 1.5):.1f}' height='{BAR}' fill='#333'/>"
    yield text((LEFT + RIGHT) / 2, BARS_TOP + (BAR + 8) * len(roles) + 12, "minutes since the test began", 12, "middle")


def _table(result: Result) -> Iterator[str]:
    columns = (LEFT, 400, 520, 640)
    yield line([(LEFT, TABLE_TOP + 8), (RIGHT, TABLE_TOP + 8)], 0.8)
    for place, words in zip(columns, ("Figure", "found", "± error", "chamber file, or why not"), strict=True):
        yield text(place, TABLE_TOP, words, 13, more="font-weight='bold'")
    at = TABLE_TOP + 28
    for name in FIGURES:
        figure: Figure = getattr(result.learned, name)
        words, unit = NAMES[name]
        yield text(columns[0], at, words, 13)
        if figure.value is not None:
            yield text(columns[1], at, f"{figure.value:g} {unit}", 13)
            yield text(columns[2], at, "" if figure.error is None else f"{figure.error:g}", 13)
        beside = figure.because or ("" if figure.in_file is None else f"{figure.in_file:g} {unit}")
        yield text(columns[3] if figure.value is not None else columns[1], at, beside, 13)
        at += 21
    yield line([(LEFT, at - 10), (RIGHT, at - 10)], 0.8)
    for words in _gain_lines(result.learned.gains):
        at += 20
        yield text(LEFT, at - 4, words, 13)


def _gain_lines(gains: LearnedGains) -> tuple[str, ...]:
    lines = [f"Gains (window {gains.window_s:g} s): lamp on per kelvin, integral time, and Ms: how much the loop makes"]
    lines[0] += " worse at its worst frequency (usual: 1.2 to 2)"
    rules = (
        ("used", gains.heat_per_k, gains.heat_ti_s, gains.ms),
        ("SIMC", gains.simc_per_k, gains.simc_ti_s, gains.simc_ms),
        ("AMIGO", gains.amigo_per_k, gains.amigo_ti_s, gains.amigo_ms),
    )
    lines.append(";   ".join(f"{name}: {100 * kc:.1f} %/K, {ti_s:.0f} s, Ms {ms:.2f}" for name, kc, ti_s, ms in rules))
    return tuple(lines)
