"""What the interview asks: every answer is a field here, however it was given."""

import datetime as dt
from typing import Literal

from msgspec import Struct

from controller.core.sheet import Authority, Criterion, StarterChoice
from controller.food.bowl.cure import Strength
from controller.food.bowl.formulation import Meat
from controller.settings.units import Units

Accelerator = Literal["", "erythorbate", "ascorbate", "ascorbic acid", "erythorbic acid"]


class Spice(Struct, frozen=True):
    """Hold one free line of the bowl, in grams for each kg of meat."""

    name: str
    g_per_kg: float


class Answers(Struct, frozen=True, kw_only=True):
    """Hold all that the maker said. None where the profile's own figure is to be taken.

    Attributes:
        meats: the block, each with species, kg, fat and what was done against trichinae.
        diameter_mm: of the casing; `casing` is its kind as typed.
        starter: None where none goes in.
        cure: which kind; `strength` as printed on its pack; None only without a cure.
        salt_nitrite_pct: nitrite in what is used as salt; 0 for plain salt.
        dextrose_pct: of the meat; or `aim_ph`, from which it is worked out.
        scale_g: resolution of the scale for cure and starter; `big_scale_g` of the one for salt and sugar.
        cold_c: where the stuffed or unstuffed meat would wait.
        stuffing_wall_s: when stuffing is done; None: the program counts back from when the maker is awake.
        awake: from and to which hour of the local day the maker can measure.
        accepted: words that were typed out in full, as that no cure goes in.
    """

    meats: tuple[Meat, ...]
    casing: str = "collagen"
    diameter_mm: float = 55.0
    starter: StarterChoice | None = None
    starter_expires: str = ""  # The date on the packet as YYYY-MM-DD.
    cure: Literal["1", "2", "other", "none"] = "1"
    strength: Strength | None = None
    cure_pct: float | None = None
    salt_pct: float | None = None
    salt_nitrite_pct: float = 0.0
    dextrose_pct: float | None = None
    aim_ph: float | None = None
    accelerator: Accelerator = ""
    accelerator_pct: float = 0.0
    spices: tuple[Spice, ...] = ()
    starter_water_g: float | None = None
    scale_g: float = 0.1
    big_scale_g: float = 1.0
    room_c: float = 20.0
    meat_c: float = 2.0
    smokes: str = ""
    dries: str = "chamber"
    mould: bool = False
    trichinae: str = ""
    kill_step: str = ""
    authority: Authority = "us"
    on: dt.date
    timezone: str = "UTC"
    units: Units = "C"  # In what temperatures are shown.
    now_wall_s: float
    stuffing_wall_s: float | None = None
    waits_cold_h: float = 0.0
    awake: tuple[float, float] = (7.0, 23.0)
    criteria: tuple[Criterion, ...] = ()  # Empty: what the profile's stages are there for.
    accepted: tuple[str, ...] = ()
    kept: str = ""  # The name of the file that takes the plan; empty where it is not kept.


class Finding(Struct, frozen=True):
    """Hold what is to be said of a plan.

    Attributes:
        weight: `refused`: there is no plan so; `word`: only after the maker typed `asks` out in full; `warning`.
        text: where, which value, what would be right; one to three lines.
        asks: the words to be typed.
        source: where the figure behind it is published.
    """

    weight: Literal["refused", "word", "warning"]
    text: str
    asks: str = ""
    source: str = ""
