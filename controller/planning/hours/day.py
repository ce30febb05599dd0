"""The order of the day, counted backwards from the hour at which the last piece is stuffed.

Hours in which somebody has to look are the scarce thing. So the hour of stuffing is chosen such that as much as
possible of the time in which the pH may reach its aim falls into the maker's waking hours; where an hour is given, it
is judged by the same figure.
"""

import datetime as dt
from collections.abc import Callable, Iterator
from math import isinf, sqrt
from typing import Final
from zoneinfo import ZoneInfo

from msgspec import Struct

from controller.core.plan import Stage
from controller.planning.answers import Answers, Finding

MIN_S: Final = 60.0
HOUR_S: Final = 3600.0
DAY_S: Final = 86_400.0
QUARTER_S: Final = 15.0 * MIN_S
CLEAN_S: Final = 30.0 * MIN_S
WEIGH_S: Final = 20.0 * MIN_S
GRIND_S, GRIND_S_PER_KG = 10.0 * MIN_S, 5.0 * MIN_S
MIX_S: Final = 15.0 * MIN_S
STARTER_LAST_S: Final = 5.0 * MIN_S
"""Before the mixing ends: long enough to spread it, too short for the salt to hurt it."""
STUFF_S, STUFF_S_PER_KG = 15.0 * MIN_S, 8.0 * MIN_S
HANG_S: Final = 15.0 * MIN_S
"""How long the work takes in a kitchen for a few kilograms: common practice, no source."""
SOAK_S: Final = 30.0 * MIN_S
"""A starter stands in water about half an hour before it is used; common practice, no source."""
WARM_SPARE_S: Final = 30.0 * MIN_S
"""The chamber is switched on so much earlier than the model asks, for models err."""
LATE_S: Final = 30.0 * MIN_S
"""Meat with its starter in that would wait longer than this for a warm chamber, waits."""
LOOKS: Final = 64
"""Into so many equal parts the window is cut to see how much of it is in waking hours."""
ALMOST: Final = 0.98
ENOUGH: Final = 0.5
BETTER: Final = 0.15


class Times(Struct, frozen=True, kw_only=True):
    """Hold the instants of one day, in wall seconds."""

    clean_s: float
    warm_s: float | None  # When the chamber is switched on; None where the ferment is elsewhere.
    weigh_s: float
    grind_s: float
    soak_s: float
    mix_s: float
    starter_s: float
    stuff_s: float
    stuffed_s: float
    hung_s: float

    @property
    def first_s(self) -> float:
        """Return when the day begins."""
        return min(self.clean_s, self.weigh_s, self.soak_s)


class Choice(Struct, frozen=True, kw_only=True):
    """Hold the day that was chosen, how much of the window is in waking hours, and what is to be said of it."""

    times: Times
    awake_share: float
    findings: tuple[Finding, ...]


class Clockwork(Struct, frozen=True, kw_only=True):
    """Hold what the day is reckoned from.

    Attributes:
        meat_kg: for how long the work takes.
        warm_s: how long the empty chamber takes to get warm; None where it is not to be warmed.
        window_h: fast, expected and slow hours from hanging to the pH aimed at; None where nobody can say.
        awake: from and to which hour of the local day.
        zone: of the local time.
    """

    meat_kg: float
    warm_s: float | None
    window_h: tuple[float, float, float] | None
    awake: tuple[float, float]
    zone: ZoneInfo


def times_of(stuffed_s: float, work: Clockwork) -> Times:
    """Return the instants of the day that ends with the last piece stuffed at this one."""
    hung_s = stuffed_s + HANG_S
    stuff_s = stuffed_s - STUFF_S - STUFF_S_PER_KG * work.meat_kg
    mix_s = stuff_s - MIX_S
    starter_s = stuff_s - STARTER_LAST_S
    grind_s = mix_s - GRIND_S - GRIND_S_PER_KG * work.meat_kg
    weigh_s = grind_s - WEIGH_S
    # The chamber has to be warm before the starter is in the meat: from there on there is no way back.
    warm_s = None if work.warm_s is None else min(starter_s - work.warm_s - WARM_SPARE_S, weigh_s)
    clean_s = (weigh_s if warm_s is None else warm_s) - CLEAN_S
    return Times(
        clean_s=clean_s,
        warm_s=warm_s,
        weigh_s=weigh_s,
        grind_s=grind_s,
        soak_s=starter_s - SOAK_S,
        mix_s=mix_s,
        starter_s=starter_s,
        stuff_s=stuff_s,
        stuffed_s=stuffed_s,
        hung_s=hung_s,
    )


def is_awake(wall_s: float, awake: tuple[float, float], zone: ZoneInfo) -> bool:
    """Say whether the maker is awake then; from 16 to 2 o'clock goes over midnight, and 0 to 24 is always."""
    local = dt.datetime.fromtimestamp(wall_s, zone)
    hour = local.hour + local.minute / 60.0 + local.second / 3600.0
    begins, ends = awake
    if ends > begins:
        return begins <= hour < ends
    return hour >= begins or hour < ends


def awake_share(hung_s: float, work: Clockwork) -> float:
    """Return how much of the window falls into waking hours (0..1); 1 where there is none.

    The window is weighed as a triangle from the fast over the expected to the slow case.
    """
    if work.window_h is None:
        return 1.0
    looks = [hung_s + hours * HOUR_S for hours in _quantiles(work.window_h)]
    return sum(is_awake(look_s, work.awake, work.zone) for look_s in looks) / len(looks)


def _quantiles(window_h: tuple[float, float, float]) -> Iterator[float]:
    fast, expected, slow = window_h
    wide = slow - fast
    if wide <= 0.0:
        yield expected
        return
    bend = (expected - fast) / wide
    for look in range(LOOKS):
        part = (look + 0.5) / LOOKS
        if part < bend:
            yield fast + sqrt(part * wide * (expected - fast))
        else:
            yield slow - sqrt((1.0 - part) * wide * (slow - expected))


def candidates(now_s: float, work: Clockwork) -> list[float]:
    """Return the hours of stuffing of today and tomorrow, by quarters, that leave time for all that comes before.

    Where the waking hours have room for the whole day's work, only such hours are among them.
    """
    tomorrow = dt.datetime.fromtimestamp(now_s, work.zone).date() + dt.timedelta(days=1)
    ends_s = dt.datetime.combine(tomorrow, dt.time(23, 59), work.zone).timestamp()
    earliest_s = earliest_stuffed_s(now_s, work)
    stuffed = [earliest_s + number * QUARTER_S for number in range(int(max(0.0, ends_s - earliest_s) // QUARTER_S) + 1)]
    by_day = [stuffed_s for stuffed_s in stuffed if _works_awake(times_of(stuffed_s, work), work)]
    return by_day or stuffed


def _works_awake(times: Times, work: Clockwork) -> bool:
    hours = (times.hung_s - times.first_s) / HOUR_S
    steps = [times.first_s + HOUR_S * part for part in range(int(hours) + 1)]
    return all(is_awake(at_s, work.awake, work.zone) for at_s in (*steps, times.hung_s))


def earliest_stuffed_s(now_s: float, work: Clockwork) -> float:
    """Return the first full quarter of an hour at which the last piece can be stuffed, if one begins now."""
    before_s = -times_of(0.0, work).first_s
    return -(-(now_s + before_s) // QUARTER_S) * QUARTER_S


def choose(answers: Answers, work: Clockwork) -> Choice:
    """Choose the hour of stuffing, or judge the one that was given; then say what is to be said of it."""
    shares = {stuffed_s: awake_share(times_of(stuffed_s, work).hung_s, work) for stuffed_s in
              candidates(answers.now_wall_s, work)}  # fmt: skip
    most = max(shares.values())
    best_s = next(stuffed_s for stuffed_s, share in shares.items() if share >= min(ALMOST, most))
    stuffed_s = best_s if answers.stuffing_wall_s is None else answers.stuffing_wall_s
    times = times_of(stuffed_s, work)
    share = awake_share(times.hung_s, work)
    found = [*_waits(answers, times, work)]
    if not any(finding.weight == "refused" for finding in found):
        better_s = best_s if answers.stuffing_wall_s is not None and most > share + BETTER else None
        found += _window(times, share, better_s, shares.get(best_s, 0.0), work)
        if not _works_awake(times, work):
            found.append(
                Finding(
                    "warning",
                    f"The work of the day goes from {_clock(times.first_s, work)} to {_clock(times.hung_s, work)}, "
                    "not all of it in the hours in which you are awake.",
                )
            )
    return Choice(times=times, awake_share=share, findings=tuple(found))


def _waits(answers: Answers, times: Times, work: Clockwork) -> Iterator[Finding]:
    """Yield why the meat would stand with its starter in and not be warm."""
    if answers.waits_cold_h > 0.0 and answers.starter is not None:
        yield Finding(
            "refused",
            f"{answers.waits_cold_h:g} h of waiting cold with the starter in: it wakes, starves and works late. Let "
            "meat with salt and cure wait, add the starter last, then stuff and hang without a stop in a warm chamber.",
        )
    now_s = answers.now_wall_s
    if times.hung_s < now_s:
        yield Finding("refused", f"--stuffing {_clock(times.stuffed_s, work)}: that hour is over.")
        return
    if work.warm_s is not None and answers.starter is not None:
        warm_s = now_s + work.warm_s
        if warm_s > times.hung_s + LATE_S:
            hours = (warm_s - times.hung_s) / HOUR_S
            yield Finding(
                "refused",
                f"--stuffing {_clock(times.stuffed_s, work)}: the chamber is warm at {_clock(warm_s, work)} at the "
                f"earliest, and the meat would wait {hours:.1f} h with its starter in. Stuff at "
                f"{_clock(earliest_stuffed_s(now_s, work), work)} or later.",
            )
            return
    if times.first_s < now_s - QUARTER_S:
        yield Finding(
            "warning",
            f"The day should have begun at {_clock(times.first_s, work)}, and it is {_clock(now_s, work)}. Stuff at "
            f"{_clock(earliest_stuffed_s(now_s, work), work)} or later.",
        )


def _window(
    times: Times, share: float, better_s: float | None, better_share: float, work: Clockwork
) -> Iterator[Finding]:
    if work.window_h is None:
        return
    fast_h, _, slow_h = work.window_h
    between = f"{_clock(times.hung_s + fast_h * HOUR_S, work)} to {_clock(times.hung_s + slow_h * HOUR_S, work)}"
    if better_s is not None:
        yield Finding(
            "warning",
            f"The pH may reach its aim from {between}; {100 * share:.0f} % of that is in your waking hours. Stuffing "
            f"at {_clock(better_s, work)} instead would make it {100 * better_share:.0f} %.",
        )
    elif share < ENOUGH:
        yield Finding(
            "warning",
            f"The pH may reach its aim from {between}, and only {100 * share:.0f} % of that is in your waking hours; "
            "no hour of stuffing today or tomorrow is better. Ask somebody to measure, or set an alarm clock.",
        )


def due_wall_s(times: Times, ferment: Stage, window_h: tuple[float, float, float] | None) -> tuple[float, ...]:
    """Return when a pH is due: the profile's hours, to the first one after the slow case."""
    due = []
    for hours in ferment.ph_due_h:
        due.append(times.hung_s + hours * HOUR_S)
        if window_h is not None and hours >= window_h[2]:
            break
    return tuple(due)


def latest_wall_s(times: Times, allowed_h: float) -> float | None:
    """Return the last instant for pH 5.3; None where no rule counts."""
    return None if isinf(allowed_h) else times.hung_s + allowed_h * HOUR_S


def zone_of(answers: Answers) -> ZoneInfo:
    """Return the zone of the chamber's clock."""
    return ZoneInfo(answers.timezone)


def clock_of(zone: ZoneInfo) -> Callable[[float], str]:
    """Return what writes an instant as Wed 14:30 in this zone."""

    def clock(wall_s: float) -> str:
        return f"{dt.datetime.fromtimestamp(wall_s, zone):%a %H:%M}"

    return clock


def _clock(wall_s: float, work: Clockwork) -> str:
    return clock_of(work.zone)(wall_s)
