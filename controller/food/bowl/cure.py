"""Curing agents: how much nitrite and nitrate goes in, on whose basis, and what the authorities allow.

Nitrite is poisonous in gram amounts and keeps botulism away in milligrams: too much and too little are both wrong.
The basis differs: the US reckons on the green weight of the meat block, Canada on the whole raw batch before smoking,
cooking or fermenting, the EU on the product as made and as the ion. The strength of a cure stands on its pack and is
an input here, never assumed.

The published limits stand in `controller.food.bowl.cure_limits`.
"""

import datetime as dt
from dataclasses import dataclass
from typing import Final, Literal

from controller.food.bowl.cure_limits import LIMITS, Limit, Style

NITRITE_G_PER_MOL: Final = 46.005
NITRATE_G_PER_MOL: Final = 62.005
SODIUM_NITRITE_G_PER_MOL: Final = 68.995
SODIUM_NITRATE_G_PER_MOL: Final = 84.995
POTASSIUM_NITRITE_G_PER_MOL: Final = 85.103
POTASSIUM_NITRATE_G_PER_MOL: Final = 101.103
"""Molar masses; NO2, NaNO2, NO3 and KNO3 as printed beside the factors, the others by the same atoms."""

PPM_PER_OZ_PER_100_LB: Final = 625.0
"""1 oz in 1600 oz, exactly."""

CAUTION: Final = (
    "Nitrite is poisonous in gram amounts: weigh the cure on a scale of 0.1 g or better, compare its strength with the "
    "pack, keep it locked away from children."
)
"""21 CFR 172.170 asks for "Keep out of the reach of children" on the label (read)."""
CONFIRM: Final = "confirm with your authority"

Authority = Literal["us", "canada", "eu", "uk"]
AUTHORITY_NAMES: Final[dict[Authority, str]] = {"us": "US", "canada": "Canada", "eu": "EU", "uk": "United Kingdom"}
Verdict = Literal["within", "over", "under", "not measured here"]

_BASIS_WORDS: Final = {
    "meat block": "green weight of the meat",
    "whole batch": "whole raw batch, before any smoking, cooking or fermentation",
    "product as made": "product as made (the whole mix)",
    "finished product": "finished product",
}


@dataclass(frozen=True, slots=True)
class Strength:
    """Hold what a curing salt is made of, in % of its mass, as printed on its pack; the rest is salt.

    Attributes:
        nitrite_pct: nitrite salt (NaNO2 or KNO2).
        nitrate_pct: nitrate salt (NaNO3 or KNO3).
        potassium: the nitrate is the potassium salt, as in saltpetre.
        potassium_nitrite: the nitrite is the potassium salt, which is rare.
    """

    nitrite_pct: float
    nitrate_pct: float = 0.0
    potassium: bool = False
    potassium_nitrite: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """Hold one limit beside the figure it is for.

    Attributes:
        authority: whose limit.
        agent: what is counted, as `nitrite`.
        rule: which authority and agent, in words.
        basis: what the figure is reckoned on, and as what it is expressed.
        kind: `max`; `min` for a floor; `useful minimum`.
        limit_ppm: mg/kg.
        value_ppm: mg/kg; None where only a laboratory could tell.
        verdict: `within`, `over`, `under`, or `not measured here`.
        source: where it is published.
        confirm: whether it rests on memory, so that a person has to compare it with the text.
        note: what the figure does not say.
    """

    authority: str
    agent: str
    rule: str
    basis: str
    kind: str
    limit_ppm: float
    value_ppm: float | None = None
    verdict: Verdict
    source: str
    confirm: bool
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ingoing:
    """Hold what goes into one batch, in g.

    Attributes:
        meat_g: green weight of meat and fat.
        mix_g: all that goes into the bowl.
        nitrite_g: nitrite salt as added.
        nitrate_g: nitrate salt as added.
        potassium: the nitrate is KNO3; else NaNO3.
        potassium_nitrite: the nitrite is KNO2; else NaNO2.
        accelerator_salt_g: sodium ascorbate or erythorbate.
        accelerator_acid_g: ascorbic or erythorbic acid.
    """

    meat_g: float
    mix_g: float
    nitrite_g: float = 0.0
    nitrate_g: float = 0.0
    potassium: bool = False
    potassium_nitrite: bool = False
    accelerator_salt_g: float = 0.0
    accelerator_acid_g: float = 0.0


def ingoing_ppm(agent_g: float, basis_g: float) -> float:
    """Return mg/kg of an agent: agent x 1e6 / basis, both in g (or both in lb).

    FSIS Directive 7620.3, Processing Inspectors' Calculations Handbook (1995), chapter 3 (formula from memory).

    Raises:
        ValueError: the basis is not above 0, or the agent is below 0.
    """
    if not (basis_g > 0.0 and agent_g >= 0.0):
        message = f"{agent_g} g in {basis_g} g: what it is reckoned on must be above 0, and the agent not below"
        raise ValueError(message)
    return agent_g * 1e6 / basis_g


def pumped_ppm(agent_g: float, pump_fraction: float, pickle_g: float) -> float:
    """Return mg/kg of an agent pumped in with pickle: agent x pump x 1e6 / pickle. Same source."""
    return ingoing_ppm(agent_g * pump_fraction, pickle_g)


def cure_needed_g(meat_g: float, ppm: float, fraction: float) -> float:
    """Return the grams of a cure that bring so many ppm into the meat: meat x ppm / 1e6 / fraction. Same source.

    Args:
        meat_g: green weight.
        ppm: of the agent, mg/kg.
        fraction: of the agent in the cure, above 0 to 1, as 0.0625.

    Raises:
        ValueError: the fraction is not above 0 and at most 1.
    """
    if not 0.0 < fraction <= 1.0:
        message = f"a fraction of {fraction} in the cure: above 0 and at most 1 is right, 0.0625 for 6.25 %"
        raise ValueError(message)
    return meat_g * ppm / 1e6 / fraction


def oz_per_100_lb(ppm: float) -> float:
    """Return ppm (mg/kg) as ounces in 100 lb: ppm / 625."""
    return ppm / PPM_PER_OZ_PER_100_LB


def ppm_of_oz_per_100_lb(oz: float) -> float:
    """Return ounces in 100 lb as ppm (mg/kg): oz x 625."""
    return oz * PPM_PER_OZ_PER_100_LB


def nitrite_as_ion(salt: float, *, potassium: bool = False) -> float:
    """Return nitrite salt (NaNO2, or KNO2) as NO2 ion, in the unit it came in; by molar masses."""
    return salt * NITRITE_G_PER_MOL / (POTASSIUM_NITRITE_G_PER_MOL if potassium else SODIUM_NITRITE_G_PER_MOL)


def nitrite_from_ion(ion: float, *, potassium: bool = False) -> float:
    """Return NO2 ion as nitrite salt (NaNO2, or KNO2), in the unit it came in; by molar masses."""
    return ion * (POTASSIUM_NITRITE_G_PER_MOL if potassium else SODIUM_NITRITE_G_PER_MOL) / NITRITE_G_PER_MOL


def nitrate_as_ion(salt: float, *, potassium: bool = False) -> float:
    """Return nitrate salt (NaNO3, or KNO3) as NO3 ion, in the unit it came in; by molar masses."""
    return salt * NITRATE_G_PER_MOL / (POTASSIUM_NITRATE_G_PER_MOL if potassium else SODIUM_NITRATE_G_PER_MOL)


def nitrate_from_ion(ion: float, *, potassium: bool = False) -> float:
    """Return NO3 ion as nitrate salt (NaNO3, or KNO3), in the unit it came in; by molar masses."""
    return ion * (POTASSIUM_NITRATE_G_PER_MOL if potassium else SODIUM_NITRATE_G_PER_MOL) / NITRATE_G_PER_MOL


def check(ingoing: Ingoing, *, style: Style, on: dt.date, authority: Authority) -> tuple[Checked, ...]:
    """Judge a batch by every limit that speaks of such a sausage on this day.

    The maker's own authority comes first, the others beside it as information. A figure exactly at the limit is
    within. Limits on accelerators are given where one goes in.

    Args:
        ingoing: what goes in.
        style: `raw-dried` or `cooked`; both are comminuted.
        on: the day of stuffing; the EU changed its limits with 9 October 2025.
        authority: whose limits the maker works under.
    """
    own = AUTHORITY_NAMES[authority]
    applying = [limit for limit in LIMITS if style in limit.styles and limit.holds_on(on) and _goes_in(limit, ingoing)]
    return tuple(_judge(limit, ingoing) for limit in sorted(applying, key=lambda limit: limit.authority != own))


def _goes_in(limit: Limit, ingoing: Ingoing) -> bool:
    """Say whether this limit has anything to speak of: curing agents always do, accelerators where one is used."""
    if limit.agent == "accelerator salt":
        return ingoing.accelerator_salt_g > 0.0
    if limit.agent == "accelerator acid":
        return ingoing.accelerator_acid_g > 0.0
    return True


def _judge(limit: Limit, ingoing: Ingoing) -> Checked:
    """Put the figure beside one limit."""
    value = None if limit.residual else _value_ppm(limit, ingoing)
    form = "" if limit.form == "as added" else f", as {limit.form}"
    return Checked(
        authority=limit.authority,
        agent=limit.agent,
        rule=f"{limit.authority}: {limit.substance}, {limit.product}",
        basis=f"{_BASIS_WORDS[limit.basis]}{form}{', what is left in it' if limit.residual else ''}",
        kind=limit.kind,
        limit_ppm=limit.ppm,
        value_ppm=value,
        verdict="not measured here" if value is None else _verdict(limit, value),
        source=f"{limit.source} ({_known(limit)})",
        confirm=limit.confirm,
        note=limit.note,
    )


def _known(limit: Limit) -> str:
    """Say how the figure is known, and that it is to be confirmed where it rests on memory."""
    known = "from memory" if limit.how_known == "memory" else limit.how_known
    return f"{known}; {CONFIRM}" if limit.confirm else known


def _verdict(limit: Limit, value_ppm: float) -> Verdict:
    """Compare; the figure was rounded to a millionth of a ppm, so that exactly at the limit is within."""
    if limit.kind == "max":
        return "over" if value_ppm > limit.ppm else "within"
    return "under" if value_ppm < limit.ppm else "within"


def _value_ppm(limit: Limit, ingoing: Ingoing) -> float:
    """Return the figure on the limit's own basis and in its own form."""
    basis_g = ingoing.meat_g if limit.basis == "meat block" else ingoing.mix_g
    # Rounded, as 156.25 worked out in binary may come to 156.25000000000003.
    return round(ingoing_ppm(_counted_g(limit, ingoing), basis_g), 6)


def _counted_g(limit: Limit, ingoing: Ingoing) -> float:
    """Return the grams that this limit counts.

    The US and Canada take a maximum by the weight of the salt as added, sodium or potassium alike (Handbook, read; not
    so for bacon); floors and everybody else go by the molar masses.
    """
    if limit.agent == "accelerator salt":
        return ingoing.accelerator_salt_g
    if limit.agent == "accelerator acid":
        return ingoing.accelerator_acid_g
    if limit.agent == "nitrite and nitrate":
        return ingoing.nitrite_g + ingoing.nitrate_g
    as_added = limit.form == "salt as added" or (limit.authority == "US" and limit.kind == "max")
    if limit.agent == "nitrite":
        ion = nitrite_as_ion(ingoing.nitrite_g, potassium=ingoing.potassium_nitrite)
        sodium = ingoing.nitrite_g if as_added or not ingoing.potassium_nitrite else nitrite_from_ion(ion)
        return ion if limit.form == "NO2 ion" else sodium
    ion = nitrate_as_ion(ingoing.nitrate_g, potassium=ingoing.potassium)
    sodium = ingoing.nitrate_g if as_added or not ingoing.potassium else nitrate_from_ion(ion)
    return ion if limit.form == "NO3 ion" else sodium
