"""How a meat is read from what was typed: its animal is never guessed, and fat that nobody said is told as assumed."""

import re
from itertools import pairwise
from typing import Final

from controller.errors import DataError, UsageError
from controller.food.bowl.formulation import Meat
from controller.food.drying import USUAL_FAT_PCT
from controller.planning.volumes import refuse_volume
from controller.settings.units import parse_mass_g

MOST_MEAT_KG: Final = 200.0
UNNAMED: Final = "meat"
"""The name of a meat of which only the weight was typed."""
ANIMALS: Final = (
    "pork, beef, veal, lamb, goat, horse, venison or other game, wild boar, bear, poultry (chicken, turkey, duck, "
    "goose), rabbit"
)
"""What is said where an animal is asked for."""
_WORDS: Final = {
    "wild boar": ("wild boar", "wild boars", "boar", "boars", "wild pig", "wild pigs", "wild hog", "wild hogs",
                  "feral pig", "feral hog", "feral swine"),
    "pork": ("pork", "pig", "pigs", "hog", "hogs", "swine", "sow", "sows"),
    "beef": ("beef", "cow", "ox", "steer", "heifer", "bull", "veal", "calf", "bison", "buffalo"),
    "game": ("game", "venison", "deer", "roe", "stag", "elk", "moose", "reindeer", "caribou", "antelope", "chamois",
             "rabbit", "rabbits", "hare", "hares"),
    "bear": ("bear",),
    "poultry": ("poultry", "chicken", "chickens", "hen", "turkey", "turkeys", "duck", "ducks", "goose", "geese",
                "guineafowl", "pheasant", "quail", "pigeon", "ostrich"),
    "lamb": ("lamb", "mutton", "sheep", "goat", "kid"),
    "horse": ("horse", "foal"),
}  # fmt: skip
SPECIES: Final = {word: animal for animal, words in _WORDS.items() for word in words}
"""The animal by the word that a maker uses for it. Where rules know no animal of that name it goes with the stricter
ones near it: bison with beef, goat with lamb, rabbit and hare with game. Common practice, no source."""
BEEF_CUTS: Final = frozenset({"chuck", "brisket", "round", "shin"})
"""Cuts that are beef where nobody says another animal. Shoulder, belly, fat and the like are on every animal."""
USUAL_FAT_OF: Final = {
    "pork": USUAL_FAT_PCT, "beef": 20.0, "lamb": 20.0, "wild boar": 15.0, "bear": 15.0, "poultry": 10.0,
    "game": 5.0, "horse": 5.0,
}  # fmt: skip
"""Fat in % where nobody says how fat a meat is: common practice, no source; it is told as assumed."""

_MASS: Final = re.compile(r"(?<![\w.])(\d+(?:\.\d+)?|\.\d+)\s*(kg|g|lbs|lb|oz)(?![\w%])", re.IGNORECASE)
_SHARE: Final = re.compile(r"(?<![\w.])(\d+(?:\.\d+)?|\.\d+)\s*%")
_NUMBER: Final = re.compile(r"(?<![\w.])\d+(?:\.\d+)?(?![\w.])")


def meat(text: str) -> Meat:
    """Return one meat from `pork shoulder 4kg 25%`: animal, cut, green weight, fat, in any order.

    Behind a comma stands what was done against trichinae, as `pork shoulder 4kg 25%, frozen 20 days at -15C`. A bare
    weight is pork. Fat that is not said is what is usual of the animal, marked as assumed.

    Raises:
        UsageError: no weight, no unit, a figure of which nobody knows what it is, or no animal that is known.
        DataError: more than hangs in one chamber.
    """
    said, _, treated = text.partition(",")
    refuse_volume(said, "--meat", "4.5kg or 10lb")
    masses = _MASS.findall(said)
    shares = _SHARE.findall(said)
    rest = _SHARE.sub(" ", _MASS.sub(" ", said))
    loose = _NUMBER.search(rest)
    if loose is not None:
        number = loose[0]
        ask = f"{number}kg or {number}lb?" if not masses else f"in per cent of fat? Write {number}%."
        raise UsageError(f"--meat {text}: {number} of what? {ask}")
    if len(masses) != 1 or len(shares) > 1:
        raise UsageError(f'--meat {text}: one meat with one weight, as "pork shoulder 4kg 25%"; several: --meat again.')
    kg = parse_mass_g("".join(masses[0]), "--meat") / 1000.0
    if kg > MOST_MEAT_KG:
        raise DataError(f"--meat {text}: more than {MOST_MEAT_KG:g} kg does not hang in one chamber, e.g. 4.5kg.")
    name = " ".join(rest.split())
    species = species_of(name)
    fat_pct = float(shares[0]) if shares else USUAL_FAT_OF[species]
    if fat_pct > 100.0:  # noqa: PLR2004 - per cent
        raise DataError(f"--meat {text}: {fat_pct:g} % of fat? 0 to 100 % is right.")
    return Meat(name or UNNAMED, species, kg, fat_pct, " ".join(treated.split()), fat_assumed=not shares)


def species_of(name: str) -> str:
    """Return the animal in the name of a meat: by its word, by a cut that is beef alone; pork where nothing was said.

    Raises:
        UsageError: the words name no animal that is known, or two of them.
    """
    words = re.findall(r"[^\W\d_]+", name.lower())
    if not words:
        return "pork"
    pairs = [" ".join(pair) for pair in pairwise(words)]
    found = {SPECIES[pair] for pair in pairs if pair in SPECIES} or {SPECIES[word] for word in words if word in SPECIES}
    if not found and not BEEF_CUTS.isdisjoint(words):
        return "beef"
    if len(found) > 1:
        raise UsageError(f'--meat "{name}": one animal at a time: {" or ".join(sorted(found))}? Say --meat for each.')
    if not found:
        raise UsageError(f'--meat "{name}": which animal? Say it too, one of: {ANIMALS}.')
    return found.pop()


def shown_name(meat: Meat) -> str:
    """Return the name of a meat with its animal: as typed where it says so, else with the animal behind it."""
    if meat.name == UNNAMED and meat.species == "pork":
        return "pork (nothing else was said)"
    return with_animal(meat)


def with_animal(meat: Meat) -> str:
    """Return the name of a meat, its animal behind it where the name does not say it."""
    return meat.name if meat.species in meat.name.lower() else f"{meat.name} ({meat.species})"
