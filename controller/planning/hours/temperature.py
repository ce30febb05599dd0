"""What the wanted temperature of the ferment means by the rules of degree-hours, before anything hangs."""

from math import inf, isinf

from msgspec import Struct

from controller.core.batch.margin import NO_PROTECTION, below_base
from controller.core.plan import Chamber, Stage
from controller.food.degree_hours import BINDING, CANADA, OVERSHOOT_K, US, Rule, in_unit, latest_hours_to_5_3
from controller.planning.answers import Finding
from controller.settings.units import Units, show_temp


class Allowed(Struct, frozen=True):
    """Hold how many hours from hanging pH 5.3 may take by each rule that binds; the thermometer's error is in them.

    Attributes:
        hours: by the name of the rule's country, "US" or "Canada"; infinite where the rule counts nothing.
        least_h: the shortest of them.
    """

    hours: tuple[tuple[str, float], ...]

    @property
    def least_h(self) -> float:
        """Return the shortest; infinite where no rule counts anything."""
        return min((hours for _, hours in self.hours), default=inf)

    @property
    def protects(self) -> bool:
        """Say whether any rule counts anything at this temperature."""
        return not isinf(self.least_h)


def allowed_hours(chamber: Chamber, wanted_c: float) -> Allowed:
    """Return the hours to 5.3 that the binding rules leave at this temperature.

    The error of the leading thermometer is added to the temperature, as a guard band. What lies at or below a rule's
    base (15.6 °C, 60 °F) is not counted by it at all.
    """
    hours = tuple(
        (
            _country(rule),
            latest_hours_to_5_3(rule, wanted_c + chamber.air_error_k) if not below_base(wanted_c) else inf,
        )
        for rule in BINDING[chamber.degree_hours_rule]
    )
    return Allowed(hours)


def judge_temperature(chamber: Chamber, ferment: Stage, units: Units) -> tuple[Finding, ...]:
    """Return what is to be said of the wanted temperature: no rule protects here, or a band's edge is near."""
    wanted_c = ferment.air_temp_c
    if wanted_c is None:
        return ()
    if not allowed_hours(chamber, wanted_c).protects:
        days = "no longest time is set" if ferment.at_most_h is None else f"{ferment.at_most_h / 24.0:g} days at most"
        return (
            Finding(
                "warning",
                f"The ferment is wanted at {show_temp(wanted_c, units)}: at or below 15.6 °C (60 °F) degree-hours "
                f"count nothing: {NO_PROTECTION}. What counts is the stage's own time: {days}.",
                source=CANADA.source,
            ),
        )
    return tuple(
        finding for rule in BINDING[chamber.degree_hours_rule] for finding in _near_edge(rule, wanted_c, chamber)
    )


def _near_edge(rule: Rule, wanted_c: float, chamber: Chamber) -> list[Finding]:
    margin_k = OVERSHOOT_K + chamber.air_error_k
    highest = round(in_unit(rule, wanted_c + margin_k), 1)
    wanted = round(in_unit(rule, wanted_c), 1)
    found = []
    for band, above in zip(rule.bands, rule.bands[1:], strict=False):
        inside = wanted < band.up_to or (band.inclusive and wanted == band.up_to)
        beyond = highest > band.up_to or (not band.inclusive and highest == band.up_to)
        if inside and beyond:
            edge_k = (band.up_to - wanted) / (1.8 if rule.unit == "F" else 1.0)
            found.append(
                Finding(
                    "warning",
                    f"{_country(rule)}: {wanted:g} °{rule.unit} lies {edge_k:.1f} K below the edge of a band "
                    f"({band.up_to:g} °{rule.unit}), less than overshoot and error of the thermometer together "
                    f"({margin_k:.1f} K). A moment above it lowers the limit from {band.limit:g} to {above.limit:g}.",
                    source=rule.source,
                )
            )
    return found


def _country(rule: Rule) -> str:
    return "US" if rule is US else "Canada"
