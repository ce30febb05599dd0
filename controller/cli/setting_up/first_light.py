"""Lead a person through the proof of each safety layer, and keep what was seen."""

import os
import time
from pathlib import Path
from typing import Final

from controller.cli.asking import Desk, command, find_desk, report
from controller.cli.pages.proved_lines import proofs_of, tell_standing
from controller.cli.pages.wiring import name_pin
from controller.cli.setting_up.outputs import heard
from controller.cli.setting_up.talk import Back, Quit, hear, say, say_choices
from controller.core.requests import Heard, Sound
from controller.errors import HangroomError, UsageError
from controller.planning.setting_up.first_light import Layer, layers_of
from controller.records.proofs import FILE, Outcome, Proof, keep_proof, standing_of
from controller.settings.chamber_tables import ChamberFile
from controller.settings.units import parse_temp_c

ON_IT: Final = (
    ("indicator", "only an indicator lamp: click"),
    ("nothing", "nothing: click"),
    ("else", "something else: leave it out for now"),
)
SEEN: Final = (
    ("yes", "yes, just that"),
    ("no", "no, or not quite"),
    ("not done", "not done"),
)


def hold_first_light(chamber: Path | None, who: str) -> int:
    """Go through the layers that a person chooses; return the exit code.

    Raises:
        NoInputError, SettingsError: there is no right chamber file.
        AccessError: this user may not keep the record.
        StorageError: the disk failed.
    """
    desk = find_desk(chamber, who or os.environ.get("SUDO_USER", ""))
    if desk.simulated:
        raise UsageError("setup --first-light: a simulation has no relays; name the chamber file of the real one.")
    layers = layers_of(desk.chamber)
    say(f"First light of {desk.chamber.title or desk.chamber.name}, seen by {desk.actor}.")
    say(
        "Each safety layer is tried once, with an indicator lamp in the place of the heat lamp. I tell what to do "
        "and what must happen; you say what you saw. Each answer is kept at once. At each question: back, quit."
    )
    try:
        chosen = _choose(desk, layers)
        place = 0
        while place < len(chosen):
            try:
                _prove(desk, chosen[place])
            except Back:
                place = max(place - 1, 0)
            else:
                place += 1
    except (Back, Quit):
        say()
    _tell_end(desk, layers)
    return 0


def _choose(desk: Desk, layers: tuple[Layer, ...]) -> list[Layer]:
    """Show how each layer stands, and hear which are to be tried. Raises Back, Quit."""
    proofs = proofs_of(desk.chamber)
    standings = [standing_of(proofs, layer.id) for layer in layers]
    say()
    for number, (layer, standing) in enumerate(zip(layers, standings, strict=True), start=1):
        stands = tell_standing(standing, desk.chamber.timezone, desk.chamber.units)
        say(f"{layer.title}: {stands}", "     ", f" {number:>2}  ")
    open_ones = [
        layer for layer, standing in zip(layers, standings, strict=True) if standing.proven is None or standing.failed
    ]
    say()
    say(f"Which? A number, all, or open: those that were not proven, {len(open_ones)} of them.")
    while True:
        text = hear("open" if open_ones else None).lower()
        if text == "open":
            return open_ones
        if text == "all":
            return list(layers)
        places = {str(place): layer for place, layer in enumerate(layers, start=1)}
        if text in places:
            return [places[text]]
        say(f"{text or 'Nothing'}: type a number from 1 to {len(layers)}, all, or open.")


def _prove(desk: Desk, layer: Layer) -> None:
    """Have one layer tried, and keep what was seen. Raises Back, Quit."""
    say()
    say(f"{layer.title[0].upper()}{layer.title[1:]}", "", "*** ")
    for sentence in layer.do:
        say(sentence, "  ", "- ")
    say(f"Must happen: {layer.must}", "  ", "")
    if layer.how == "click" and not _click(desk.chamber, layer):
        return
    sounded = layer.how == "sounder" and _sound(desk)
    say("Did it happen?")
    say_choices(SEEN)
    outcome: Outcome = _outcome(heard(None, SEEN))
    temp_c = _temp_c() if layer.how == "temp" and outcome == "yes" else None
    say("A remark for the record? Enter: none")
    note = hear(None)
    now_s = time.time()
    keep_proof(
        desk.state_dir,
        Proof(wall_s=now_s, layer=layer.id, outcome=outcome, actor=desk.actor, temp_c=temp_c, note=note),
    )
    if sounded and outcome != "not done":
        report(desk, Heard(id=desk.new_id(), actor=desk.actor, at_wall_s=now_s, heard=outcome == "yes"))
    if outcome == "no":
        say()
        say(f"THIS LAYER DOES NOT WORK. {layer.no}")
    elif layer.id == "thermal cut-out" and outcome == "yes":
        day = time.strftime("%Y-%m-%d", time.localtime(now_s))
        say(f"Write the day into the chamber file, else no heat is given: cutout_tested_on = {day}")


def _outcome(word: str) -> Outcome:
    return "yes" if word == "yes" else "no" if word == "no" else "not done"


def _temp_c() -> float:
    """Hear at which temperature it was. Raises Back, Quit."""
    say("At which temperature, by your own thermometer? As 58C or 136F")
    while True:
        try:
            return parse_temp_c(hear(None), "temperature")
        except HangroomError as error:
            say(str(error))


def _click(chamber: ChamberFile, layer: Layer) -> bool:
    """Click the output of a layer, unless something hangs on it; False where it is left out. Raises Back, Quit."""
    from controller import app

    output = layer.output
    if output is None:
        raise ValueError("a click needs its output")
    while True:
        say(f"{name_pin(output.pin)}, on when {output.active}. What hangs on this relay now? I click then.")
        say_choices(ON_IT)
        if heard(None, ON_IT) == "else":
            return False
        try:
            with app.at_the_machine(chamber.gpio_chip) as bench:
                bench.click(output.pin, output.active, known=True)
        except HangroomError as error:
            say(str(error))
        else:
            return True


def _sound(desk: Desk) -> bool:
    """Let the sounder sound; False where the program does not do it. Raises Back, Quit."""
    heard("sound", (("sound", ""),))
    try:
        command(desk, Sound(id=desk.new_id(), actor=desk.actor))
    except HangroomError as error:
        say(str(error))
        return False
    return True


def _tell_end(desk: Desk, layers: tuple[Layer, ...]) -> None:
    proofs = proofs_of(desk.chamber)
    standings = [standing_of(proofs, layer.id) for layer in layers]
    failed = [layer.title for layer, one in zip(layers, standings, strict=True) if one.failed is not None]
    lacking = sum(one.proven is None and one.failed is None for one in standings)
    say(f"Kept in {desk.state_dir / FILE}. {lacking} of {len(layers)} layers were never proven.")
    if failed:
        say(f"NO HEAT before these work: {'; '.join(failed)}.")
    say("What was seen to work has worked once; hangroom check says when. Whether heat may burn is yours to decide.")
