"""The sheet of a batch: what `hangroom plan` worked out before the meat was bought, frozen into the batch."""

from typing import Final, Literal

from msgspec import Struct

from controller.food.bowl.formulation import Formula

Authority = Literal["us", "canada", "eu", "uk"]
Criterion = Literal["ph", "degree-hours", "weight-loss", "water-activity", "lethality", "chill", "trichinae", "cure"]
"""What a maker wants to see met before a batch is released."""

USUAL_CRITERIA: Final[dict[str, tuple[Criterion, ...]]] = {
    "raw-dried": ("ph", "degree-hours", "weight-loss", "water-activity", "trichinae", "cure"),
    "cooked": ("ph", "degree-hours", "lethality", "chill", "weight-loss", "water-activity", "trichinae", "cure"),
}
"""By style, where the maker chose none. Common practice, no source."""


class StarterChoice(Struct, frozen=True, kw_only=True):
    """Hold the starter as the maker typed it, with what its label says."""

    name: str
    dose_g_per_kg: float
    temp_c: tuple[float, float]
    grams_left: float | None = None
    opened_on: str = ""  # The date as YYYY-MM-DD.


class Planned(Struct, frozen=True, kw_only=True):
    """Hold one step of the day: when it is due, what is to be done."""

    wall_s: float
    what: str


class Sheet(Struct, frozen=True, kw_only=True):
    """Hold the whole plan of a batch. Nothing in it decides; it is the record of what was meant.

    Attributes:
        formula: what goes into the bowl, with the ingoing figures against the limits.
        authority: whose limits the maker works under.
        casing: as typed, with `diameter_mm`.
        starter: None where none goes in.
        criteria: what is to be met before release.
        trichinae: id of the option chosen for pork or game (food.trichinae), empty where none is needed.
        kill_step: id of the process chosen (food.lethality), empty where none.
        mould: whether white mould is wanted.
        smokes: where it is smoked, in the maker's words; empty: not at all.
        dries: where it dries.
        awake: from and to which hour of the day the maker measures, as (7.0, 23.0).
        steps: the order of the day and of the batch.
        latest_5_3_wall_s: when the degree-hours end at the planned temperature, if pH 5.3 has not come.
        warnings: what was said at the plan and accepted.
        accepted: what the maker had to type out in words, as that no cure goes in.
    """

    formula: Formula
    authority: Authority = "us"
    casing: str = ""
    diameter_mm: float = 55.0
    starter: StarterChoice | None = None
    criteria: tuple[Criterion, ...] = ()
    trichinae: str = ""
    kill_step: str = ""
    mould: bool = False
    smokes: str = ""
    dries: str = ""
    awake: tuple[float, float] = (7.0, 23.0)
    steps: tuple[Planned, ...] = ()
    latest_5_3_wall_s: float | None = None
    warnings: tuple[str, ...] = ()
    accepted: tuple[str, ...] = ()
