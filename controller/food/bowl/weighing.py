"""Weighing: what a recipe asks for, and what the scales make of it."""

from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_UP, Decimal
from math import inf
from typing import Final, Literal

from controller.food import acid
from controller.food.bowl.cure import Ingoing, Strength

STARTER_G_PER_KG: Final = 0.25
"""Where the label says nothing; common practice, no source. The label has the last word."""
WATER_G_PER_KG: Final = 12.0
"""Water for the starter, for each kg of meat: some 60 g for 5 kg; common practice, no source."""

ERYTHORBATES: Final = ("erythorbate", "ascorbate")
ACCELERATORS: Final = (*ERYTHORBATES, "ascorbic acid", "erythorbic acid")
"""The salts of sodium, and the acids."""
_ROUNDING: Final = {"nearest": ROUND_HALF_UP, "down": ROUND_FLOOR, "up": ROUND_CEILING}
CURE_NAMES: Final = {"1": "cure no. 1", "2": "cure no. 2", "other": "cure"}


@dataclass(frozen=True, slots=True)
class Ingredient:
    """Hold one line of the bowl: grams to the scale's resolution, and per cent of `of`."""

    name: str
    grams: float
    pct: float
    of: str = "meat"
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """Hold what a recipe asks for, before any scale; per cent of the meat where nothing else is said.

    Attributes:
        salt_pct: all salt, that of the cure and of a nitrite salt included.
        cure: "1", "2", "other" or "none".
        strength: as on the pack of the cure; without a cure of no meaning.
        cure_pct: cure as it is weighed.
        salt_nitrite_pct: nitrite (NaNO2) in what is used as salt, in % of its mass; 0 for plain salt.
        dextrose_pct: sugar added.
        starter_g_per_kg: grams of starter for each kg of meat; 0: none.
        starter_water_g: to rehydrate it; None: 12 g for each kg of meat.
        accelerator: one of ACCELERATORS, or empty.
        accelerator_pct: of it.
        spices: each (name, grams for each kg of meat).
        ph_at_start: of the meat.
    """

    salt_pct: float
    cure: str
    strength: Strength
    cure_pct: float
    salt_nitrite_pct: float = 0.0
    dextrose_pct: float = 0.0
    starter_g_per_kg: float = STARTER_G_PER_KG
    starter_water_g: float | None = None
    accelerator: str = ""
    accelerator_pct: float = 0.0
    spices: tuple[tuple[str, float], ...] = ()
    ph_at_start: float = acid.MIX_PH


def to_scale(grams: float, resolution_g: float, way: Literal["nearest", "down", "up"] = "nearest") -> float:
    """Return grams rounded to what a scale shows; `nearest` takes half a step up.

    In decimal figures: 0.15 on a scale of 0.1 is 0.2, which binary figures would make 0.1. What has a legal maximum
    goes down, as a dose that sits on its limit would be over it by the rounding; a starter goes up, as too little of
    it is the worse slip.
    """
    step = Decimal(str(resolution_g))
    steps = (Decimal(repr(round(grams, 9))) / step).to_integral_value(rounding=_ROUNDING[way])
    return float(steps * step)


def _refuse_the_impossible(wanted: Wanted, scale_g: float, big_scale_g: float) -> None:
    """Refuse what no bowl can hold, each figure with its name."""
    figures = {
        "salt %": (wanted.salt_pct, 0.0, 100.0),
        "cure %": (wanted.cure_pct, 0.0, 100.0),
        "nitrite % of the cure": (wanted.strength.nitrite_pct, 0.0, 100.0),
        "nitrate % of the cure": (wanted.strength.nitrate_pct, 0.0, 100.0),
        "nitrite and nitrate % of the cure": (wanted.strength.nitrite_pct + wanted.strength.nitrate_pct, 0.0, 100.0),
        "nitrite % of the salt": (wanted.salt_nitrite_pct, 0.0, 99.0),
        "dextrose %": (wanted.dextrose_pct, 0.0, 100.0),
        "starter g/kg": (wanted.starter_g_per_kg, 0.0, 1000.0),
        "water for the starter g": (wanted.starter_water_g or 0.0, 0.0, inf),
        "accelerator %": (wanted.accelerator_pct, 0.0, 100.0),
        **{f"{name} g/kg": (g_per_kg, 0.0, 1000.0) for name, g_per_kg in wanted.spices},
        "scale g": (scale_g, 0.0001, 1000.0),
        "big scale g": (big_scale_g, 0.0001, 1000.0),
    }
    wrong = [
        f"{name}: {value}; {low:g} to {high:g} is right"
        for name, (value, low, high) in figures.items()
        if not low <= value <= high
    ]
    if wanted.accelerator and wanted.accelerator not in ACCELERATORS:
        wrong.append(f"accelerator: {wanted.accelerator}; one of {', '.join(ACCELERATORS)} is right")
    if wanted.cure not in {"none", *CURE_NAMES}:
        wrong.append(f'cure: {wanted.cure}; "1", "2", "other" or "none" is right')
    if wrong:
        raise ValueError("; ".join(wrong))


class Bowl:
    """Weigh one batch: every amount as wanted and as the scale shows it."""

    def __init__(self, meat_g: float, wanted: Wanted, scale_g: float, big_scale_g: float) -> None:
        """Weigh so much meat's worth; figures that no bowl can hold are a ValueError that names each."""
        _refuse_the_impossible(wanted, scale_g, big_scale_g)
        self._meat_g = meat_g
        self._wanted = wanted
        self._fine_g = scale_g
        self._big_g = big_scale_g
        strength = wanted.strength
        self._cure_wanted_g = meat_g * wanted.cure_pct / 100.0 if wanted.cure != "none" else 0.0
        self._cure_g = to_scale(self._cure_wanted_g, scale_g, "down")
        plain = 1.0 - (strength.nitrite_pct + strength.nitrate_pct) / 100.0
        self._salt_in_cure_g = self._cure_g * plain
        still_wanted = max(0.0, meat_g * wanted.salt_pct / 100.0 - self._salt_in_cure_g)
        self._salt_wanted_g = still_wanted / (1.0 - wanted.salt_nitrite_pct / 100.0)
        self._salt_g = to_scale(
            self._salt_wanted_g, big_scale_g, "down" if wanted.salt_nitrite_pct > 0.0 else "nearest"
        )
        self._accelerator_wanted_g = meat_g * wanted.accelerator_pct / 100.0 if wanted.accelerator else 0.0
        self._accelerator_g = to_scale(self._accelerator_wanted_g, scale_g, "down")
        self._starter_wanted_g = meat_g / 1000.0 * wanted.starter_g_per_kg
        self._starter_g = to_scale(self._starter_wanted_g, scale_g, "up")
        water_g = meat_g / 1000.0 * WATER_G_PER_KG if wanted.starter_water_g is None else wanted.starter_water_g
        self._water_g = to_scale(water_g, big_scale_g) if wanted.starter_g_per_kg > 0.0 else 0.0
        self._spices = tuple(
            (name, meat_g / 1000.0 * g_per_kg, self._spice_g(meat_g / 1000.0 * g_per_kg))
            for name, g_per_kg in wanted.spices
        )

    def _spice_g(self, grams: float) -> float:
        """Weigh a spice on the big scale, or on the fine one where the big one is too coarse (under ten steps)."""
        return to_scale(grams, self._big_g if grams >= 10.0 * self._big_g else min(self._fine_g, self._big_g))

    @property
    def cure_g(self) -> float:
        """Return the cure as weighed."""
        return self._cure_g

    @property
    def all_salt_g(self) -> float:
        """Return the plain salt that really goes in."""
        return self._salt_in_cure_g + self._salt_g * (1.0 - self._wanted.salt_nitrite_pct / 100.0)

    @property
    def without_dextrose_g(self) -> float:
        """Return all of the mix but the dextrose."""
        spices = sum(grams for _, _, grams in self._spices)
        return (
            self._meat_g + self._cure_g + self._salt_g + self._accelerator_g + self._starter_g + self._water_g + spices
        )

    def _nitrite_g(self, cure_g: float, salt_g: float) -> float:
        """Return the nitrite in cure and salt together."""
        return (cure_g * self._wanted.strength.nitrite_pct + salt_g * self._wanted.salt_nitrite_pct) / 100.0

    @property
    def rounding_pct(self) -> float:
        """Return by how many per cent the scale shifts the nitrite, up or down."""
        meant = self._nitrite_g(self._cure_wanted_g, self._salt_wanted_g)
        return 0.0 if meant <= 0.0 else 100.0 * abs(self._nitrite_g(self._cure_g, self._salt_g) / meant - 1.0)

    def unweighable(self, dextrose_g: float) -> tuple[str, ...]:
        """Name what is wanted, but rounds to nothing."""
        weighed = (
            ("cure", self._cure_wanted_g, self._cure_g),
            ("salt", self._salt_wanted_g, self._salt_g),
            ("dextrose", dextrose_g, to_scale(dextrose_g, self._big_g)),
            ("starter", self._starter_wanted_g, self._starter_g),
            (self._wanted.accelerator, self._accelerator_wanted_g, self._accelerator_g),
            *self._spices,
        )
        return tuple(name for name, meant, shown in weighed if meant > 0.0 and shown == 0.0)

    def ingoing(self, mix_g: float) -> Ingoing:
        """Return what the limits look at."""
        wanted = self._wanted
        is_salt = wanted.accelerator in ERYTHORBATES
        return Ingoing(
            meat_g=self._meat_g,
            mix_g=mix_g,
            nitrite_g=self._nitrite_g(self._cure_g, self._salt_g),
            nitrate_g=self._cure_g * wanted.strength.nitrate_pct / 100.0,
            potassium=wanted.strength.potassium,
            potassium_nitrite=wanted.strength.potassium_nitrite,
            accelerator_salt_g=self._accelerator_g if is_salt else 0.0,
            accelerator_acid_g=0.0 if is_salt else self._accelerator_g,
        )

    def lines(self, dextrose_g: float) -> tuple[Ingredient, ...]:
        """Return the lines in the order of the bowl: cure and salt first, starter last."""
        wanted = self._wanted
        lines = [
            (self._cure_name(), self._cure_g, "with the salt, spread evenly; weigh it, never guess it"),
            (self._salt_name(), self._salt_g, self._beside()),
            *((name, grams, "") for name, _, grams in self._spices),
            ("dextrose", to_scale(dextrose_g, self._big_g), ""),
            (wanted.accelerator, self._accelerator_g, "after the cure has been mixed in, never in one water with it"),
            ("water", self._water_g, "clean, without chlorine, at room temperature, for the starter"),
            ("starter", self._starter_g, "in the water some 30 min before, last into the bowl"),
        ]
        return tuple(
            Ingredient(name, grams, 100.0 * grams / self._meat_g, "meat", note)
            for name, grams, note in lines
            if grams > 0.0
        )

    def _beside(self) -> str:
        """Say how much salt the cure has brought already."""
        return f"beside the {self._salt_in_cure_g:.1f} g of salt in the cure" if self._salt_in_cure_g else ""

    def _cure_name(self) -> str:
        """Name the cure with its strength, as on its pack."""
        strength = self._wanted.strength
        nitrate = f" + {strength.nitrate_pct:g} % nitrate" if strength.nitrate_pct else ""
        return f"{CURE_NAMES.get(self._wanted.cure, 'cure')} ({strength.nitrite_pct:g} % nitrite{nitrate})"

    def _salt_name(self) -> str:
        """Name the salt; one that holds nitrite says so."""
        held = self._wanted.salt_nitrite_pct
        return f"nitrite salt to add ({held:g} % nitrite)" if held else "salt to add"
