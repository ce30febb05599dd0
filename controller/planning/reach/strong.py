"""Whether a lamp is too strong for the thermometer that leads it.

While the air warms at a steady pace the thermometer shows what was one response time ago: slope times response is how
far the air is ahead of it. What the air is ahead when the lamp goes out cannot be taken back.
"""

from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from controller.core.plan import Chamber
from controller.settings.chamber_plan import RESPONSE_S, lamp_response
from controller.settings.chamber_tables import ChamberFile, ModelTable

AHEAD_K: Final = 3.0
"""More than this is too much: of the order of what two thermometers may differ, common practice, no source."""
BARE_S: Final = 45.0
"""Of a bare probe in moved air: the lower end of the estimate for a DS18B20."""


class Strength(Struct, frozen=True, kw_only=True):
    """Hold how far the air runs ahead of the thermometer; `lamp_w` or `response_s` at most would be small enough."""

    slope_k_per_min: float
    response_s: float
    ahead_k: float
    lamp_w: float
    lamp_w_at_most: float
    response_s_at_most: float

    @property
    def too_strong(self) -> bool:
        """Say whether it is too much."""
        return self.ahead_k > AHEAD_K


def strength_of(file: ChamberFile, plan: Chamber) -> Strength | None:
    """Return how strong the lamp is for its thermometer; None without a lamp whose power is known."""
    lamp_w = plan.figures.heater_w
    if lamp_w <= 0.0:
        return None
    response_s = plan.response_s.get("air_temp", RESPONSE_S["ds18b20"])
    slope_k_per_s, _ = lamp_response(as_learned(file.model, plan), lamp_w, response_s)
    ahead_k = slope_k_per_s * response_s
    return Strength(
        slope_k_per_min=slope_k_per_s * 60.0,
        response_s=response_s,
        ahead_k=ahead_k,
        lamp_w=lamp_w,
        lamp_w_at_most=lamp_w * min(AHEAD_K / ahead_k, 1.0),
        response_s_at_most=min(AHEAD_K / slope_k_per_s, response_s),
    )


def as_learned(model: ModelTable, plan: Chamber) -> ModelTable:
    """Return the chamber file's model with what the daemon goes by in its place."""
    figures = plan.figures
    return replace(
        model,
        ua_w_per_k=figures.ua_w_per_k,
        air_wall_w_per_k=figures.air_wall_w_per_k,
        wall_j_per_k=figures.wall_j_per_k,
        meat_w_per_m2_k=figures.meat_w_per_m2_k,
        lamp_radiant=figures.lamp_radiant,
        lamp_j_per_k=figures.lamp_s * model.lamp_w_per_k,
    )
