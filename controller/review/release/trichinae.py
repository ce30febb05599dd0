"""Whether what was recorded meets the option against trichinae: frost, heat, or days in the drying room.

Each meat that can hold them is judged by itself: that one pork was frozen says nothing of the other.
"""

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from msgspec import Struct, structs

from controller.food.bowl.formulation import Formula, Meat
from controller.food.germs.measured import HOUR_S, Log, Verdict, break_h, time_words, worst
from controller.food.germs.trichinae import (
    CAUTION,
    FREEZING_IDS,
    FROST_PROOF,
    GAME,
    OPTIONS,
    STATUS,
    Option,
    needs_option,
    option_of,
    salt_pct_6,
)
from controller.food.germs.trichinae_record import Recorded, frozen_as_written, judge
from controller.food.germs.trichinae_tables import METHODS
from controller.review.release.evidence import DRYING, Evidence, Row, Section, row_of
from controller.review.release.heat import PROBE_ERROR_K, coldest

IDS: Final = frozenset(option.id for option in OPTIONS)
BY_MEAT: Final = frozenset({"freeze", "none"})
WET: Final = re.compile(r"\b(water|starter|wine|port|sherry|vermouth|brandy|rum|beer|cider|vinegar|juice|broth|milk)\b")
DRY: Final = re.compile(r"\b(powder|dry|dried)\b")
GOOD: Final[tuple[Verdict, ...]] = ("met", "not measured", "not met")


class Judged(Struct, frozen=True):
    """Hold an option that a meat is judged by, and what it comes to."""

    option: Option
    rows: tuple[Row, ...]

    @property
    def verdict(self) -> Verdict:
        """Return what the lines come to."""
        return worst(row.verdict for row in self.rows)


def trichinae_section(evidence: Evidence) -> Section:
    """Set what was recorded beside the option that the maker chose for each meat that can hold trichinae."""
    sheet, species = evidence.sheet, evidence.species
    notes = [STATUS, CAUTION]
    if species & FROST_PROOF:
        notes.insert(0, GAME)
    if sheet is not None and not needs_option(species):
        names = ", ".join(sorted(species))
        row = Row("meats", "pork, game and horse need an option", f"{names}: none of them", "met", "plan")
        return Section(name="trichinae", title="Trichinae", rows=(row,))
    meats: list[Meat | None] = [None]
    if sheet is not None:
        meats = [meat for meat in sheet.formula.meats if needs_option([meat.species])]
    rows: list[Row] = []
    told: list[str] = []
    for meat in meats:
        judged = _best(evidence, meat)
        if judged is None:
            rows.append(_open(meat, several=len(meats) > 1))
            continue
        named = meat is not None and len(meats) > 1 and judged.option.kind in BY_MEAT
        found = [
            structs.replace(row, what=f"{meat.name}: {row.what}") if meat and named else row for row in judged.rows
        ]
        rows += [row for row in found if row not in rows]
        told.append(f"Option {judged.option.id}: {judged.option.words}.")
    open_h = break_h(evidence.air(*sorted(DRYING)))
    if open_h > 0.5 and any(row.what == "drying room" for row in rows):  # noqa: PLR2004 - half an hour
        told.append(
            f"Of {time_words(open_h)} since the drying began nothing is on record here; they count for nothing."
        )
    return Section(name="trichinae", title="Trichinae", rows=tuple(rows), notes=(*dict.fromkeys(told), *notes))


def _open(meat: Meat | None, *, several: bool) -> Row:
    """Return the line of a meat for which there is no option that could be judged."""
    words = "no option was chosen" if meat is not None else "no plan was made, so the meats are not on record"
    if meat is not None and meat.treated:
        words += f"; the maker wrote: {meat.treated}"
    what = f"{meat.name}: option" if meat is not None and several else "option"
    return Row(what, "one that is published, for pork, game and horse", words, "not measured", STATUS)


def _best(evidence: Evidence, meat: Meat | None) -> Judged | None:
    """Return the option by which a meat is judged: the first that is met, else what comes nearest of its own option.

    Its own is the one that the maker chose, else what he wrote of this meat; a cook answers for it besides.
    """
    own = [Judged(option, _judged(option, evidence, meat, chosen=chosen)) for option, chosen in _own(evidence, meat)]
    cooked = evidence.record.card.profile.style == "cooked" and evidence.cores()
    heating = [option for option in reversed(OPTIONS) if option.kind == "cook"] if cooked else []
    heat = [Judged(option, _judged(option, evidence, meat, chosen=False)) for option in heating]
    met = next((judged for judged in (*own, *heat) if judged.verdict == "met"), None)
    if met is not None or not (own or heat):
        return met
    return min(own or heat, key=lambda judged: GOOD.index(judged.verdict))


def _own(evidence: Evidence, meat: Meat | None) -> list[tuple[Option, bool]]:
    """Return the options of this meat, and whether the maker named them."""
    chosen = evidence.sheet.trichinae if evidence.sheet is not None else ""
    treated = "" if meat is None else meat.treated
    for name in (chosen, treated):
        if name in IDS:
            return [(option_of(name), True)]
    written = frozen_as_written(treated)
    if written is None:
        return []
    rows = [option_of(name) for name in FREEZING_IDS]
    if not written.centre:
        return [(option, False) for option in rows if option.thickest_mm is not None]
    european = evidence.sheet is not None and evidence.sheet.authority in {"eu", "uk"}
    at_centre = [option for option in rows if option.thickest_mm is None]
    return [(option, False) for option in at_centre if option.id.startswith("eu-") == european]


def _judged(option: Option, evidence: Evidence, meat: Meat | None, *, chosen: bool) -> tuple[Row, ...]:
    """Judge an option for one meat, by the coldest piece and by the one that left first."""
    told = _recorded(option, evidence, meat, chosen=chosen)
    cores: Sequence[Log] = list(evidence.heated_cores().values()) or [()]
    judged = [row_of(condition) for condition in coldest([judge(option, replace(told, core=core)) for core in cores])]
    out = evidence.out_s
    if option.kind != "cure" or not out:
        return tuple(judged)
    piece = min(out, key=out.__getitem__)
    left_s = out[piece]
    short = replace(
        told,
        smoke=_until(told.smoke, left_s),
        drying=_until(told.drying, left_s),
        from_cure_h=None if evidence.hung_s is None else (left_s - evidence.hung_s) / HOUR_S,
    )
    of_piece = [row_of(condition) for condition in judge(option, short)]
    label = f", {piece}, out {evidence.when(left_s)}"
    return (
        *judged,
        *(structs.replace(row, what=row.what + label) for row in of_piece if row not in judged),
    )


def _until(log: Log, left_s: float) -> Log:
    return [point for point in log if point[0] <= left_s]


def _recorded(option: Option, evidence: Evidence, meat: Meat | None, *, chosen: bool) -> Recorded:
    sheet, began_s = evidence.sheet, evidence.hung_s  # The cure went in before that, so this asks the most.
    aw = [row.value for row in evidence.newest_aw() if row.value is not None]
    return Recorded(
        species=frozenset() if meat is None else frozenset({meat.species}),
        treated="" if meat is None else meat.treated,
        diameter_mm=evidence.record.card.batch.diameter_mm,
        salt_pct=None if sheet is None else _salt_pct(sheet.formula, option),
        ph=evidence.end_ph(),
        ph_error=evidence.ph_error,
        aw=max(aw, default=None),
        smoke=evidence.smoker(),
        ferment=evidence.air("ferment"),
        drying=evidence.air(*sorted(DRYING)),
        from_cure_h=None if began_s is None else (evidence.kept_until_s - began_s) / HOUR_S,
        chosen=chosen,
        error_k=PROBE_ERROR_K,
    )


def _salt_pct(formula: Formula, option: Option) -> float:
    """Return the salt in % of what the option reckons it on: the unstuffed sausage where it does not say otherwise."""
    salt_of = next((method.salt_of for method in METHODS if method.id == option.id), "sausage")
    if salt_of == "meat":
        return formula.salt_pct
    salt_kg = formula.salt_pct / 100.0 * formula.meat_kg
    if salt_of == "sausage":
        return 100.0 * salt_kg / formula.mix_kg
    wet = [line for line in formula.ingredients if WET.search(line.name.lower()) and not DRY.search(line.name.lower())]
    return salt_pct_6(salt_kg, formula.meat_kg + sum(line.grams for line in wet) / 1000.0)
