"""Write the learned file, each key with what it means, and find the results of step tests again."""

from datetime import date
from pathlib import Path
from typing import Final

import msgspec
import tomli_w

from controller.errors import NoInputError
from controller.records.batch_folder import named
from controller.records.durable import replace_whole
from controller.records.steps import HEAD, tests_of
from controller.settings.learned_file import FIGURES, FILE, Figure, Learned

PICTURE: Final = "learned.svg"

MEANINGS: Final[dict[str, str]] = {
    "dead_s": "Seconds until the air thermometer begins to answer to the full lamp: where its steepest tangent begins.",
    "slope_k_per_min": "How fast it rises then, in kelvin a minute.",
    "probe_s": "Seconds until the air thermometer shows two thirds of a change of the air.",
    "fast_lag_s": "All that stands between lamp and thermometer: lamp, air and probe, added up.",
    "slow_lag_s": "How slowly the empty chamber follows its room.",
    "after_heat_k": "Kelvin that the thermometer still rises after the lamp is off,",
    "after_heat_s": "and for how many seconds.",
    "ua_w_per_k": "Watts that hold the empty chamber one kelvin above its room.",
    "air_wall_w_per_k": "From the air to the inner wall, as far as the lamp's share of radiation is known.",
    "wall_j_per_k": "What the walls hold.",
    "lamp_s": "The lamp's own time constant.",
    "noise_k": "Scatter of the air thermometer at rest (standard deviation).",
    "offset_k": "The second thermometer of the air less the first, at rest.",
    "mist_pct_per_s": "How many %RH one second of mist adds at 20 °C.",
    "mist_delay_s": "Seconds until the humidity sensor shows two thirds of it.",
    "mist_falls_s": "How slowly the humidity goes back.",
    "cool_dead_s": "As dead_s, of the cooling.",
    "cool_slope_k_per_min": "How fast the air falls then.",
    "after_cool_k": "Kelvin that the air still falls after the cooling is off.",
}
"""What each figure of the learned file means."""

HEADLINE: Final = """\
# What a step test has shown of this chamber. Each figure has its standard error; `in_file` is what the chamber file
# itself has, or leads one to expect. What could not be found says why. The program uses it once it lies in the state
# folder (hangroom learn --take), and only for the chamber it was made with.
"""


def encode_learned(learned: Learned) -> str:
    """Return the learned file as TOML with a comment to each figure."""
    table = named(msgspec.to_builtins(learned, builtin_types=(date,)))
    parts = [HEADLINE, tomli_w.dumps({"version": table["version"], "made": table["made"]})]
    for name in FIGURES:
        figure: Figure = getattr(learned, name)
        value = {key: item for key, item in named(msgspec.to_builtins(figure)).items() if item != ""}
        parts.append(f"\n# {MEANINGS[name]}\n" + tomli_w.dumps({name: value}))
    parts.append(
        "\n# Duty per kelvin, seconds, and Ms: how much the loop makes worse at its worst frequency. heat_* are\n"
    )
    parts.append("# used; the others are what the published rules say for the same answer.\n")
    parts.append(tomli_w.dumps({"gains": table["gains"]}))
    return "".join(parts)


def write_learned(learned: Learned, path: Path) -> None:
    """Put the learned file into a folder, whole or not at all. Raises StorageError."""
    replace_whole(path, encode_learned(learned).encode(), force=True, keep_previous=path.name == FILE)


def newest_test(state_dir: Path) -> Path:
    """Return the folder of the newest step test. Raises NoInputError where there is none."""
    folders = [folder for folder in tests_of(state_dir).glob("*/") if (folder / HEAD).is_file()]
    if not folders:
        raise NoInputError(f"{tests_of(state_dir)}: no step test has been made here; begin one with: hangroom learn")
    return max(folders, key=lambda folder: (folder / HEAD).stat().st_mtime)
