"""What to look at next time: each a figure of this batch, and what a maker can do about it.

The bounds from which a thing is pointed at are common practice, no source; none of them judges the meat.
"""

from collections.abc import Iterator, Mapping
from datetime import datetime
from itertools import pairwise
from typing import Any, Final

from controller.food.degree_hours import TARGET_PH
from controller.review.page.words import Look, lasted, many, meant_to_last, pct, times

HELD_PCT: Final = 90.0
APART_PCT: Final = 5.0
PH_APART_H: Final = 4.0
UNSEEN_H: Final = 0.5
WAITED_H: Final = 2.0
LATE_H: Final = 3.0
FEW: Final = 5
HELD_BY_FORECASTS_PCT: Final = 60.0


WHY: Final = {
    "ferment": "culture, sugar, temperature?",
    "dry": "humidity, moving air, a hard rim?",
    "warm-up": "lamp, insulation, room?",
}
DRYING: Final = frozenset({"dry", "equalise", "rest"})


def next_time(figures: Mapping[str, Any], look: Look) -> list[str]:
    """Return what stood out."""
    found = [said for part in PARTS for said in part(figures, look)]
    if not found:
        return ["Look at next time: nothing stood out"]
    return ["Look at next time", *(f"  - {said}" for said in found)]


def _lengths(figures: Mapping[str, Any], look: Look) -> Iterator[str]:  # noqa: ARG001 - all are called alike
    for one in figures["planned"]:
        if one["beside"] == "longer":
            meant = f"meant were at most {meant_to_last(one['most_h'])}"
            yield f"{one['name']} lasted {lasted(one['real_h'])}, {meant}: {WHY.get(one['kind'], 'why?')}"


def _margin(figures: Mapping[str, Any], look: Look) -> Iterator[str]:  # noqa: ARG001 - all are called alike
    margin = figures["ferment"]["margin"]
    if margin is not None and margin["small"] and margin["left"] >= 0.0:
        yield (
            f"only {margin['left_pct']:.0f} % of the degree-hours were left: a cooler ferment leaves more, or a "
            "fresher and stronger starter"
        )


def _ph(figures: Mapping[str, Any], look: Look) -> Iterator[str]:  # noqa: ARG001 - all are called alike
    counted = [row for row in figures["ph_course"] if row["counts"]]
    for before, row in pairwise(counted):
        if before["ph"] > TARGET_PH >= row["ph"]:
            apart_h = _apart_h(before["time"], row["time"])
            if apart_h > PH_APART_H:
                yield (
                    f"between the last pH above 5.3 and the first below it lay {lasted(apart_h)}, and degree-hours "
                    "count to the reading: measure more often there"
                )
            return


def _apart_h(begin: str, end: str) -> float:
    return (datetime.fromisoformat(end) - datetime.fromisoformat(begin)).total_seconds() / 3600.0


def _climate(figures: Mapping[str, Any], look: Look) -> Iterator[str]:
    for stage in figures["stages"]:
        air, humid = stage["air_temp_c"]["within_pct"], stage["rh_pct"]
        if air is not None and air < HELD_PCT:
            near = f"was within {look.band} for {pct(air)} of the minutes only"
            yield f"the air of {stage['name']} {near}: lamp, cold, fan, door?"
        drying = stage["kind"] in DRYING
        share = humid["within_pct" if drying else "at_least_pct"]
        if share is None or share >= HELD_PCT:
            continue
        below = pct(100.0 - humid["at_least_pct"])
        if drying:
            above = pct(humid["at_least_pct"] - share)
            yield (
                f"the humidity of {stage['name']} was more than 4 % too low for {below} of the minutes and too high "
                f"for {above}: too dry makes a hard rim, too wet makes it slow"
            )
        else:
            yield (
                f"the humidity of {stage['name']} was more than 4 % below what was wanted for {below} of the minutes: "
                "is there water in the humidifier, is the box tight?"
            )


def _alarms(figures: Mapping[str, Any], look: Look) -> Iterator[str]:  # noqa: ARG001 - all are called alike
    unseen = [one for one in figures["alarm_history"] if one["priority"] == "1" and not one["follows"]]
    late = [one for one in unseen if one["seen"] is not None and one["seen"]["after_h"] > UNSEEN_H]
    never = [one for one in unseen if one["seen"] is None and one["cleared"] is None]
    if late or never:
        names = ", ".join(one["id"] for one in [*late, *never][:FEW])
        yield f"alarms to act on now were seen late or by nobody ({names}): is the sounder heard where you sleep?"
    repeats = figures["alarms"]["most_repeats"]
    if repeats > FEW:
        yield f"one alarm called {times(repeats + 1)}: repair its cause, or quiet it while you do"


def _away(figures: Mapping[str, Any], look: Look) -> Iterator[str]:  # noqa: ARG001 - all are called alike
    cuts = [one for one in figures["breaks"] if one["why"].startswith("power cut")]
    if cuts:
        yield f"the power failed or the computer hung {times(len(cuts))}: a clock with a battery, or a small UPS?"
    waited_h = sum(one["hours"] for one in figures["pauses"] if one["waits_for"] == "person")
    if waited_h > WAITED_H:
        yield f"it waited {lasted(waited_h)} in all for a person: who is called, and who may decide?"
    if figures["damaged_rows"] or (figures["damage"] and not figures["breaks"]):
        yield "the record is damaged or has holes (said above): card, disk, supply?"


def _checks(figures: Mapping[str, Any], look: Look) -> Iterator[str]:  # noqa: ARG001 - all are called alike
    around = figures["checks"]
    if not around["known"]:
        return
    checked = {one["instrument"] for one in around["list"]}
    if figures["ph"]["first"] is not None and not any("meter" in name for name in checked):
        yield "the pH meter was not checked in buffers around this batch: hangroom calibrate buffers"
    bad = sorted({one["instrument"] for one in around["list"] if one["verdict"] != "good"})
    if bad:
        yield f"not every check was good ({', '.join(bad)}): what it measured in this batch is that much less certain"


def _weights(figures: Mapping[str, Any], look: Look) -> Iterator[str]:  # noqa: ARG001 - all are called alike
    apart = figures["pieces_apart_pct"]
    if apart is not None and apart > APART_PCT:
        yield f"slowest and fastest piece lie {apart:.1f} % apart: change their places, or let the air reach all"


def _typed(figures: Mapping[str, Any], look: Look) -> Iterator[str]:  # noqa: ARG001 - all are called alike
    late = max((one["latest_after_h"] or 0.0 for one in figures["entered_by"]), default=0.0)
    if late > LATE_H:
        yield f"a reading was typed {lasted(late)} after it was measured; until then the program goes by older ones"


def _forecasts(figures: Mapping[str, Any], look: Look) -> Iterator[str]:  # noqa: ARG001 - all are called alike
    for score in figures["forecasts"]["scores"]:
        share = score["inside_pct"]
        if score["judged"] >= FEW and share is not None and share < HELD_BY_FORECASTS_PCT:
            name = f"pH {score['target']:g}" if score["kind"] == "ph" else f"{score['target']:g} % loss"
            told = many(score["judged"], "forecast")
            yield f"only {pct(share)} of the {told} of {name} held: go by the readings"


PARTS: Final = (_lengths, _margin, _ph, _climate, _alarms, _away, _checks, _weights, _typed, _forecasts)
