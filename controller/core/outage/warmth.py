"""Follow how warm the chamber is and what keeps it so, for the case that the power fails in the next minute.

What a checkpoint holds of this is all that is known of a chamber before a cut: how warm the air had been, how much
heat was given, what cooled or vented, how warm the room was. It is looked at every 35 s, which is no even part of any
window of an output, so that no look always meets the same moment of the lamp's rhythm.
"""

from collections.abc import Mapping
from math import inf
from typing import Final, Protocol

from msgspec import Struct
from msgspec.structs import replace

from controller.core.values import Role

MOVES: Final[tuple[Role, ...]] = ("cooler", "dehumidifier", "fresh_air")
"""What takes heat away by itself, or carries it out with the air."""
LOOK_S: Final = 35.0
BREAK_S: Final = 120.0
"""A longer time without a good air temperature is a break: the means begin anew."""
LATELY_S: Final = 600.0
QUARTER_S: Final = 900.0
HOUR_S: Final = 3600.0
LATENT_J_PER_ML: Final = 2470.0
"""What a millilitre of mist takes out of the air when it evaporates, at 13 to 36 °C (steam tables, from memory)."""
SLOWEST_MEAT_S: Final = 6.0 * 3600.0
"""How slowly thick meat may follow the air; common practice, no source (55 mm: 1.9 to 2.5 h, 80 mm: 3.0 to 3.8 h)."""
COLD_MEAT_C: Final = 0.0
HOT_MEAT_C: Final = 80.0
"""Between these is meat that has just been hung: it may come from a freezer, or from a smoker."""


class Temps(Protocol):
    """Stand for what is known in one tick."""

    @property
    def air_temp_c(self) -> float | None:
        """Return the good air temperature."""
        ...

    @property
    def core_temp_c(self) -> float | None:
        """Return the good core temperature."""
        ...

    @property
    def ambient_temp_c(self) -> float | None:
        """Return the good temperature of the room."""
        ...


class Warmth(Struct, frozen=True, gc=False):
    """Hold how warm the chamber has been lately. Powers are what the switched outputs give by the chamber file.

    Attributes:
        at_s: when it was looked at last, on the monotonic clock.
        since_s: since when without a break.
        air_c: the leading thermometer as a mean over ten minutes,
        hour_c: and over an hour,
        now_c: and now,
        high_c: and at its highest
        low_c: and lowest lately.
        core_c: the core probe, where there is one and meat hangs.
        room_c: the room's thermometer, where there is one.
        heat_w: the lamp's power as a mean over a quarter of an hour,
        hour_w: and over an hour.
        mist_w: the heat that mist took, over an hour.
        moved: the share of the last hour in which something cooled, dried or vented.
        meat_high_c: the meat is not warmer than this,
        meat_low_c: and not colder.
        meat: which meat that is.
        totals_s: how long heater, humidifier and the others had been on in all at the last look.
    """

    at_s: float = -inf
    since_s: float = inf
    air_c: float | None = None
    hour_c: float = 0.0
    now_c: float = 0.0
    high_c: float = 0.0
    low_c: float = 0.0
    core_c: float | None = None
    room_c: float | None = None
    heat_w: float = 0.0
    hour_w: float = 0.0
    mist_w: float = 0.0
    moved: float = 0.0
    meat_high_c: float = HOT_MEAT_C
    meat_low_c: float = COLD_MEAT_C
    meat: str = ""
    totals_s: tuple[float, float, float] = (0.0, 0.0, 0.0)

    def followed_s(self) -> float:
        """Return for how long it has been followed without a break."""
        return max(self.at_s - self.since_s, 0.0)


class Hours(Protocol):
    """Stand for what is remembered of one output."""

    @property
    def on_total_s(self) -> float:
        """Return for how long it has been on in all."""
        ...


def follow(
    warmth: Warmth,
    known: Temps,
    outputs: Mapping[Role, Hours],
    powers: tuple[float, float],
    meat: str,
    now_s: float,
    *,
    hung_c: float = HOT_MEAT_C,
) -> Warmth:
    """Return the warmth after another look, or the same when it is not time for one.

    Args:
        warmth: as it was.
        known: what is known now.
        outputs: how long each output has been on.
        powers: the heater's watts, and the humidifier's millilitres per hour.
        meat: a name of the meat that hangs; another one means that it was just hung.
        now_s: the monotonic clock.
        hung_c: meat that has just been hung is not warmer than this.
    """
    dt_s = now_s - warmth.at_s
    air_c = known.air_temp_c
    if dt_s < LOOK_S or air_c is None:
        return warmth
    totals = (_on_s(outputs, "heater"), _on_s(outputs, "humidifier"),
              sum(_on_s(outputs, role) for role in MOVES))  # fmt: skip
    if warmth.air_c is None or not dt_s <= BREAK_S:
        return _begun(warmth, air_c, known, totals, meat, now_s, hung_c=hung_c)
    heat_w = (totals[0] - warmth.totals_s[0]) / dt_s * powers[0]
    mist_w = (totals[1] - warmth.totals_s[1]) / dt_s * powers[1] * LATENT_J_PER_ML / HOUR_S
    moved = min((totals[2] - warmth.totals_s[2]) / dt_s, 1.0)
    quarter, hour = dt_s / (QUARTER_S + dt_s), dt_s / (HOUR_S + dt_s)
    high_c, low_c = _range(warmth, air_c, meat, hung_c=hung_c)
    slow = dt_s / (SLOWEST_MEAT_S + dt_s)
    return Warmth(
        now_s,
        warmth.since_s,
        warmth.air_c + (air_c - warmth.air_c) * dt_s / (LATELY_S + dt_s),
        warmth.hour_c + (air_c - warmth.hour_c) * hour,
        air_c,
        max(air_c, warmth.high_c - (warmth.high_c - air_c) * hour),
        min(air_c, warmth.low_c + (air_c - warmth.low_c) * hour),
        known.core_temp_c if meat else None,
        known.ambient_temp_c,
        warmth.heat_w + (heat_w - warmth.heat_w) * quarter,
        warmth.hour_w + (heat_w - warmth.hour_w) * hour,
        warmth.mist_w + (mist_w - warmth.mist_w) * hour,
        warmth.moved + (moved - warmth.moved) * hour,
        max(air_c, high_c - (high_c - air_c) * slow),
        min(air_c, low_c + (air_c - low_c) * slow),
        meat,
        totals,
    )


def _on_s(outputs: Mapping[Role, Hours], role: Role) -> float:
    output = outputs.get(role)
    return 0.0 if output is None else output.on_total_s


def _range(warmth: Warmth, air_c: float, meat: str, *, hung_c: float) -> tuple[float, float]:
    """Return between which temperatures the meat lies: what has just been hung may be cold, or come from a smoker.

    Where other meat hung before, some of that may hang there still.
    """
    if meat == warmth.meat:
        return warmth.meat_high_c, warmth.meat_low_c
    high_c = max(air_c, hung_c, warmth.meat_high_c) if meat and warmth.meat else max(air_c, hung_c)
    return high_c, min(air_c, COLD_MEAT_C)


def _begun(
    warmth: Warmth, air_c: float, known: Temps, totals: tuple[float, float, float], meat: str, now_s: float, *,
    hung_c: float,
) -> Warmth:  # fmt: skip
    """Return the first look after a start or a break; what is known of the meat is kept."""
    high_c, low_c = _range(warmth, air_c, meat, hung_c=hung_c)
    return Warmth(
        at_s=now_s, since_s=now_s, air_c=air_c, hour_c=air_c, now_c=air_c, high_c=air_c, low_c=air_c,
        core_c=known.core_temp_c if meat else None, room_c=known.ambient_temp_c,
        meat_high_c=max(air_c, high_c), meat_low_c=min(air_c, low_c), meat=meat, totals_s=totals,
    )  # fmt: skip


def carried_over(warmth: Warmth, room_c: tuple[float, float]) -> Warmth:
    """Return what outlives a restart: between which temperatures the meat lies, as warm or cold as its room by now."""
    return replace(
        Warmth(),
        meat_high_c=max(warmth.meat_high_c, *room_c),
        meat_low_c=min(warmth.meat_low_c, *room_c),
        meat=warmth.meat,
    )
