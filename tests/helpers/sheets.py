"""The plan of an invented batch, as `hangroom plan` would freeze it into the card."""

import datetime as dt
from typing import Any, Final

from msgspec.structs import replace

from controller.core.sheet import Criterion, Sheet, StarterChoice
from controller.food.bowl.cure import Authority, Strength
from controller.food.bowl.formulation import Meat, formulate
from controller.food.bowl.weighing import Wanted

ALL: Final[tuple[Criterion, ...]] = (
    "ph", "degree-hours", "weight-loss", "water-activity", "lethality", "chill", "trichinae", "cure",
)  # fmt: skip
PORK: Final = Meat("shoulder", "pork", 4.0, 25.0)
BEEF: Final = Meat("chuck", "beef", 2.0, 15.0)


def sheet_of(
    *meats: Meat,
    authority: Authority = "us",
    criteria: tuple[Criterion, ...] = ALL,
    **changes: Any,  # noqa: ANN401 - any field of the sheet
) -> Sheet:
    """Return the sheet of a raw, dried sausage with cure no. 2."""
    formula = formulate(
        meats or (PORK,),
        Wanted(salt_pct=2.8, dextrose_pct=0.4, cure="2", strength=Strength(6.25, 4.0), cure_pct=0.25),
        style="raw-dried",
        on=dt.date(2026, 1, 5),
        authority=authority,
    )
    starter = StarterChoice(name="culture B", dose_g_per_kg=0.25, temp_c=(18.0, 32.0))
    return replace(Sheet(formula=formula, authority=authority, criteria=criteria, starter=starter), **changes)
