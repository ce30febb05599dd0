"""The account of what crosses the modelled chamber's boundary, so that its balances can be closed."""

from controller.food.air import LATENT_J_PER_KG


class Ledger:
    """Add up what has crossed the chamber's boundary since the beginning; inward is positive."""

    __slots__ = (
        "carried_j",
        "cooler_j",
        "dehumidifier_j",
        "fan_j",
        "lamp_j",
        "leak_j",
        "meat_j",
        "wall_j",
        "water_drained_kg",
        "water_evaporated_kg",
        "water_leak_kg",
        "water_mist_kg",
    )

    def __init__(self) -> None:
        """Begin with nothing."""
        for name in self.__slots__:
            setattr(self, name, 0.0)

    carried_j: float  # Sensible heat of water that changed its place.
    cooler_j: float  # Negative: what the compressor took out.
    dehumidifier_j: float
    fan_j: float
    lamp_j: float
    leak_j: float  # Sensible heat of exchanged air.
    meat_j: float  # Heat that came in with the meat, less what went out with it.
    water_drained_kg: float  # Counted as it leaves, positive.
    water_evaporated_kg: float  # From the meat.
    water_leak_kg: float
    water_mist_kg: float
    wall_j: float  # Through the walls.

    def heat_j(self) -> float:
        """Return all heat that came in, with the latent heat of the vapour in exchanged air."""
        return (
            self.lamp_j
            + self.fan_j
            + self.dehumidifier_j
            + self.cooler_j
            + self.wall_j
            + self.leak_j
            + LATENT_J_PER_KG * self.water_leak_kg
            + self.meat_j
            + self.carried_j
        )

    def water_kg(self) -> float:
        """Return all water that came in, with what the meat gave off."""
        return self.water_mist_kg + self.water_leak_kg + self.water_evaporated_kg - self.water_drained_kg
