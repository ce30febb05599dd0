"""People on the page: who entered what, corrections with old and new value, checks of instruments, notes, decisions."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from controller.review.page.words import Look, lasted, many

MOST: Final = 8
KINDS: Final = {
    "ph": "pH", "weight": "weight", "core_temp": "core temperature", "smoker_temp": "smoker temperature",
    "water_activity": "water activity",
}  # fmt: skip
METHODS: Final = {"ice": "in ice water", "salt": "over salt", "buffers": "in buffers", "mv": "by its mV"}
GOOD: Final = "good"


def people(figures: Mapping[str, Any], look: Look) -> list[str]:
    """Return who entered what, and what was corrected."""
    entered = [one for one in figures["entered_by"] if one["readings"]]
    if not entered:
        lines = ["Readings: none were entered"]
    else:
        lines = ["Readings entered"]
        for one in entered:
            what = ", ".join(f"{count} of {KINDS.get(kind, kind)}" for kind, count in one["readings"].items())
            late = one["latest_after_h"]
            typed = f"; typed up to {lasted(late)} after measuring" if late is not None and late >= 1.0 else ""
            lines.append(f"  {one['actor'] or 'nobody named'}: {what}{typed}")
    corrected = figures["corrections"]
    if not corrected:
        return [*lines, "Corrections: none"]
    lines.append(f"Corrections: {len(corrected)}")
    lines += [f"  {_correction(one, look)}" for one in corrected[-MOST:]]
    return [*lines, *_earlier(corrected)]


def _earlier(rows: Sequence[object]) -> list[str]:
    return [f"  and {many(len(rows) - MOST, 'earlier one')} in --csv"] if len(rows) > MOST else []


def _correction(one: Mapping[str, Any], look: Look) -> str:
    kind = KINDS.get(one["kind"], one["kind"])
    piece = f" of {one['piece']}" if one["piece"] else ""
    old = "an entry that is not there" if one["old"] is None else _value(one["old"], one, look)
    note = f": {look.say(one['note'])}" if one["note"] else ""
    when = f", typed {look.minute(one['entered'])}" if one["entered"] else ""
    return (
        f"{kind}{piece}: {old} became {_value(one['new'], one, look)}, by {one['actor'] or 'nobody named'}{when}{note}"
    )


def _value(value: float | str, one: Mapping[str, Any], look: Look) -> str:
    if isinstance(value, str):
        return f'"{value}"'
    if one["kind"] in {"core_temp", "smoker_temp"}:
        return look.temp(value)
    unit = {"weight": " g"}.get(one["kind"], "")
    return f"{value:.2f}" if one["kind"] == "ph" else f"{value:g}{unit}"


def checks(figures: Mapping[str, Any], look: Look) -> list[str]:
    """Return the checks of instruments around the batch; that nothing is known of them is another thing than none."""
    around = figures["checks"]
    if not around["known"]:
        return ["Checks of instruments: not known here; the chamber's instruments.csv has them"]
    if not around["list"]:
        return ["Checks of instruments: none around this batch"]
    lines = [f"Checks of instruments: {len(around['list'])}"]
    for one in around["list"][-MOST:]:
        how = METHODS.get(one["method"], one["method"])
        verdict = (
            one["verdict"]
            if one["verdict"] == GOOD
            else look.say(one["verdict"]).upper()[:1] + look.say(one["verdict"])[1:]
        )
        lines.append(f"  {one['when']}, {look.minute(one['time'])}: {one['instrument']} {how}: {verdict}{_who(one)}")
    return [*lines, *_earlier(around["list"])]


def _who(one: Mapping[str, Any]) -> str:
    return f", by {one['actor']}" if one["actor"] else ""


def notes(figures: Mapping[str, Any], look: Look) -> list[str]:
    """Return what people wrote and decided; the start and the end of stages stand above."""
    written = figures["notes"]
    lines = [f"Notes: {len(written)}" if written else "Notes: none"]
    for one in written[-MOST:]:
        about = "" if one["about"] == "note" else f"{one['about']}: "
        lines.append(f"  {look.minute(one['time'])} {one['actor']}: {about}{look.say(one['text'])}")
    lines += _earlier(written)
    decided = [one for one in figures["decisions"] if one["kind"] in {"set", "cool", "refused"}]
    if decided:
        lines.append(f"Changed by people, or not taken: {many(len(decided), 'time')}")
        lines += [f"  {look.minute(one['time'])} {one['actor']}: {look.say(one['text'])}" for one in decided[-MOST:]]
        lines += _earlier(decided)
    return lines
