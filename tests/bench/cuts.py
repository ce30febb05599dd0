"""Bound cuts of simulated chambers at large: `python -m tests.bench.cuts [SCENES] [FIRST]`, on all cores.

Each scene is one shipped chamber with a batch in it, whose true figures are drawn from within the factors that
`controller.core.outage.bound` states; every fourth is a chamber of other equations. Its power fails for 10 s to two
days, and each bound is compared with the truth. A bound below the truth is an error, and ends the run with 1.

The second table is of a flicker: 10 s without power, 30 s for the boot, three readings, in chambers that are as their
files say, in a cellar of 12 °C. What is shown is the longest that the program was away by the bound.
"""

import os
import sys
import time
from collections import defaultdict
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from statistics import median, quantiles
from typing import Final

from controller.errors import SettingsError
from controller.simulator.chamber_model import ChamberModel
from tests.helpers.cuts import READS_S, Cut, Scene, cuts_of
from tests.helpers.second_plant import SecondPlant

FIRST_SEED: Final = 10_000
"""Other scenes than those that were looked at while the bound was written (below 1000)."""
WIDTH: Final = 60
CELLAR_C: Final = (10.0, 14.0)
MINUTE_S: Final = 60.0
NAMES: Final = {10.0: "10 s", 60.0: "1 min", 300.0: "5 min", 900.0: "15 min", 1800.0: "30 min", 3600.0: "1 h",
                7200.0: "2 h", 14_400.0: "4 h", 28_800.0: "8 h", 57_600.0: "16 h", 115_200.0: "32 h",
                172_800.0: "48 h"}  # fmt: skip


def play(seed: int) -> list[Cut]:
    """Return all cuts of one scene."""
    plant = SecondPlant if seed % 4 == 0 else ChamberModel
    return list(cuts_of(Scene.drawn(seed), plant=plant))


def kind_of(scene: Scene) -> str:
    """Return what is told of together."""
    if scene.profile == "dry-only":
        return "cold, drying"
    warmth = "34 to 36 °C" if scene.profile != "mild" else "24 °C"
    return f"ferment {warmth}, {'led for hours' if scene.hours >= 8.0 else 'meat just hung'}"


def show(cuts: list[Cut]) -> None:
    """Print the table of one kind."""
    by_length: dict[float, list[Cut]] = defaultdict(list)
    for cut in cuts:
        by_length[cut.lasts_s].append(cut)
    print(f"  {'cut':>7} {'cuts':>5} {'bounded':>8} {'least':>7} {'median':>7} {'9 of 10':>8}   bound / truth")
    for lasts_s, all_of in sorted(by_length.items()):
        ratios = sorted(cut.bound_s / cut.true_s for cut in all_of if cut.bound_s is not None)
        if not ratios:
            print(f"  {NAMES[lasts_s]:>7} {len(all_of):>5} {'none':>8}")
            continue
        ninth = quantiles(ratios, n=10)[-1] if len(ratios) > 1 else ratios[-1]
        share = f"{100.0 * len(ratios) / len(all_of):.0f} %"
        print(
            f"  {NAMES[lasts_s]:>7} {len(all_of):>5} {share:>8} {ratios[0]:>7.2f} {median(ratios):>7.1f} {ninth:>8.0f}"
        )


def flicker_scenes() -> list[Scene]:
    """Return the scenes of the second table: each at three moments of the lamp's rhythm."""
    return [
        Scene(
            chamber=chamber, profile=profile, hours=hours, seconds=seconds, room_c=12.0, swing_k=0.0, core_probe=False,
            room_thermometer=False, seed=1, room_temp_c=CELLAR_C, as_filed=True,
        )
        for chamber in ("insulated-box", "plywood-cabinet", "old-fridge")
        for profile in ("tangy", "cooked-semi-dry", "mild", "slow-cool")
        for hours in (8.0, 20.0)
        for seconds in (17.0, 111.0, 203.0)
    ]  # fmt: skip


def flicker(scene: Scene) -> tuple[Scene, float | None] | None:
    """Return the bound of one flicker in seconds of being away; None where the lamp is too weak for the profile."""
    try:
        (cut,) = cuts_of(scene, (10.0,))
    except SettingsError:
        return None
    return scene, None if cut.bound_s is None else cut.bound_s - READS_S


def show_flickers(found: Iterable[tuple[Scene, float | None] | None]) -> None:
    """Print what becomes of a flicker in a cellar."""
    print("\nA flicker of 10 s in a cellar of 12 °C: the longest that the program can have been away, in minutes")
    bounds: dict[tuple[str, str, float], list[float | None]] = defaultdict(list)
    for one in found:
        if one is not None:
            bounds[one[0].chamber, one[0].profile, one[0].hours].append(one[1])
    for (chamber, profile, hours), all_of in bounds.items():
        told = [bound for bound in all_of if bound is not None]
        words = f"{min(told) / MINUTE_S:5.1f} to {max(told) / MINUTE_S:5.1f}" if told else "unknown"
        print(f"  {chamber:<16} {profile:<16} {hours:4.0f} h after hanging: {words}")


def main(scenes: int, first: int) -> int:
    """Play the scenes, print the tables, and return 1 where a bound was below the truth."""
    began_s = time.monotonic()
    cuts: list[Cut] = []
    with ProcessPoolExecutor(max_workers=os.cpu_count()) as pool:
        for number, found in enumerate(pool.map(play, range(first, first + scenes)), start=1):
            cuts += found
            if sys.stderr.isatty():
                done = WIDTH * number // scenes
                print(f"\r[{'#' * done}{' ' * (WIDTH - done)}] {number}/{scenes}", end="", file=sys.stderr)
        flickered = list(pool.map(flicker, flicker_scenes()))
    below = [cut for cut in cuts if cut.bound_s is not None and cut.bound_s < cut.true_s]
    kinds: dict[str, list[Cut]] = defaultdict(list)
    for cut in cuts:
        kinds[kind_of(cut.scene)].append(cut)
    took_s = time.monotonic() - began_s
    print(f"\n{len(cuts)} cuts in {scenes} scenes, {took_s:.0f} s; bounds below the truth: {len(below)}")
    for cut in below[:10]:
        print(f"  {cut}")
    for kind in sorted(kinds):
        print(f"\n{kind}")
        show(kinds[kind])
    show_flickers(flickered)
    return 1 if below else 0


if __name__ == "__main__":
    arguments = [int(word) for word in sys.argv[1:]]
    sys.exit(main(arguments[0] if arguments else 200, arguments[1] if len(arguments) > 1 else FIRST_SEED))
