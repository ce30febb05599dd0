"""Drying: the water activity of the mix, how fast water moves in it and out of it, and where drying ends.

The forms are published (Ross 1975, Pitzer, Oswin, Arrhenius); most figures are calibrated, each says so. Water activity
by this model is good to 0.01 to 0.02: it serves simulation and forecast. What decides about a sausage is measured.
Everything is per kg of green mass (the stuffed, undried sausage).
"""

import math
from dataclasses import dataclass
from math import exp, sqrt
from typing import Final

SALT_KG_PER_MOL: Final = 0.05844
SATURATED_MOL_PER_KG: Final = 6.144
"""Molality of a saturated solution of salt at 25 °C; more salt than that lies about as crystals."""
WATER_KG_PER_MOL: Final = 0.0180153
OTHER_OSMOL_PER_KG: Final = 0.35
"""All that is dissolved in the meat's own water besides salt and lactate; calibrated."""
OSWIN_A: Final = 0.145
OSWIN_B: Final = 0.55
"""Water held by protein, kg/kg = A [aw/(1-aw)]^B; calibrated (meat: A 0.12 to 0.17, B 0.5 to 0.6, from memory)."""
WATER_OF_LEAN: Final = 0.772
PROTEIN_OF_LEAN: Final = 0.205
"""Of what is neither fat nor added; mean of 215 chopped meats (Tecator; data set meats of modeldata, sd 0.018)."""

D13_M2_PER_S: Final = 1.2e-10
"""Diffusivity of water in the fresh mix at 13 °C. Calibrated, range 0.6e-10 to 2.5e-10 (2.5e-10 measured in pork)."""
ACTIVATION_J_PER_MOL: Final = 32_000.0
"""J Food Eng 149:188 (2015): 32.24 kJ/mol; 214:69 (2017): 31.86 kJ/mol."""
GAS_J_PER_MOL_K: Final = 8.314
D_TEMP_K: Final = 286.15
DRYNESS_POWER: Final = 0.5
"""How the diffusivity falls with the water that is left; calibrated."""

STILL_M_PER_S: Final = 0.0025
"""Mass transfer through the film of air in a chamber without a fan; calibrated, equals natural convection at a
difference of 1 to 2 K. 0.004 to 0.009 in air that moves at 0.1 to 0.5 m/s."""
CASING_M_PER_S: Final = 0.02
"""Mass transfer through the casing; common practice, no source."""

USUAL_FAT_PCT: Final = 25.0
"""Of the mix of the published drying tables; taken where nobody says how fat a meat is."""
USUAL_SALT_PCT: Final = 2.7
USUAL_DEXTROSE_PCT: Final = 0.5
"""Of the same mix, at which the cultures are calibrated too; all in % of the mix."""

GREEN_KG_PER_M3: Final = 1050.0
WATER_KG_PER_M3: Final = 1000.0


@dataclass(frozen=True, slots=True)
class Mix:
    """Hold what is in one kg of green mass, in kg; `osmol` is what is dissolved besides salt and lactate."""

    water_kg: float
    protein_kg: float
    fat_kg: float
    salt_kg: float
    osmol: float

    @property
    def solids_kg(self) -> float:
        """Return all that is not water."""
        return 1.0 - self.water_kg


def mix_of(fat_pct: float, salt_pct: float, dextrose_pct: float) -> Mix:
    """Return the composition of a mix, its ingredients in % of the green mass.

    Raises:
        ValueError: fat, salt and sugar leave no lean meat.
    """
    lean = 1.0 - (fat_pct + salt_pct + dextrose_pct) / 100.0
    if lean <= 0.0 or min(fat_pct, salt_pct, dextrose_pct) < 0.0:
        message = f"fat {fat_pct} %, salt {salt_pct} %, dextrose {dextrose_pct} %: none below 0, together below 100 %"
        raise ValueError(message)
    water_kg = WATER_OF_LEAN * lean
    return Mix(
        water_kg=water_kg,
        protein_kg=PROTEIN_OF_LEAN * lean,
        fat_kg=fat_pct / 100.0,
        salt_kg=salt_pct / 100.0,
        osmol=OTHER_OSMOL_PER_KG * water_kg,
    )


def aw_of_salt(mol_per_kg: float) -> float:
    """Return the water activity of salt water by its molality, 0 to 6.144 mol/kg, saturated above that.

    Pitzer's equation for NaCl at 25 °C (figures from memory); within 0.0006 of Robinson and Stokes.
    """
    m = min(mol_per_kg, SATURATED_MOL_PER_KG)
    root = sqrt(m)
    osmotic = 1.0 - 0.3915 * root / (1.0 + 1.2 * root) + m * (0.0765 + 0.2664 * exp(-2.0 * root)) + m * m * 0.00127
    return exp(-2.0 * WATER_KG_PER_MOL * m * osmotic)


def water_activity(mix: Mix, water_kg: float, lactate_mol: float = 0.0) -> float:
    """Return the water activity (0..1) when so much water is left per kg of green mass.

    Ross 1975: the product of what salt, other solutes and protein would each leave. Protein by Oswin's isotherm.

    Args:
        mix: the composition.
        water_kg: what is left; without water the activity is 0.
        lactate_mol: per kg of green mass; counts twice, as it goes into solution with its sodium.
    """
    if water_kg <= 0.0:
        return 0.0
    salt = aw_of_salt(mix.salt_kg / SALT_KG_PER_MOL / water_kg)
    others = exp(-0.018 * (mix.osmol + 2.0 * lactate_mol) / water_kg)
    protein = 1.0 / (1.0 + math.pow(OSWIN_A * mix.protein_kg / water_kg, 1.0 / OSWIN_B))
    return salt * others * protein


def water_activity_at_loss(mix: Mix, loss_pct: float, lactate_mol: float = 0.0) -> float:
    """Return the water activity after this weight loss in % of the green mass, the water being evenly spread."""
    return water_activity(mix, mix.water_kg - loss_pct / 100.0, lactate_mol)


def equilibrium_loss_pct(mix: Mix, rh_pct: float, lactate_mol: float = 0.0) -> float:
    """Return the weight loss in % at which drying ends in air of this relative humidity (0 to 100 %).

    A wanted loss above it is never reached at this humidity. 0 where the fresh mix is drier than the air.
    """
    wanted = rh_pct / 100.0
    if water_activity(mix, mix.water_kg, lactate_mol) <= wanted:
        return 0.0
    low, high = 0.0, mix.water_kg
    for _ in range(60):
        middle = 0.5 * (low + high)
        if water_activity(mix, middle, lactate_mol) < wanted:
            low = middle
        else:
            high = middle
    return 100.0 * (mix.water_kg - 0.5 * (low + high))


def moisture_protein_ratio(mix: Mix, loss_pct: float) -> float:
    """Return kg of water per kg of protein after this weight loss in % of the green mass, all of it water."""
    return (mix.water_kg - loss_pct / 100.0) / mix.protein_kg


def diffusivity_m2_s(temp_c: float, left: float, d13_m2_s: float = D13_M2_PER_S) -> float:
    """Return the diffusivity of water in the mix.

    D13 exp[-Ea/R (1/T - 1/286.15)] (X/X0)^0.5.

    Args:
        temp_c: of the meat, 0 to 70 °C.
        left: share of the first water per solids that is left, X/X0.
        d13_m2_s: in the fresh mix at 13 °C.
    """
    return d13_m2_s * warmth_factor(temp_c) * math.pow(max(left, 0.0), DRYNESS_POWER)


def warmth_factor(temp_c: float) -> float:
    """Return by what the diffusivity is larger than at 13 °C (Arrhenius)."""
    return exp(-ACTIVATION_J_PER_MOL / GAS_J_PER_MOL_K * (1.0 / (temp_c + 273.15) - 1.0 / D_TEMP_K))


def surface_m_per_s(film_m_per_s: float, casing_m_per_s: float = CASING_M_PER_S) -> float:
    """Return the mass transfer in m/s through the film of air and the casing one after the other."""
    return 1.0 / (1.0 / film_m_per_s + 1.0 / casing_m_per_s)


def fresh_area_m2_per_kg(diameter_mm: float) -> float:
    """Return the area of the round side of fresh sausage per kg, its ends left out."""
    return 4.0 / (diameter_mm / 1000.0 * GREEN_KG_PER_M3)
