"""Shelf stability and identity: what authorities ask of pH, water activity and moisture to protein.

Each row is one published criterion with its source; those that stand from memory say so. A moisture to protein ratio
names a product, and is "not necessarily indicative of microbial safety or stability, as is the case with aw" (FSIS
training text, read second-hand). Everything here is for a person to decide by, and nothing decides by itself.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

from controller.food.bowl.cure_limits import CANADA
from controller.food.germs.measured import Condition, Verdict, best, verdict_of, worst

Authority = Literal["us", "eu", "canada", "leistner"]

_FSIS: Final = (
    "FSIS training text Principles of Preservation of Shelf-Stable Dried Meat Products, read second-hand; FSIS Food "
    "Standards and Labeling Policy Book (2005)"
)
_POLICY: Final = "FSIS Food Standards and Labeling Policy Book (2005)"
_EU: Final = "Regulation (EC) 2073/2005, Annex I, ch. 1, item 1.3, footnote, read second-hand"
_LEISTNER: Final = "Leistner and Roedel, as given in the FSIS training text, read second-hand"
_CFIA: Final = "CFIA, Meat Hygiene Manual of Procedures, ch. 4, 4.16 (archived)"


@dataclass(frozen=True, slots=True)
class Criterion:
    """Hold one criterion; all that is given must hold.

    Attributes:
        id: its name here.
        authority: whose it is.
        product: for what.
        outcome: what is said of a product that meets it.
        ph_max: pH at most; with `ph_below` it must lie below that.
        ph_at: `now`, or `end of fermentation`.
        aw_max: water activity at most.
        mpr_max: moisture to protein at most.
        days_under: shelf life under so many days.
        source: where it is published.
        confirm: whether it rests on memory.
    """

    id: str
    authority: Authority
    product: str
    outcome: str
    ph_max: float | None = None
    ph_below: bool = False
    ph_at: Literal["now", "end of fermentation"] = "now"
    aw_max: float | None = None
    mpr_max: float | None = None
    days_under: float | None = None
    source: str = ""
    confirm: bool = False


_NO_LISTERIA: Final = "cannot support Listeria; 100 CFU/g, n = 5, c = 0"
CRITERIA: Final = (
    Criterion("us-dry", "us", "dry sausage", "shelf stable", mpr_max=1.9, source=_FSIS),
    Criterion("us-semi-dry", "us", "semi-dry sausage", "shelf stable", ph_max=5.0, mpr_max=3.1, source=_FSIS),
    Criterion("eu-ph", "eu", "eaten without cooking", _NO_LISTERIA, ph_max=4.4, source=_EU),
    Criterion("eu-aw", "eu", "eaten without cooking", _NO_LISTERIA, aw_max=0.92, source=_EU, confirm=True),
    Criterion("eu-both", "eu", "eaten without cooking", _NO_LISTERIA, ph_max=5.0, aw_max=0.94, source=_EU),
    Criterion("eu-days", "eu", "eaten without cooking", _NO_LISTERIA, days_under=5.0, source=_EU),
    Criterion("leistner-both", "leistner", "meat product", "shelf stable", ph_max=5.2, aw_max=0.95, source=_LEISTNER),
    Criterion(
        "leistner-ph", "leistner", "meat product", "shelf stable", ph_max=5.0, ph_below=True, source=_LEISTNER,
        confirm=True,
    ),
    Criterion("canada-ph", "canada", "fermented", "shelf stable, any aw", ph_max=4.6, source=_CFIA, confirm=True),
    Criterion("canada-aw", "canada", "fermented", "shelf stable, any pH", aw_max=0.85, source=_CFIA, confirm=True),
    Criterion(
        "canada-both", "canada", "fermented", "shelf stable", ph_max=5.3, ph_at="end of fermentation", aw_max=0.90,
        source=_CFIA, confirm=True,
    ),
)  # fmt: skip
"""Of each authority one row is enough; Canada asks for its preconditions besides."""
CANADA_PPM: Final = next(limit.ppm for limit in CANADA if limit.kind == "min")
CANADA_SALT_PCT: Final = 2.5
CANADA_FIRST_SOURCE: Final = f"{_CFIA}, read second-hand"
"""Canada's preconditions: nitrite or nitrate, salt, and the degree-hours met."""

IDENTITY: Final = (
    ("Thuringer", 3.7, False), ("dry sausage", 1.9, False), ("Genoa salami", 2.3, True), ("Sicilian salami", 2.3, True),
    ("pepperoni", 1.6, True), ("hard salami", 1.9, True), ("Milano salami", 1.9, True), ("chorizo, dry", 1.9, True),
    ("summer sausage, shelf stable", 3.1, True), ("jerky", 0.75, False),
)  # fmt: skip
"""(product, moisture to protein at most, from memory). That of jerky has been deleted from the Policy Book. Genoa is
2.1 with Ohio State University's restatement of 1999. Source: FSIS Food Standards and Labeling Policy Book (2005)."""
IDENTITY_SOURCE: Final = _POLICY

GROWTH_MINIMA: Final = (
    ("Clostridium botulinum A and B", 4.7, 0.93, "FDA"), ("Staphylococcus aureus", 4.2, 0.86, "FDA"),
    ("Listeria monocytogenes", 4.4, 0.92, "FDA"), ("Clostridium perfringens", 5.5, 0.93, "FDA"),
    ("Escherichia coli", 4.6, 0.935, "FDA"), ("Salmonella", 4.5, 0.95, "FDA"),
    ("Staphylococcus aureus", 4.0, 0.83, "USDA ARS"),
)  # fmt: skip
"""(germ, least pH, least water activity, authority). FDA Bad Bug Book, Factors Affecting the Growth of Some Foodborne
Pathogens (1992); ARS Pathogen Modeling Program. Each holds with all else at its best; together they act sooner."""

LeistnerClass = Literal["shelf stable", "perishable", "very perishable"]


@dataclass(frozen=True, slots=True)
class Found:
    """Hold what was measured of a batch; None is what was not.

    Attributes:
        ph: the last one.
        ph_error: how far the meter may be off; it is added to each pH before it counts.
        ferment_ph: at the end of the fermentation.
        aw: water activity, measured.
        mpr: moisture to protein, of a laboratory.
        shelf_days: shelf life the maker states.
        ingoing_ppm: nitrite and nitrate that went in, mg per kg of the raw batch.
        salt_pct: of the raw batch.
        degree_hours: whether they were met.
    """

    ph: float | None = None
    ferment_ph: float | None = None
    aw: float | None = None
    mpr: float | None = None
    shelf_days: float | None = None
    ingoing_ppm: float | None = None
    salt_pct: float | None = None
    degree_hours: Verdict = "not measured"
    ph_error: float = 0.0


def leistner_class(ph: float, aw: float) -> LeistnerClass:
    """Return the class of a meat product after Leistner and Roedel, as given in the FSIS training text.

    Shelf stable: pH 5.2 or lower with aw 0.95 or lower, or pH below 5.0 alone, or aw below 0.91 alone (the last two
    from memory). Very perishable: pH above 5.2 and aw above 0.95. Else perishable.
    """
    if (ph <= 5.2 and aw <= 0.95) or ph < 5.0 or aw < 0.91:
        return "shelf stable"
    return "very perishable" if ph > 5.2 and aw > 0.95 else "perishable"


def judge(criterion: Criterion, found: Found) -> Condition:
    """Judge one criterion. One part that is not met is enough; one that nobody measured leaves it open."""
    wanted: list[str] = []
    words: list[str] = []
    verdicts: list[Verdict] = []

    def ask(
        name: str, limit: float | None, value: float | None, *, below: bool = False, decimals: int = 2, shown: int = 1,
        error: float = 0.0,
    ) -> None:  # fmt: skip
        if limit is None:
            return
        wanted.append(f"{name} {'below' if below else 'at most'} {limit:.{shown}f}")
        added = f" + {error:g}" if error else ""
        words.append(f"{name} not measured" if value is None else f"{name} {value:.{decimals}f}{added}")
        worst_value = None if value is None else round(value + error, 6)
        verdicts.append(
            verdict_of(None if worst_value is None else worst_value < limit if below else worst_value <= limit)
        )

    at_end = criterion.ph_at == "end of fermentation"
    ask(
        "pH after the ferment" if at_end else "pH", criterion.ph_max, found.ferment_ph if at_end else found.ph,
        below=criterion.ph_below, error=found.ph_error,
    )  # fmt: skip
    ask("aw", criterion.aw_max, found.aw, decimals=3, shown=2)
    ask("moisture to protein", criterion.mpr_max, found.mpr)
    ask("days of shelf life", criterion.days_under, found.shelf_days, below=True, decimals=0, shown=0)
    verdict = worst(verdicts)
    return Condition(
        f"{criterion.product}: {criterion.outcome}",
        " and ".join(wanted),
        ", ".join(words),
        verdict,
        criterion.source + (", from memory" if criterion.confirm else ""),
        criterion.confirm,
    )


def judge_first(found: Found) -> tuple[Condition, ...]:
    """Judge what Canada asks before any of its three sets: cure, salt, degree-hours."""
    ppm, salt = found.ingoing_ppm, found.salt_pct
    source = CANADA_FIRST_SOURCE
    return (
        Condition(
            "nitrite and nitrate ingoing", f"at least {CANADA_PPM:g} ppm", "" if ppm is None else f"{ppm:.0f} ppm",
            verdict_of(None if ppm is None else round(ppm) >= CANADA_PPM), source,
        ),
        Condition(
            "salt", f"at least {CANADA_SALT_PCT:g} %", "" if salt is None else f"{salt:.2f} %",
            verdict_of(None if salt is None else round(salt, 2) >= CANADA_SALT_PCT), source,
        ),
        Condition("degree-hours", "met", found.degree_hours, found.degree_hours, source),
    )  # fmt: skip


def judge_authority(authority: Authority, found: Found) -> tuple[Verdict, tuple[Condition, ...]]:
    """Judge all rows of one authority: (what they come to, row by row). One row is enough, with the preconditions.

    A row that asks for a short shelf life is left out where none was stated: then nobody relies on it.
    """
    asked = [criterion for criterion in CRITERIA if criterion.authority == authority]
    if found.shelf_days is None:
        asked = [criterion for criterion in asked if criterion.days_under is None]
    rows = tuple(judge(criterion, found) for criterion in asked)
    first = judge_first(found) if authority == "canada" else ()
    verdicts: Iterable[Verdict] = (best(row.verdict for row in rows), *(row.verdict for row in first))
    return worst(verdicts), (*first, *rows)
