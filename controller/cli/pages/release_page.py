"""Put a release sheet on a page of 80 columns: criterion by criterion, asked, found, verdict, source, room to sign."""

import datetime as dt
from collections.abc import Iterator, Mapping
from typing import Any, Final

from controller.cli.local import in_units
from controller.cli.say import STATE_WORDS, WIDTH, fold, show_time
from controller.settings.units import Units

VERDICT_WORDS: Final = {"met": "MET", "not met": "NOT MET", "not measured": "NOT MEASURED"}
CONFIRM: Final = "confirm with your authority"
INDENT: Final = " " * 15
RULE: Final = "-" * WIDTH


def tell_release(sheet: Mapping[str, Any]) -> list[str]:
    """Return the lines of the sheet that `controller.review.release` gives."""
    units: Units = "F" if sheet["units"] == "F" else "C"
    criteria = (line for part in sheet["criteria"] for line in _criterion(part, units))
    return [*_head(sheet, units), *criteria, *_foot(sheet, units)]


def _head(sheet: Mapping[str, Any], units: Units) -> Iterator[str]:
    yield f"RELEASE SHEET: {sheet['batch']}"
    meat = f"{round(sheet['meat_kg'], 2):g} kg, {sheet['diameter_mm']:.0f} mm"
    yield from fold(in_units(f"{sheet['title']}; {meat}", units))
    zone = sheet["timezone"]
    until = f", recorded until {_minute(sheet['recorded_until'], zone)}" if sheet["recorded_until"] else ""
    state = STATE_WORDS.get(sheet["state"], sheet["state"])
    yield from fold(f"Began {_minute(sheet['began'], zone)}{until} ({zone}); state: {state}")
    for said in sheet["damage"]:
        yield from fold(f"RECORD: {said}. Ask what that hides before you sign.", "    ", "! ")
    yield ""
    yield from fold(sheet["says"])
    counts = sheet["counts"]
    yield from fold(
        f"Criteria by the {sheet['criteria_chosen_by']}: {counts['met']} met, {counts['not met']} NOT MET, "
        f"{counts['not measured']} NOT MEASURED. Lines in small letters stand beside and do not count."
    )
    for part in sheet["criteria"]:
        yield f"  {VERDICT_WORDS[part['verdict']]:<{len(INDENT) - 3}} {part['title']}"


def _minute(time: str, zone: str) -> str:
    return show_time(dt.datetime.fromisoformat(time).timestamp(), zone)


def _criterion(part: Mapping[str, Any], units: Units) -> Iterator[str]:
    verdict = VERDICT_WORDS[part["verdict"]]
    yield RULE
    yield f"{part['title']:<{WIDTH - len(verdict) - 1}} {verdict}"
    source = ""
    for line in part["lines"]:
        told = VERDICT_WORDS[line["verdict"]] if line["counts"] else line["verdict"]
        yield from fold(in_units(f"{line['what']}: {line['wanted']}", units), INDENT, f"  {told:<{len(INDENT) - 3}} ")
        yield from fold(in_units(line["found"] or "nothing on record", units), f"{INDENT}       ", f"{INDENT}found: ")
        cited = line["source"] + (f" - {CONFIRM}" if line["confirm"] else "")
        if cited and cited != source:
            yield from fold(cited, f"{INDENT}        ", f"{INDENT}source: ")
        source = cited
    for text in part["estimates"]:
        yield from fold(in_units(text, units), INDENT, f"  {'ESTIMATE':<{len(INDENT) - 3}} ")
    for text in part["notes"]:
        yield from fold(in_units(text, units), "    ", "  - ")


def _foot(sheet: Mapping[str, Any], units: Units) -> Iterator[str]:
    zone = sheet["timezone"]
    yield RULE
    if sheet["seen"]:
        told = [
            f"{each['word']}{' (' + each['piece'] + ')' if each['piece'] else ''} {_minute(each['time'], zone)}"
            for each in sheet["seen"]
        ]
        yield from fold(f"Last seen, felt and smelled: {'; '.join(told)}. It proves nothing about germs or toxins.")
        yield ""
    yield "Who decides"
    for each in sheet["decides"]:
        yield from fold(in_units(f"{each['who']}: {each['what']}", units), "    ", "  - ")
    yield ""
    yield "Cautions"
    for text in sheet["cautions"]:
        yield from fold(in_units(text, units), "    ", "  - ")
    yield ""
    yield from fold(sheet["records"])
    for each in sheet["signatures"]:
        yield ""
        label = f"{each['what']}: "
        yield f"{label}{'_' * (WIDTH - len(label) - 18)} date: {'_' * 10}"
