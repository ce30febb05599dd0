"""How a batch's alarms behaved, from its diary: how many, how often they called, how long they lasted and were unseen.

The figures are those that OPC UA part 9 (OPC 10000-9) has for alarms, there called AlarmCount, MaximumActiveState,
MaximumUnAck, AverageAlarmRate, MaximumAlarmRate and MaximumReAlarmCount, in words of the house. What one home can bear
is common practice, no source: one alarm a day over a batch, one of priority 1 a week, none that flutters.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Any, Final

from controller.core.fault_table import ROWS
from controller.review.batch import BatchRecord, EventRow

HOUR_S: Final = 3600.0
DAY_S: Final = 86_400.0
WINDOW_S: Final = 600.0
FLUTTER_S: Final = 60.0
FLUTTERS: Final = 3
STALE_S: Final = DAY_S
CALLS: Final = frozenset({"alarm", "alarm again"})

Span = tuple[float, float]


def alarm_figures(record: BatchRecord) -> dict[str, Any]:
    """Return the figures of a batch's alarms.

    Returns:
        `total` and `by_priority` of occurrences; `annunciations`: how often one called, first and again, and
        `per_day` and `most_in_10_min` of these; `most_repeats` of one occurrence; `active_h`: for how long anything
        was wrong at all; `longest_active_h` and `longest_unseen_h` of one occurrence; `stale`: those that lasted more
        than 24 h; `floods`: how often there were too many at once; `chattering`: those that came and went three times
        in a minute; `open`: those that were there at the end of the record.
    """
    raised = [event for event in record.events if event.kind == "alarm"]
    called = [event for event in record.events if event.kind in CALLS]
    end_s = _end_s(record)
    mine = {name: [event for event in record.events if event.id == name] for name in {event.id for event in raised}}
    spans = {name: active_spans(events, end_s) for name, events in mine.items()}
    lasted = [until_s - since_s for each in spans.values() for since_s, until_s in each]
    days = max((end_s - record.events[0].time_s) / DAY_S, 1.0) if record.events else 1.0
    return {
        "total": len(raised),
        "by_priority": dict(sorted(Counter(event.priority for event in raised).items())),
        "annunciations": len(called),
        "per_day": round(len(called) / days, 3),
        "most_in_10_min": _most_within([event.time_s for event in called], WINDOW_S),
        "most_repeats": max((sum(one.kind in CALLS for one in events) - 1 for events in mine.values()), default=0),
        "active_h": round(_union_s(span for each in spans.values() for span in each) / HOUR_S, 3),
        "longest_active_h": round(max(lasted, default=0.0) / HOUR_S, 3),
        "longest_unseen_h": round(max((_unseen_s(each, end_s) for each in mine.values()), default=0.0) / HOUR_S, 3),
        "stale": sum(length_s > STALE_S for length_s in lasted),
        "floods": sum(event.kind == "flood" and bool(event.priority) for event in record.events),
        "chattering": sum(
            _most_within([since_s for since_s, _ in each], FLUTTER_S) >= FLUTTERS for each in spans.values()
        ),
        "open": sorted(name for name, each in spans.items() if each and each[-1][1] == end_s and is_open(mine[name])),
    }


def _end_s(record: BatchRecord) -> float:
    return max([record.climate.last_s or 0.0, *(event.time_s for event in record.events)])


def active_spans(events: Sequence[EventRow], end_s: float) -> list[Span]:
    """Return from when to when the cause of one occurrence was there."""
    spans: list[Span] = []
    since_s: float | None = None
    for event in events:
        comes = event.kind in CALLS or (event.kind in {"quiet", "follows"} and ": there again" in event.text)
        if comes and since_s is None:
            since_s = event.time_s
        elif _ends(event) and since_s is not None:
            spans.append((since_s, event.time_s))
            since_s = None
    return spans if since_s is None else [*spans, (since_s, end_s)]


def _ends(event: EventRow) -> bool:
    """Say whether the cause is gone with this event; what only tells that something has happened ends when seen."""
    row = ROWS.get(event.id.rsplit("-", 1)[0])
    return event.kind == "returned" or (event.kind == "seen" and row is not None and row.until_seen)


def is_open(events: Sequence[EventRow]) -> bool:
    """Say whether one occurrence was there at the end of its lines in the diary."""
    ends = [place for place, event in enumerate(events) if _ends(event)]
    comes = [place for place, event in enumerate(events) if event.kind in CALLS]
    return not ends or comes[-1] > ends[-1]


def _unseen_s(events: Sequence[EventRow], end_s: float) -> float:
    """Return how long it took until somebody had seen or cleared one occurrence."""
    seen = next((event.time_s for event in events if event.kind in {"seen", "cleared"}), end_s)
    return seen - events[0].time_s


def _most_within(times_s: Sequence[float], window_s: float) -> int:
    """Return the most instants that lie within any window of this length."""
    ordered = sorted(times_s)
    most, first = 0, 0
    for last, at_s in enumerate(ordered):
        while at_s - ordered[first] >= window_s:
            first += 1
        most = max(most, last - first + 1)
    return most


def _union_s(spans: Iterable[Span]) -> float:
    """Return for how long at least one of these was there."""
    total_s, reached_s = 0.0, float("-inf")
    for since_s, until_s in sorted(spans):
        total_s += max(until_s - max(since_s, reached_s), 0.0)
        reached_s = max(reached_s, until_s)
    return total_s
