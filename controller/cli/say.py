"""How figures are put on a screen of 80 columns: temperatures in the chamber's units, times, long sentences, JSON."""

import datetime as dt
import json
import re
import textwrap
from typing import Final
from zoneinfo import ZoneInfo

import click
import msgspec

from controller.settings.units import Units, show_temp

WIDTH: Final = 80
PRIORITY_WORDS: Final = {"1": "act now", "2": "within hours", "3": "within a day", "E": "for your information"}
"""Priorities of the fault table in words: within half an hour, within hours, within a day."""
STATE_WORDS: Final = {
    "idle": "idle",
    "running": "running",
    "suspended": "waits by itself",
    "held": "paused, waits for you",
    "stopped": "ended before its time",
    "aborted": "given up",
    "complete": "complete, waits to be taken out",
}


_ABOUT_ALARM: Final = re.compile(r"hangroom (?:clear|seen) [A-Z]+\d+-\d+")
_TIE: Final = "\x00"
"""Keeps a command on one line, so that it can be copied; it stands for a blank while lines are made."""


def show_maybe(temp_c: float | None, units: Units) -> str:
    """Return a temperature in this chamber's units; "unknown" for None."""
    return "unknown" if temp_c is None else show_temp(temp_c, units)


def show_time(wall_s: float, timezone: str) -> str:
    """Return an instant in the chamber's local time, as 2026-01-05 14:30."""
    return dt.datetime.fromtimestamp(wall_s, ZoneInfo(timezone)).strftime("%Y-%m-%d %H:%M")


def show_span(span_s: float) -> str:
    """Return a length of time in the two units that matter: 40 s, 12 min, 5 h 20 min, 3 d 4 h."""
    minutes = int(span_s // 60)
    if minutes < 1:
        return f"{max(span_s, 0.0):.0f} s"
    hours, minutes = divmod(minutes, 60)
    days, rest = divmod(hours, 24)
    if days:
        return f"{days} d {rest} h"
    return f"{hours} h {minutes} min" if hours else f"{minutes} min"


def fold(text: str, indent: str = "", first: str | None = None, width: int = WIDTH) -> list[str]:
    """Return the lines of a sentence that is too long for the screen; `first` stands before the first of them."""
    lines = textwrap.wrap(
        _ABOUT_ALARM.sub(lambda found: found[0].replace(" ", _TIE), text),
        width,
        initial_indent=indent if first is None else first,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [line.replace(_TIE, " ") for line in lines] or [""]


def print_json(value: object) -> None:
    """Print one JSON object to stdout, readable by people too."""
    click.echo(json.dumps(msgspec.to_builtins(value), indent=2, ensure_ascii=False))
