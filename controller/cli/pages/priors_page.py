"""What finished batches teach the forecasts, on the screen: old and new, whether it helps, what does not count."""

from collections.abc import Iterator
from math import exp
from typing import TYPE_CHECKING, Any, Final

from msgspec.structs import asdict

from controller.cli.say import fold
from controller.review.priors.kept import Priors

if TYPE_CHECKING:  # It needs numpy.
    from controller.review.priors.left_one_out import Band
    from controller.review.priors.lessons import Lesson, Lessons

FIGURES: Final = {
    "ferment": (("slope", "slope of the pH's fall"), ("lag", "wait before the fall")),
    "drying": (("days", "days it takes to dry"),),
}
UNITS: Final = {"ferment": "h", "drying": "days"}


def tell_lessons(found: "Lessons", used: Priors) -> Iterator[str]:
    """Yield the page, at most 80 columns wide."""
    if not found.lessons:
        yield "No finished batch shows anything that a forecast could begin with."
    for lesson in found.lessons:
        yield from _lesson(lesson, used)
        yield ""
    if found.excluded:
        yield "These do not count:"
        for one in found.excluded:
            of = "" if one.thing == "batch" else f", its {one.thing}"
            yield from fold(f"{one.batch}{of}: {one.why}.", "    ", "  ")
    if found.older:
        yield from fold(f"{found.older} older batches were not looked at: the newest tell of the chamber as it is.")


def _lesson(lesson: "Lesson", used: Priors) -> Iterator[str]:
    count = len(lesson.batches)
    of = f"{count} finished batch{'' if count == 1 else 'es'}"
    yield from fold(f"{_name(lesson)}, from {of}", "  ", "")
    yield f"  {'beside the recipe':<26}{'used now':>14}{'would be':>14}{'next batch, 80 %':>20}"
    now = _now(lesson, used)
    for number, (key, words) in enumerate(FIGURES[lesson.thing]):
        mean, spread = float(lesson.belief.mean[number]), float(lesson.belief.spread[number])
        was = "as recipe" if now is None else _pct(now[key])
        span = f"{_pct(mean - 1.2816 * spread)} to {_pct(mean + 1.2816 * spread)}"
        yield f"  {words:<26}{was:>14}{_pct(mean):>14}{span:>20}"
    scores = lesson.scores
    if count > 1:
        yield f"  Each left out in turn and forecast at its begin{'recipe':>13}{'the others':>14}"
        yield from _bands(lesson.thing, scores.shipped, scores.learned)
        bound = "" if scores.bound is None else f", by 95 % at least {scores.bound:+.2f}"
        yield f"    log score of all its readings: gain {scores.mean:+.2f} a batch{bound}"
    verdict = lesson.verdict
    if _in_use(lesson, used):
        verdict = verdict.replace("proposed", "in use already", 1)
    yield from fold(f"{verdict}.".capitalize(), "  ", "  ")


def _bands(thing: str, shipped: "Band | None", learned: "Band | None") -> Iterator[str]:
    if shipped is None or learned is None:
        return
    unit = UNITS[thing]
    held = [f"{one.held} of {one.told}" for one in (shipped, learned)]
    rows = [("the 80 % range held what came", *held)]
    rows += [(f"its width, {unit} (median)", f"{shipped.width:.1f}", f"{learned.width:.1f}")]
    rows += [(f"CRPS, {unit} (mean; less is better)", f"{shipped.crps:.1f}", f"{learned.crps:.1f}")]
    for words, before, after in rows:
        yield f"    {words:<40}{before:>18}{after:>14}"


def _name(lesson: "Lesson") -> str:
    first, second = lesson.key
    if lesson.thing == "ferment":
        return f"Ferments with {second or f'a {first} starter that no plan names'}{f' ({first})' if second else ''}"
    return f"Drying in {first}, {f'casing {second}' if second else 'casing that no plan names'}"


def _pct(shift: float) -> str:
    return f"{100.0 * (exp(shift) - 1.0):+.0f} %"


def _in_use(lesson: "Lesson", used: Priors) -> bool:
    """Say whether forecasts begin with just this already."""
    return lesson.proposed and lesson.prior in (*used.acid, *used.drying)


def _now(lesson: "Lesson", used: Priors) -> dict[str, Any] | None:
    """Return what is used now for this group."""
    if lesson.thing == "ferment":
        acid = next((one for one in used.acid if (one.culture, one.starter) == lesson.key), None)
        return None if acid is None else asdict(acid)
    drying = next((one for one in used.drying if (one.chamber, one.casing) == lesson.key), None)
    return None if drying is None else asdict(drying)


def as_object(found: "Lessons", used: Priors) -> dict[str, object]:
    """Return the same for programs."""
    return {
        "lessons": [_object(lesson, used) for lesson in found.lessons],
        "excluded": [{"batch": one.batch, "of": one.thing, "why": one.why} for one in found.excluded],
        "older": found.older,
    }


def _object(lesson: "Lesson", used: Priors) -> dict[str, object]:
    scores = lesson.scores
    bands = {
        name: None
        if band is None
        else {"held": band.held, "told": band.told, "width": round(band.width, 3), "crps": round(band.crps, 3)}
        for name, band in (("recipe", scores.shipped), ("learned", scores.learned))
    }
    return {
        "of": lesson.thing,
        "key": list(lesson.key),
        "batches": list(lesson.batches),
        "figures": {
            key: {
                "ln": round(float(lesson.belief.mean[number]), 4),
                "ln_spread": round(float(lesson.belief.spread[number]), 4),
            }
            for number, (key, _) in enumerate(FIGURES[lesson.thing])
        },
        "used_now": _now(lesson, used),
        "left_out_in_turn": {
            "log_score_gains": [round(gain, 4) for gain in scores.gains],
            "mean": round(scores.mean, 4),
            "at_least": None if scores.bound is None else round(scores.bound, 4),
            "unit": UNITS[lesson.thing],
            **bands,
        },
        "proposed": lesson.proposed,
        "in_use": _in_use(lesson, used),
        "verdict": lesson.verdict,
    }
