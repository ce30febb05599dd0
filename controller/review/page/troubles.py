"""What went wrong, on the page: alarms and what was done about each, gaps, and the time without the program."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from controller.review.page.tables import Column, table
from controller.review.page.words import Look, lasted, many, times

MOST: Final = 12
MOST_GAPS: Final = 6
NOBODY: Final = "nobody"


def alarms(figures: Mapping[str, Any], look: Look) -> list[str]:
    """Return how the alarms behaved, and what was done about each; of very many the most urgent ones."""
    total, history = figures["alarms"], figures["alarm_history"]
    by = ", ".join(f"{count} of priority {priority}" for priority, count in total["by_priority"].items())
    lines = [f"Alarms: {total['total']}" + (f" ({by})" if by else ""), *_behaved(total)]
    if not history:
        return lines
    shown = sorted(sorted(history, key=_urgency)[:MOST], key=_raised)
    columns = [Column("alarm", most=30), Column("since"), Column("seen by", most=18), Column("then", most=24)]
    rows = [[_what(one), look.short(one["raised"]), _seen(one), _then(one, look)] for one in shown]
    lines += table(columns, rows)
    if len(history) > len(shown):
        lines.append(f"  {len(history) - len(shown)} more, none of them more urgent: --csv has all")
    return lines


def _urgency(one: Mapping[str, Any]) -> tuple[bool, str, float]:
    return not one["open"], one["priority"], -one["active_h"]


def _raised(one: Mapping[str, Any]) -> str:
    return str(one["raised"])


def _what(one: Mapping[str, Any]) -> str:
    return one["title"] if one["id"] == one["title"] else f"{one['id']} {one['title']}"


def _seen(one: Mapping[str, Any]) -> str:
    seen = one["seen"] or one["cleared"]
    if seen is None:
        return NOBODY
    return f"{seen['by'] or 'somebody'}, after {lasted(seen['after_h'])}"


def _then(one: Mapping[str, Any], look: Look) -> str:
    said = []
    if one["follows"]:
        said.append(f"followed from {one['follows']}")
    said += [f"quieted by {each['by']} {look.short(each['time'])}" for each in one["quieted"][:1]]
    if one["open"]:
        said.append(f"STILL THERE, {lasted(one['active_h'])} in all")
    elif one["active_h"] > 0.0:
        said.append(f"over after {lasted(one['active_h'])}")
    if one["cleared"]:
        said.append(f"cleared by {one['cleared']['by']}")
    if one["called"] > 1:
        said.append(f"called {times(one['called'])}")
    return ", ".join(said)


def _behaved(total: Mapping[str, Any]) -> list[str]:
    """Return how they behaved; nothing where there was none."""
    if not total["total"]:
        return []
    called, most = times(total["annunciations"]), times(total["most_in_10_min"])
    longest = f"the longest alarm lasted {total['longest_active_h']:.1f} h"
    unseen = f"one was unseen for {total['longest_unseen_h']:.1f} h"
    lines = [
        f"  they called {called} ({total['per_day']:.1f} a day), at most {most} in ten minutes",
        f"  something was wrong for {total['active_h']:.1f} h in all; {longest}, and {unseen}",
    ]
    if total["floods"]:
        lines.append(f"  too many at once (more than five in ten minutes): {times(total['floods'])}")
    if total["chattering"]:
        lines.append(f"  came and went three times in a minute: {total['chattering']}")
    if total["open"]:
        lines.append(f"  still there at the end of the record: {', '.join(total['open'])}")
    return lines


def pauses(figures: Mapping[str, Any], look: Look) -> list[str]:
    """Return when the batch was paused or waited by itself; of very many the longest."""
    all_of: Sequence[Mapping[str, Any]] = figures["pauses"]
    if not all_of:
        return ["Pauses: none"]
    lines = [f"Pauses: {len(all_of)}, {lasted(sum(one['hours'] for one in all_of))} in all"]
    longest = sorted(sorted(all_of, key=_hours)[-MOST_GAPS:], key=_from)
    for one in longest:
        until = "on, not over" if one["until"] is None else f"to {look.minute(one['until'])}"
        lines.append(f"  {look.minute(one['from'])} {until}, {lasted(one['hours'])}: {look.say(one['text'])}")
    if len(all_of) > len(longest):
        lines.append(f"  these are the longest; {len(all_of) - len(longest)} more in --csv")
    return lines


def gaps(figures: Mapping[str, Any], look: Look) -> list[str]:
    """Return where rows are missing, and when the program was not running."""
    lines = []
    missing: Sequence[Mapping[str, Any]] = figures["gaps"]
    if missing:
        hours = sum(gap["hours"] for gap in missing)
        lines.append(f"Gaps: {len(missing)}, {lasted(hours)} in all")
        longest = sorted(sorted(missing, key=_hours)[-MOST_GAPS:], key=_from)
        lines += [
            f"  {look.minute(gap['from'])} to {look.minute(gap['to'])}, {lasted(gap['hours'])}" for gap in longest
        ]
        if len(missing) > len(longest):
            lines.append(f"  these are the longest; {len(missing) - len(longest)} more in --csv")
    else:
        lines.append("Gaps: none")
    breaks = figures["breaks"]
    if breaks:
        lines.append(f"The program was not running: {times(len(breaks))}")
        for one in breaks[-MOST_GAPS:]:
            length = f" Length: {one['length']}." if one["length"] else ""
            lines.append(f"  back {look.minute(one['back'])}: {look.say(one['text'])}{length}")
        if len(breaks) > MOST_GAPS:
            lines.append(f"  and {many(len(breaks) - MOST_GAPS, 'earlier one')} in --csv")
    lost = figures["damaged_rows"]
    damaged = f"; of the whole record {many(lost, 'line')} cannot be read" if lost else ""
    lines.append(f"Rows of climate: {figures['rows']}{damaged}")
    lines += [f"  not read: {one['file']}, line {one['lines']}: {one['why']}" for one in figures["unread"]]
    lines += [
        f"  left out as a copy: {many(copy['rows'], 'row')} of {look.minute(copy['from'])} to {look.minute(copy['to'])}"
        for copy in figures["copies"]
    ]
    lines += [
        f"  the clock went back from {look.minute(step['from'])} to {look.minute(step['to'])}"
        for step in figures["clock_steps"]
    ]
    return lines


def _hours(gap: Mapping[str, Any]) -> float:
    return float(gap["hours"])


def _from(gap: Mapping[str, Any]) -> str:
    return str(gap["from"])
