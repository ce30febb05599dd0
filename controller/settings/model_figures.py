"""What the lumped model of a chamber takes for every chamber, and no chamber file gives.

The simulator moves a chamber by these figures, and whoever reckons beforehand what a chamber can do goes by the same.
"""

from typing import Final

LEWIS_J_PER_M3_K: Final = 1.23 * 1006.0 * 0.89
"""Turns heat transfer (W/K) into mass transfer (m³/s): density, times heat capacity, times Lewis number to the 2/3
(Chilton and Colburn, from memory)."""
MEAT_J_PER_KG_K: Final = 3300.0
AIR_J_PER_M3_K: Final = 1.2 * 1006.0
FRESH_AIR_PER_H: Final = 3.0
"""Air changes while the fresh-air fan or flap is on. Common practice, no source."""
FAN_HEAT: Final = 1.6
FAN_MASS: Final = 3.0
FAN_PLATE: Final = 1.8
"""What a running fan multiplies: heat to the meat, water from the meat, heat to the plate. Common practice."""
RADIANT_ON_MEAT: Final = 0.3
"""Share of the lamp's radiation that falls on the meat; the rest falls on the walls, all of it without meat."""
PLATE_HOLDS_KG: Final = 0.06
"""Water that stays on the plate; more than that drains away."""
COOLING_PER_K: Final = 0.032
"""The compressor's power falls with the plate's temperature and ends near -31 °C (calibrated)."""
PULL_DOWN_S: Final = 60.0
"""The time constant with which a compressor that starts comes to its power (calibrated)."""
COIL_KG_M3: Final = 0.0056
"""Vapour density over a dehumidifier's coil at 2 °C."""
DEHUMIDIFIER_M3_S_PER_W: Final = 8.5e-6
"""Air that one watt of a small dehumidifier dries, as if cooled to the coil: 60 W take 0.36 l a day out of air of
20 °C and 80 %. Common practice, no source."""
