"""What a time without the program means, by its length and by the state of the meat.

| length | raw meat that waits, a chill | a ferment without pH 5.3 | soured or drying |
|---|---|---|---|
| up to 15 min | told | told | told |
| up to 8 h | alarm 1: a person decides | alarm 1; no end before a new pH, wanted within the hour | alarm 2 |
| longer, or unknown | waits for a person | waits for a pH and a reason | waits for a reason |

An end by time waits until the alarm was seen. In the last row nothing heats by itself: warming meat of unknown
condition for more hours only adds degree-hours. Several short cuts are one longer one: more than three in 24 h, or
together more than an hour in one stage, count as the second row; together more than eight hours as the third. What a
person has answered, by seeing its alarm or by letting the batch go on, is added up no more. The limits are common
practice, no source; so is 4 °C with its two hours, in the words of US consumer guidance for perishables
(FoodSafety.gov, read second-hand).
"""

from collections.abc import Iterable
from typing import Final, Literal

from msgspec.structs import replace

from controller.core.alarms import Condition
from controller.core.alarms.memory import Alarm
from controller.core.batch.blind import tell_uncounted, waits_untold
from controller.core.batch.margin import OVER, binding, is_over_limit, tell_margin
from controller.core.memory import Batch
from controller.core.outage.away import Away, Cut
from controller.core.plan import Chamber
from controller.core.values import Event

SHORT_S: Final = 900.0
LONG_S: Final = 8 * 3600.0
DAY_S: Final = 86_400.0
HOUR_S: Final = 3600.0
LONGEST_ROW: Final = 2
CUTS_PER_DAY: Final = 3
CUTS_TOGETHER_S: Final = 3600.0
KEPT: Final = 20
REMINDED_S: Final = 2 * 3600.0
MOVING_S: Final = 120.0

Meat = Literal["waits", "chills", "sours", "keeps"]


def meat_of(batch: Batch) -> Meat:
    """Return in what state the meat of a batch is."""
    if batch.hung_s is None and batch.stage.kind in {"warm-up", "ferment"}:
        return "waits"
    if batch.stage.kind == "chill":
        return "chills"
    ferments = any(stage.kind == "ferment" for stage in batch.profile.stages[: batch.stage_index + 1])
    return "sours" if ferments and not batch.passed_5_3 else "keeps"


def row_of(batch: Batch, lasted_s: float | None) -> int:
    """Return which row of the table a cut belongs to, 0 to 2, with the batch's earlier cuts; it is among them."""
    if lasted_s is None or lasted_s > LONG_S:
        return LONGEST_ROW
    _, here_s = _counted(batch)
    if here_s > LONG_S:
        return LONGEST_ROW
    cuts = batch.away.cuts
    today = sum(1 for cut in cuts if cut.power and not cut.answered and batch.elapsed_s - cut.back_s < DAY_S)
    several = here_s > CUTS_TOGETHER_S or today > CUTS_PER_DAY
    return 1 if lasted_s > SHORT_S or several else 0


def with_cut(batch: Batch, lasted_s: float, *, power: bool, bounded: bool = False) -> Batch:
    """Return the batch with one more cut; `bounded` where that is only how long it can have been by the cooling."""
    kept, (times, together_s) = batch.away.cuts, _counted(batch)
    if len(kept) >= KEPT:  # What was no cut of the power goes first: those of a day are counted.
        place = next((place for place, cut in enumerate(kept) if not cut.power), 0)
        kept = (*kept[:place], *kept[place + 1 :])
    cut = Cut(batch.elapsed_s, lasted_s, batch.stage_index, power, bounded=bounded)
    return _with_cuts(batch, (*kept, cut), times + 1, together_s + lasted_s)


def without_bounded(batch: Batch) -> Batch:
    """Return the batch without the cuts of its open gap that the cooling has bounded: a clock tells them as one now."""
    since_s = batch.away.since_s
    gone = [cut for cut in batch.away.cuts if cut.bounded and since_s is not None and cut.back_s >= since_s]
    if not gone:
        return batch
    times, together_s = _counted(batch)
    counted = [cut.lasted_s for cut in gone if cut.stage_index == batch.stage_index and not cut.answered]
    kept = tuple(cut for cut in batch.away.cuts if cut not in gone)
    return _with_cuts(batch, kept, max(times - len(counted), 0), max(together_s - sum(counted), 0.0))


def _with_cuts(batch: Batch, cuts: tuple[Cut, ...], times: int, together_s: float) -> Batch:
    away = replace(batch.away, cuts=cuts, counted=times, counted_s=together_s, counted_in=batch.stage_index)
    return replace(batch, away=away)


def _counted(batch: Batch) -> tuple[int, float]:
    """Return how many cuts of the present stage nobody has answered, and how long they were together."""
    away, stage = batch.away, batch.stage_index
    if away.counted_in == stage:
        return away.counted, away.counted_s
    here = [cut.lasted_s for cut in away.cuts if cut.stage_index == stage and not cut.answered]
    return len(here), sum(here)


def answered(batch: Batch) -> Batch:
    """Return the batch whose cuts a person has answered: none of them makes a later one count as longer."""
    away = batch.away
    if all(cut.answered for cut in away.cuts):
        return batch
    cuts = tuple(cut if cut.answered else replace(cut, answered=True) for cut in away.cuts)
    away = replace(away, cuts=cuts, counted=0, counted_s=0.0, counted_in=batch.stage_index)
    return replace(batch, away=away)


def concerns(batch: Batch) -> bool:
    """Say whether a time without the program is any matter of this batch: it is in the chamber, or it ferments."""
    return batch.state not in {"complete", "idle", "stopped", "aborted"} and (
        batch.in_chamber or batch.stage.kind == "ferment"
    )


def judged(
    batch: Batch, lasted_s: float | None, chamber: Chamber, wall_s: float, *, clock: bool
) -> tuple[Batch, tuple[Event, ...], tuple[Condition, ...]]:
    """Return the batch after a cut of this length, with its events and its alarm.

    Args:
        batch: with the cut among its cuts, and its degree-hours counted.
        lasted_s: its length, or what bounds it; None where nobody knows.
        chamber: for the limits of degree-hours.
        wall_s: the clock on the wall, for people.
        clock: a clock told the length; else the cooling bounds it.
    """
    if not concerns(batch):
        return batch, (), ()
    row, meat = row_of(batch, lasted_s), meat_of(batch)
    if lasted_s is not None and waits_untold(batch):
        if row == 0:
            return batch, (), ()
        row, lasted_s = LONGEST_ROW, None
    if row == 0:
        return _goes_on(batch, clock=clock)
    if lasted_s is not None and lasted_s <= SHORT_S and _is_called_for(batch):
        return batch, (), ()
    events: tuple[Event, ...] = ()
    asks = Away() if batch.stage.where == "elsewhere" else batch.away
    if batch.stage.where == "elsewhere":
        after = batch
    elif row == 1:
        after, events, _ = _goes_on(batch, clock=clock)
        ph_after_s = batch.elapsed_s if meat == "sours" else asks.ph_after_s
        after = replace(after, away=replace(after.away, unseen=True, ph_after_s=ph_after_s))
        if meat == "sours" and batch.stage.kind == "ferment" and batch.hung_s is not None:
            due_s = batch.elapsed_s + HOUR_S
            after = replace(after, ph_next_s=min(after.ph_next_s or due_s, due_s))
    else:
        after, events = _waits(batch, lasted_s, meat)
    condition = Condition(
        "C16",
        _said(batch, lasted_s, meat, chamber),
        batch.id,
        priority="2" if row == 1 and meat == "keeps" else "1",
        did=_did(batch, row, meat),
        by_wall_s=wall_s + HOUR_S if row == 1 and meat == "sours" else None,
    )
    return after, events, (condition,)


def _is_called_for(batch: Batch) -> bool:
    """Say whether a person was called for it because of an older cut: a mere restart after it is nothing new."""
    may_be_uncalled = batch.held_by_gap or batch.held_by_person
    return batch.state == "held" and bool(batch.away.asks) and not may_be_uncalled


def _goes_on(batch: Batch, *, clock: bool) -> tuple[Batch, tuple[Event, ...], tuple[Condition, ...]]:
    """Return the batch let go on, where it only waited for the length of the cut."""
    if not (batch.state == "held" and batch.held_by_gap and not batch.held_by_person):
        return batch, (), ()
    why = "the clock is known again" if clock else "the cooling bounds it"
    event = Event("state", f"Goes on: {why}, and the time without the program was not long.", batch=batch.id)
    away = replace(batch.away, asks="", gave=not clock)
    return replace(batch, state="running", held_because="", held_by_gap=False, away=away), (event,), ()


FOUND_OUT: Final = "how long it was is being found out, which takes some minutes"
"""What a batch waits for before anybody is called."""


def is_told(batch: Batch) -> bool:
    """Say whether the alarm of a cut speaks for a batch that waits; hours later the one for waiting batches does."""
    return bool(batch.away.asks) and batch.elapsed_s - batch.away.asks_since_s < REMINDED_S


def held_for(batch: Batch, lasted_s: float | None) -> tuple[Batch, tuple[Event, ...]]:
    """Return the batch paused after a cut that is long, or of which nobody knows yet how long it was."""
    if not (concerns(batch) and batch.in_chamber):
        return batch, ()
    return _waits(batch, lasted_s, meat_of(batch), first=lasted_s is None)


def _waits(batch: Batch, lasted_s: float | None, meat: Meat, *, first: bool = False) -> tuple[Batch, tuple[Event, ...]]:
    """Return the batch that waits; `first`: only for the minutes in which its length may be found out."""
    asks = "ph" if meat == "sours" and batch.hung_s is not None else "reason"
    ph_after_s = batch.elapsed_s if asks == "ph" else batch.away.ph_after_s
    since_s = batch.away.asks_since_s if batch.away.asks else batch.elapsed_s
    away = replace(batch.away, asks=asks, asks_since_s=since_s, ph_after_s=ph_after_s, unseen=True)
    how_long = "a time of unknown length" if lasted_s is None else f"up to {spoken(lasted_s)}"
    because = f"{how_long} without the program; {FOUND_OUT if first else 'look at the meat and measure'}"
    paused = Event("state", f"Paused, waits for you: {because}.", batch=batch.id)
    if batch.state not in {"running", "suspended"}:
        by_gap = batch.held_by_gap and lasted_s is None
        is_news = is_found_out(batch) and not first
        known_now = batch.held_by_gap and lasted_s is not None
        said = because if (is_news or known_now) and not batch.held_by_person else batch.held_because
        held = replace(batch, away=away, held_by_gap=by_gap, held_because=said)
        return held, (paused,) if is_news and not batch.held_by_person else ()
    if first:
        paused = Event("state", f"Waits, without heat: {because}. Nobody need act before.", batch=batch.id)
    held = replace(batch, state="held", held_because=because, held_by_gap=lasted_s is None, away=away)
    return held, (paused,)


def given_up(batch: Batch) -> Batch:
    """Return the batch that waits for a person only: no clock can tell any more how long it was left alone."""
    return replace(batch, held_by_gap=False) if batch.held_by_gap else batch


def is_found_out(batch: Batch) -> bool:
    """Say whether a batch waits only until it is found out how long a cut was: it may go on by itself."""
    return batch.state == "held" and batch.held_by_gap and batch.held_because.endswith(FOUND_OUT)


def _said(batch: Batch, lasted_s: float | None, meat: Meat, chamber: Chamber) -> str:
    length = "for an unknown time" if lasted_s is None else f"for up to {spoken(lasted_s)}"
    several = _several(batch, lasted_s)
    text = f"The program was not running {length}{several}."
    if meat in {"waits", "chills"}:
        where = "The meat that waits, if its fridge is on the same mains, may" if meat == "waits" else "The meat may"
        hours = "an unknown time" if lasted_s is None else f"up to {spoken(lasted_s)}"
        return f"{text} {where} have been above 4 °C for {hours}; perishables are given 2 h there. You decide."
    if meat == "keeps":
        return f"{text} Look at its surface: nothing stirred, dried or wetted the air."
    if lasted_s is None:
        lacks = tell_uncounted(batch) or "the degree-hours lack it so far"
        return f"{text} {lacks[0].upper()}{lacks[1:]}."
    over = f" Over the limit: {OVER}." if is_over_limit(batch, chamber) else ""
    at = "highest" if batch.stage.where == "chamber" else "wanted"
    counted = f"counted at the {at} temperature" if batch.hung_s is not None else "nothing hangs yet"
    return f"{text} Degree-hours: {tell_margin(binding(batch, chamber))}; {counted}.{over}"


def _several(batch: Batch, lasted_s: float | None) -> str:
    """Return what is said of earlier cuts, where they make a short one count as longer."""
    times, together_s = _counted(batch)
    if lasted_s is None or times < 2:  # noqa: PLR2004 - several
        return ""
    return f", {times} times in this stage, {spoken(together_s)} in all"


def _did(batch: Batch, row: int, meat: Meat) -> str:
    if batch.stage.where == "elsewhere":
        return "This program controls nothing there."
    if row == 1:
        more = " The ferment does not end without a new pH." if meat == "sours" else ""
        ends = " The stage does not end by time before you have seen this." if batch.stage.until.hours else ""
        return f"It went on by itself.{more}{ends}"
    return "It waits for you: no heat, no mist, cold as the coolest stage where there is a cooler, air gently stirred."


def spoken(seconds: float) -> str:
    """Return a length of time as it is told."""
    if seconds < MOVING_S:
        return f"{seconds:.0f} s"
    return f"{seconds / 60.0:.0f} min" if seconds < 2 * HOUR_S else f"{seconds / HOUR_S:.1f} h"


def settled_by(batch: Batch, alarms: Iterable[Alarm], found: Iterable[Condition]) -> Batch:
    """Return the batch, a stage of which may end by time again once nobody has an alarm of its cuts left to see.

    What was `found` out in this very tick is no alarm yet, and nobody can have seen it.
    """
    if not batch.away.unseen or any(one.row == "C16" and one.batch == batch.id for one in found):
        return batch
    if any(alarm.row == "C16" and alarm.batch == batch.id and not alarm.seen for alarm in alarms):
        return batch
    return replace(batch, away=replace(batch.away, unseen=False))


def may_end(batch: Batch) -> bool:
    """Say whether what the last cut asks for lets a stage end: a new pH in a ferment, a seen alarm by time."""
    away = batch.away
    if away.unseen and batch.stage.until.hours is not None:
        return False
    if away.ph_after_s is None or batch.stage.kind != "ferment":
        return True
    return batch.last_ph_s is not None and batch.last_ph_s >= away.ph_after_s


def lacks_to_resume(batch: Batch, because: str) -> str:
    """Return what a person has to do before a batch that waits after a long cut may go on; empty where nothing."""
    away = batch.away
    if away.asks == "ph" and (batch.last_ph_s is None or batch.last_ph_s < (away.ph_after_s or 0.0)):
        return (
            "measure the pH of a sausage first and type it in, look at the meat and smell it; then say what you found"
        )
    if away.asks and not because.strip():
        return 'look at the meat and smell it, and say what you found: hangroom resume --because "…"'
    return ""


__all__ = [
    "LONG_S",
    "SHORT_S",
    "answered",
    "concerns",
    "given_up",
    "held_for",
    "is_told",
    "judged",
    "lacks_to_resume",
    "may_end",
    "meat_of",
    "row_of",
    "settled_by",
    "spoken",
    "with_cut",
    "without_bounded",
]
