"""Curing agents: how much nitrite and nitrate goes in, on whose basis, and what the authorities allow.

Nitrite is poisonous in gram amounts and keeps botulism away in milligrams: too much and too little are both wrong.
The basis differs: the US reckons on the green weight of the meat block, Canada on the whole raw batch before smoking,
cooking or fermenting, the EU on the product as made and as the ion. The strength of a cure stands on its pack and is
an input here, never assumed.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Strength:
    """Hold what a curing salt is made of, in % of its mass, as printed on its pack; the rest is salt."""

    nitrite_pct: float
    nitrate_pct: float = 0.0
    potassium: bool = False


@dataclass(frozen=True, slots=True)
class Checked:
    """Hold one limit beside the figure it is for.

    Attributes:
        rule: which authority and agent, in words.
        basis: what the figure is reckoned on, and as what it is expressed.
        kind: `max`, or `min` for a floor.
        limit_ppm: mg/kg.
        value_ppm: mg/kg.
        verdict: `within`, `over` or `under`.
        source: where it is published.
        confirm: whether it rests on memory, so that a person has to compare it with the text.
    """

    rule: str
    basis: str
    kind: str
    limit_ppm: float
    value_ppm: float
    verdict: str
    source: str
    confirm: bool
