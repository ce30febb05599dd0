"""What the authorities publish on nitrite, nitrate and what speeds the cure up: each figure once, with its source.

The figures of 9 CFR 424.21(c) are ounces per 100 lb in the text, and 1 oz per 100 lb is exactly 625 ppm.
"""

import datetime as dt
from dataclasses import dataclass
from typing import Final, Literal

Agent = Literal["nitrite", "nitrate", "nitrite and nitrate", "accelerator acid", "accelerator salt", "glucono lactone"]
"""What is counted. `accelerator acid`: ascorbic or erythorbic acid; `accelerator salt`: their sodium salts."""
Basis = Literal["meat block", "whole batch", "product as made", "finished product"]
"""What the figure is reckoned on; nothing here measures a finished product."""
Form = Literal["NaNO2", "NaNO3", "NO2 ion", "NO3 ion", "salt as added", "as added"]
"""As what the figure is expressed."""
Kind = Literal["max", "min", "useful minimum", "required"]
HowKnown = Literal["read", "read second-hand", "memory"]
Style = Literal["raw-dried", "cooked"]
"""A sausage, comminuted: never cooked, or cooked."""

RAW: Final[tuple[Style, ...]] = ("raw-dried",)
COOKED: Final[tuple[Style, ...]] = ("cooked",)
BOTH: Final[tuple[Style, ...]] = ("raw-dried", "cooked")
EU_BEFORE: Final = dt.date(2025, 10, 8)
EU_AFTER: Final = dt.date(2025, 10, 9)


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """Hold one published limit.

    Attributes:
        authority: whose.
        agent: what is counted; `substance` in the words of the text.
        product: the class of products in the words of the text.
        styles: of which sausages it speaks; empty: of none that is made here.
        ppm: mg/kg.
        kind: `max`, `min`, `useful minimum` (has some effect from there on), or `required`.
        residual: whether it speaks of what is left in the product, which only a laboratory tells.
        form: as what it is expressed.
        basis: what it is reckoned on.
        first: first day it holds; None: long since.
        last: last day it holds; None: still.
        confirm: it, or whether it holds, rests on memory: a person has to compare it with the text.
    """

    authority: str
    agent: Agent
    substance: str
    product: str
    styles: tuple[Style, ...]
    ppm: float
    kind: Kind = "max"
    residual: bool = False
    form: Form
    basis: Basis
    first: dt.date | None = None
    last: dt.date | None = None
    note: str = ""
    source: str
    how_known: HowKnown
    confirm: bool = False

    def holds_on(self, on: dt.date) -> bool:
        """Say whether it is in force on this day."""
        return (self.first is None or self.first <= on) and (self.last is None or on <= self.last)


_CFR: Final = "9 CFR 424.21(c), curing agents"
_HANDBOOK: Final = "FSIS Directive 7620.3, Processing Inspectors' Calculations Handbook (1995), chapter 3"
_BACON: Final = f"9 CFR 424.22(b); {_HANDBOOK}"
_US_NITRITE: Final = "sodium or potassium nitrite"
_US_NITRATE: Final = "sodium or potassium nitrate"


def _us(
    agent: Agent,
    substance: str,
    product: str,
    ppm: float,
    *,
    form: Form = "NaNO2",
    source: str = _CFR,
    styles: tuple[Style, ...] = (),
    kind: Kind = "max",
    residual: bool = False,
    how_known: HowKnown = "read second-hand",
    confirm: bool = False,
    note: str = "",
) -> Limit:
    """Return one limit of the US."""
    return Limit(
        authority="US",
        agent=agent,
        substance=substance,
        product=product,
        styles=styles,
        ppm=ppm,
        kind=kind,
        residual=residual,
        form=form,
        basis="finished product" if residual else "meat block",
        note=note,
        source=source,
        how_known=how_known,
        confirm=confirm or how_known == "memory",
    )


# The ounces of the regulation are from memory, the rounded ppm were read second-hand: hence `confirm`.
US: Final = (
    _us(
        "nitrite",
        _US_NITRITE,
        "comminuted",
        156.25,
        source=f"{_CFR} (1/4 oz per 100 lb); 156 ppm in {_HANDBOOK}",
        styles=BOTH,
        confirm=True,
        note="the Handbook rounds it to 156",
    ),
    _us(
        "nitrite",
        _US_NITRITE,
        "dry cured, not comminuted",
        625.0,
        source=f"{_CFR} (1 oz per 100 lb); 625 ppm in {_HANDBOOK}",
        confirm=True,
    ),
    _us(
        "nitrite",
        _US_NITRITE,
        "immersion, massaged or pumped (not bacon)",
        200.0,
        source=f"{_CFR} (2 lb per 100 gal pickle at 10 % pump); 200 ppm in {_HANDBOOK}",
        confirm=True,
    ),
    _us("nitrite", "sodium nitrite", "bacon, pumped or massaged", 120.0, source=_BACON),
    _us("nitrite", "sodium nitrite", "bacon, dry cured", 200.0, source=_BACON),
    _us(
        "nitrite and nitrate",
        "nitrite, nitrate or both",
        "any cured product",
        200.0,
        residual=True,
        styles=BOTH,
        how_known="memory",
    ),
    _us(
        "nitrite",
        "nitrite",
        "cured product labelled keep refrigerated",
        120.0,
        kind="min",
        styles=BOTH,
        source=f"{_HANDBOOK}, p. 12",
        note="policy minimum; not for products made shelf stable by their process",
    ),
    _us(
        "nitrite",
        "nitrite",
        "any cured product",
        40.0,
        kind="useful minimum",
        styles=BOTH,
        source=f"{_HANDBOOK}, p. 12",
    ),
    _us(
        "nitrate",
        _US_NITRATE,
        "comminuted",
        1718.75,
        form="NaNO3",
        source=f"{_CFR} (2 3/4 oz per 100 lb)",
        styles=BOTH,
        how_known="memory",
    ),
    _us(
        "nitrate",
        _US_NITRATE,
        "dry cured, not comminuted",
        2187.5,
        form="NaNO3",
        source=f"{_CFR} (3 1/2 oz per 100 lb)",
        how_known="memory",
    ),
    _us(
        "nitrate",
        _US_NITRATE,
        "immersion, massaged or pumped",
        700.0,
        form="NaNO3",
        source=f"{_CFR} (7 lb per 100 gal pickle at 10 % pump)",
        how_known="memory",
        note="not allowed in bacon",
    ),
    _us(
        "accelerator acid",
        "ascorbic or erythorbic acid",
        "cured products",
        468.75,
        form="as added",
        source=f"{_CFR}, cure accelerators (3/4 oz per 100 lb); 469 ppm also read second-hand",
        styles=BOTH,
        confirm=True,
    ),
    _us(
        "accelerator salt",
        "sodium ascorbate or erythorbate",
        "cured products",
        546.875,
        form="as added",
        source=f"{_CFR}, cure accelerators (7/8 oz per 100 lb)",
        styles=BOTH,
        how_known="memory",
    ),
    _us(
        "accelerator salt",
        "sodium ascorbate or erythorbate",
        "bacon, pumped",
        550.0,
        form="as added",
        kind="required",
        source="9 CFR 424.22(b)(1)",
    ),
    _us(
        "glucono lactone",
        "glucono delta-lactone",
        "cured comminuted",
        5000.0,
        form="as added",
        source=f"{_CFR} (8 oz per 100 lb)",
        how_known="memory",
        note="not offered here",
    ),
    _us(
        "glucono lactone",
        "glucono delta-lactone",
        "Genoa salami",
        10000.0,
        form="as added",
        source=f"{_CFR} (16 oz per 100 lb)",
        how_known="memory",
        note="not offered here",
    ),
)

_HOME: Final = "21 CFR 172.170(a)(2)"


def _household(agent: Agent, ppm: float, form: Form) -> Limit:
    """Return one limit on mixtures that are sold for curing at home."""
    return Limit(
        authority="US household mixtures",
        agent=agent,
        substance=f"sodium {agent}",
        product="meat-curing preparations for home curing",
        styles=BOTH,
        ppm=ppm,
        residual=True,
        form=form,
        basis="finished product",
        source=_HOME,
        how_known="read",
    )


US_HOUSEHOLD: Final = (_household("nitrate", 500.0, "NaNO3"), _household("nitrite", 200.0, "NaNO2"))

_CANADA: Final = (
    "Meat Inspection Regulations, 1990, definition of curing, as repeated in CFIA, Meat Hygiene Manual of Procedures, "
    "chapter 4 (archived)"
)


def _canada(product: str, ppm: float, kind: Kind, styles: tuple[Style, ...]) -> Limit:
    """Return one limit of Canada."""
    return Limit(
        authority="Canada",
        agent="nitrite and nitrate",
        substance="nitrite and nitrate, any combination",
        product=product,
        styles=styles,
        ppm=ppm,
        kind=kind,
        form="salt as added",
        basis="whole batch",
        source=_CANADA,
        how_known="read second-hand",
    )


CANADA: Final = (
    _canada("cured meat products", 100.0, "min", BOTH),
    _canada("cured meat products", 200.0, "max", BOTH),
    _canada("side bacon", 120.0, "max", ()),
    Limit(
        authority="Canada",
        agent="nitrate",
        substance="nitrate on top of nitrite",
        product="slow-cured meat products",
        styles=RAW,
        ppm=200.0,
        form="salt as added",
        basis="whole batch",
        note="whether it may come on top of the 200 ppm of both is to be asked",
        source="Canada, from memory without a text",
        how_known="memory",
        confirm=True,
    ),
)

_EFSA: Final = "EFSA Journal 15(6):4786 (2017), Table 5"
_2108: Final = "Commission Regulation (EU) 2023/2108 amending Annex II to Regulation (EC) No 1333/2008"
_RAW_CLASS: Final = "08.3.1 non-heat-treated meat products"
_COOKED_CLASS: Final = "08.3.2 heat-treated, not sterilised"
_STERILE_CLASS: Final = "08.3.2 sterilised (Fo > 3)"
_HAM_CLASS: Final = "08.3.4 traditional dry-cured hams and similar"


def _eu(
    agent: Agent,
    product: str,
    ppm: float,
    form: Form,
    styles: tuple[Style, ...],
    *,
    until: bool = False,
    residual: bool = False,
    source: str = _2108,
    how_known: HowKnown = "read second-hand",
    note: str = "",
) -> Limit:
    """Return one limit of the EU, `until` 8 October 2025 or from the day after."""
    return Limit(
        authority="EU",
        agent=agent,
        substance="nitrites E 249-250" if agent == "nitrite" else "nitrates E 251-252",
        product=product,
        styles=styles,
        ppm=ppm,
        residual=residual,
        form=form,
        basis="finished product" if residual else "product as made",
        first=None if until else EU_AFTER,
        last=EU_BEFORE if until else None,
        note=note,
        source=source,
        how_known=how_known,
        confirm=how_known == "memory",
    )


_CHECK: Final = "check the figure in the Official Journal before use"
EU: Final = (
    _eu("nitrite", _RAW_CLASS, 150.0, "NaNO2", RAW, until=True, source=_EFSA, how_known="read"),
    _eu("nitrite", _COOKED_CLASS, 150.0, "NaNO2", COOKED, until=True, source=_EFSA, how_known="read"),
    _eu("nitrite", _STERILE_CLASS, 100.0, "NaNO2", (), until=True, source=_EFSA, how_known="read"),
    _eu(
        "nitrate",
        _RAW_CLASS,
        150.0,
        "NaNO3",
        RAW,
        until=True,
        source="Commission food additives database, E 251-252",
        how_known="read",
    ),
    _eu("nitrite", _RAW_CLASS, 80.0, "NO2 ion", RAW, note="80 as ion is 119.98 as NaNO2"),
    _eu("nitrite", _RAW_CLASS, 45.0, "NO2 ion", RAW, residual=True, how_known="memory", note=_CHECK),
    _eu("nitrite", _COOKED_CLASS, 80.0, "NO2 ion", COOKED),
    _eu("nitrite", _STERILE_CLASS, 55.0, "NO2 ion", ()),
    _eu("nitrite", _HAM_CLASS, 65.0, "NO2 ion", (), residual=True),
    _eu("nitrate", _RAW_CLASS, 90.0, "NO3 ion", RAW, how_known="memory", note=_CHECK),
)

_SI: Final = "SI 2007/1778, Schedule 1"
UK: Final = (
    Limit(
        authority="United Kingdom",
        agent="nitrite",
        substance="nitrites E 249-250",
        product="meat products",
        styles=BOTH,
        ppm=150.0,
        form="NaNO2",
        basis="product as made",
        note="Great Britain did not take over Regulation (EU) 2023/2108 (from memory); Northern Ireland follows EU law",
        source=f"{_SI}; later retained Regulation (EC) No 1333/2008",
        how_known="read",
        confirm=True,  # The figure was read; that it still stands is from memory.
    ),
    Limit(
        authority="United Kingdom",
        agent="nitrate",
        substance="nitrates E 251-252",
        product="non-heat-treated meat products",
        styles=RAW,
        ppm=150.0,
        form="NaNO3",
        basis="product as made",
        source=_SI,
        how_known="read",
        confirm=True,
    ),
)

_DANISH: Final = "Danish national provisions kept under Article 114 TFEU (Commission decisions, latest known 2021)"
_SCHEDULE_15: Final = "Food Standards Code, Schedule 15"


def _other(
    authority: str,
    agent: Agent,
    substance: str,
    product: str,
    ppm: float,
    form: Form,
    source: str,
    styles: tuple[Style, ...] = BOTH,
) -> Limit:
    """Return a limit given as information, from memory; all but the Danish ones are residual."""
    residual = authority != "Denmark"
    return Limit(
        authority=authority,
        agent=agent,
        substance=substance,
        product=product,
        styles=styles,
        ppm=ppm,
        residual=residual,
        form=form,
        basis="finished product" if residual else "product as made",
        source=source,
        how_known="memory",
        confirm=True,
    )


_ANZ: Final = "Australia and New Zealand"
_ANZ_BOTH: Final = "fermented uncooked processed comminuted meat"
_CODEX_CLASS: Final = "08.3.1 non-heat treated processed comminuted, cured"
_GSFA: Final = "CODEX STAN 192-1995 (GSFA)"
_E_NITRITE: Final = "nitrites E 249-250"
OTHERS: Final = (
    _other("Denmark", "nitrite", _E_NITRITE, "most meat products, national rule", 60.0, "NaNO2", _DANISH, COOKED),
    _other("Denmark", "nitrite", _E_NITRITE, "fermented salami, national rule", 100.0, "NaNO2", _DANISH, RAW),
    _other(_ANZ, "nitrite", "nitrites", "cured, dried, fermented meat", 125.0, "NO2 ion", _SCHEDULE_15),
    _other(_ANZ, "nitrite and nitrate", "nitrates + nitrites", _ANZ_BOTH, 500.0, "NO3 ion", _SCHEDULE_15, RAW),
    _other("Codex", "nitrite", "nitrites INS 249-250", _CODEX_CLASS, 80.0, "NO2 ion", _GSFA, RAW),
)

LIMITS: Final = US + US_HOUSEHOLD + CANADA + EU + UK + OTHERS
"""Every published limit; what speaks of no sausage of ours (bacon, hams, pumped or sterilised meat) has no `styles`."""
