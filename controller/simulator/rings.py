"""Water in a sausage: rings around its axis, from the core to the casing.

Theory of operation. The sausage is cut into rings that each keep their dry solids; water moves between them and the
rings shrink by what they lose (its length stays). So nothing has to be carried over from ring to ring but water, and
no water is lost by the method. A step is implicit and linear: conductances are taken from its beginning, the water
that has left through the surface is handed in by whoever reckoned it (the chamber), and one tridiagonal solve gives
the new water. The rings are finer towards the surface, where the drying is steepest.

Everything is per kg of green mass.
"""

from collections.abc import Sequence
from itertools import pairwise
from math import pi, sqrt
from typing import Final

from controller.food.drying import GREEN_KG_PER_M3, WATER_KG_PER_M3, diffusivity_m2_s

RING_COUNT: Final = 24
GRADING: Final = 1.5
"""How much finer the outer rings are; 2 would make the outermost as thin as a sheet of paper."""
LEAST_LEFT: Final = 1e-3
"""Share of the first water below which diffusivity falls no further; keeps the equations solvable in bone-dry rings."""


def graded_faces_m(radius_m: float, count: int, grading: float = GRADING) -> tuple[float, ...]:
    """Return the radii of the rings' faces from the axis (0) to the surface, finer towards the surface."""
    return (*(radius_m * (1.0 - (1.0 - i / count) ** grading) for i in range(count)), radius_m)


def spread(
    water: Sequence[float], solids: Sequence[float], conductance: Sequence[float], lost_kg_s: float, dt_s: float
) -> list[float]:
    """Return the water of each ring after a step, by the implicit method of Euler.

    Args:
        water: kg per kg of solids in each ring, from the core outwards.
        solids: kg of each ring.
        conductance: between ring i and i + 1, in kg of solids per second; one less than rings.
        lost_kg_s: what leaves through the surface.
        dt_s: length of the step.
    """
    last = len(water) - 1
    upper: list[float] = []  # The eliminated upper diagonal and right side (Thomas's algorithm).
    right: list[float] = []
    inner = before = carried = 0.0
    for i in range(last + 1):
        outer = conductance[i] if i < last else 0.0
        capacity = solids[i] / dt_s
        source = capacity * water[i] - (lost_kg_s if i == last else 0.0)
        pivot = capacity + inner + outer - inner * before
        before = outer / pivot
        carried = (source + inner * carried) / pivot
        upper.append(before)
        right.append(carried)
        inner = outer
    result = right
    for i in range(last - 1, -1, -1):
        result[i] += upper[i] * result[i + 1]
    return result


class Rings:
    """Hold the water of one sausage, ring by ring."""

    __slots__ = (
        "_conductance",
        "_first_water",
        "_length_m",
        "_solids",
        "_solids_m3_per_kg",
        "_surface_resistance",
        "d13_m2_s",
        "radius_m",
        "water",
    )

    def __init__(self, diameter_m: float, water_kg: float, d13_m2_s: float, count: int = RING_COUNT) -> None:
        """Take a fresh sausage, evenly wet.

        Args:
            diameter_m: when fresh.
            water_kg: in one kg of green mass.
            d13_m2_s: diffusivity when fresh, at 13 °C.
            count: of rings.
        """
        radius_m = 0.5 * diameter_m
        solids_kg = 1.0 - water_kg
        faces_m = graded_faces_m(radius_m, count)
        shares = [(b * b - a * a) / (radius_m * radius_m) for a, b in pairwise(faces_m)]
        self._solids = [solids_kg * share for share in shares]
        self._first_water = water_kg / solids_kg
        self.water = [self._first_water] * count
        self._solids_m3_per_kg = (1.0 / GREEN_KG_PER_M3 - water_kg / WATER_KG_PER_M3) / solids_kg
        self._length_m = 1.0 / (GREEN_KG_PER_M3 * pi * radius_m * radius_m)
        self.radius_m = radius_m
        self.d13_m2_s = d13_m2_s
        self._conductance = [0.0] * (count - 1)
        self._surface_resistance = 0.0

    @property
    def area_m2(self) -> float:
        """Return the round surface per kg of green mass."""
        return 2.0 * pi * self.radius_m * self._length_m

    @property
    def water_kg(self) -> float:
        """Return all water left in one kg of green mass."""
        return sum(solids * water for solids, water in zip(self._solids, self.water, strict=True))

    @property
    def core_water_kg(self) -> float:
        """Return the water that one kg of green mass would hold if it were everywhere as wet as the core."""
        return self.water[0] * sum(self._solids)

    def surface_water_kg(self, lost_kg_s: float) -> float:
        """Return the same for the very surface, from which so much water per second and kg leaves.

        The outermost ring is known in its middle; what leaves has to come from there to the surface.
        """
        surface = self.water[-1] - lost_kg_s * self._surface_resistance
        return max(surface, 0.0) * sum(self._solids)

    def advance(self, dt_s: float, temp_c: float, lost_kg_s: float) -> None:
        """Let water move for so long at this temperature while so much per second and kg leaves the surface."""
        self._measure(temp_c)
        self.water = spread(self.water, self._solids, self._conductance, lost_kg_s, dt_s)

    def _measure(self, temp_c: float) -> None:
        """Reckon radii and conductances from the water that is there."""
        length_m, first, dry_m3 = self._length_m, self._first_water, self._solids_m3_per_kg
        whole_m3 = inner_m = resistance = 0.0
        conductance: list[float] = []
        for solids, water in zip(self._solids, self.water, strict=True):
            volume_m3 = solids * (dry_m3 + water / WATER_KG_PER_M3)
            whole_m3 += volume_m3
            outer_m = sqrt(whole_m3 / (pi * length_m))
            d_m2_s = diffusivity_m2_s(temp_c, max(water / first, LEAST_LEFT), self.d13_m2_s)
            half = 0.5 * (outer_m - inner_m) * volume_m3 / (d_m2_s * solids)
            if inner_m:
                conductance.append(2.0 * pi * inner_m * length_m / (resistance + half))
            resistance, inner_m = half, outer_m
        self._conductance = conductance
        self.radius_m = inner_m
        self._surface_resistance = resistance / self.area_m2
