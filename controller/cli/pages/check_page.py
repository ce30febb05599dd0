"""One page about a chamber: its wires, its limits, what a profile asks of it, and what nobody protects."""

import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from msgspec.structs import replace

from controller.cli.local import in_units
from controller.cli.pages.checks_due import as_list, read_lines, tell_checks
from controller.cli.pages.computer_lines import as_object as computer_object
from controller.cli.pages.computer_lines import tell_computer
from controller.cli.pages.learned_page import tell_use
from controller.cli.pages.proved_lines import as_list as proved_object
from controller.cli.pages.proved_lines import tell_proved
from controller.cli.pages.reach_page import as_object as reach_object
from controller.cli.pages.reach_page import tell_lacking, tell_lamp, tell_reach
from controller.cli.pages.sounder_lines import read_sounder, tell_sounder
from controller.cli.pages.unprotected import list_unprotected
from controller.cli.pages.wiring import name_sensor
from controller.cli.say import fold
from controller.cli.wires.header import name_pin
from controller.cli.wires.listed import as_object as wires_object
from controller.core.fault_words import FAULT_WORDS
from controller.core.plan import Chamber, Profile, Stage
from controller.core.values import Computer, Fault, Readings
from controller.errors import SettingsError
from controller.planning.reach.judged import Judged, judge
from controller.planning.reach.rooms import Rooms, rooms_of
from controller.settings.chamber_file import plan_of, read_chamber
from controller.settings.chamber_tables import ChamberFile, OutputEntry, SensorEntry
from controller.settings.learned_file import Use, use_learned, with_learned
from controller.settings.profile_file import adapt, read_profile
from controller.settings.shipped import find_chamber, find_profile
from controller.settings.units import Units, show_temp

ROOM_OF_FILE: Final = "room_temp_c of the chamber file; its humidity is assumed"


@dataclass(frozen=True, slots=True)
class Checked:
    """Hold two files that were read without a problem, and what became of the profile in this chamber."""

    path: Path
    chamber: ChamberFile
    plan: Chamber
    profile: Profile | None
    adapted: Profile | None
    sentences: tuple[str, ...]
    reach: Judged
    rooms_from: str
    use: Use = field(default_factory=Use)  # What was learned of this chamber.


def read_checked(chamber: str | None, profile: str | None, rooms: Rooms | None = None, said: str = "") -> Checked:
    """Read both files and tell the problems of both at once (SettingsError).

    Args:
        chamber: the chamber file, or the name of a shipped one.
        profile: the profile, or the name of a shipped one.
        rooms: where the chamber stands; None: as its file says.
        said: where these rooms come from.
    """
    problems: list[str] = []
    path = find_chamber(chamber)
    profile_path = None if profile is None else find_profile(profile)
    wanted: Profile | None = None
    try:
        wanted = None if profile_path is None else read_profile(profile_path)
    except SettingsError as error:
        problems.append(str(error))
    try:
        file = read_chamber(path)
    except SettingsError as error:
        raise SettingsError("\n".join([str(error), *problems])) from error
    if problems:
        raise SettingsError("\n".join(problems))
    use = use_learned(Path(file.state_dir), file)
    plan = plan_of(file, use.learned)
    adapted, sentences = (None, ()) if wanted is None else adapt(wanted, plan)
    if rooms is None:
        rooms, said = rooms_of(min(plan.room_c), max(plan.room_c)), ROOM_OF_FILE
    known = file if use.learned is None else replace(file, model=with_learned(file.model, use.learned))
    return Checked(path, file, plan, wanted, adapted, sentences, judge(known, plan, adapted, rooms), said, use)


def tell_page(checked: Checked, now: Readings, computer: Computer) -> Iterator[str]:
    """Yield the lines of the page, at most 80 columns wide; `now` is what the sensors say on this machine."""
    file = checked.chamber
    if checked.plan.heat_refused:
        head = f"{file.title or file.name}: {checked.path} can be read, but NO HEAT IS GIVEN"
        then = 'Test the cut-out (README, "Testing the cut-out"), then write the day, as cutout_tested_on = 2026-01-31'
        yield from fold(f"{head}: {checked.plan.heat_refused}. {then}")
    else:
        yield from fold(f"{file.title or file.name}: {checked.path} holds no problem.")
    yield ""
    yield "Sensors"
    for sensor in file.sensor:
        yield f"  {sensor.channel.replace('_', ' '):<13} {name_sensor(sensor)}{_tell_now(sensor, now, file.units)}"
    yield ""
    yield "Outputs"
    for output in file.output:
        yield from fold(_describe_output(output), " " * 16, f"  {output.role.replace('_', ' '):<13} ")
    if any(output.role == "sounder" for output in file.output):
        last = read_sounder(Path(file.state_dir))
        yield from fold(tell_sounder(last, time.time(), file.timezone), " " * 16, " " * 16)
    yield ""
    yield "Limits"
    yield from _tell_limits(checked)
    yield from tell_lamp(checked.reach, file.units)
    yield from tell_use(checked.use)
    yield ""
    yield "Checks of instruments"
    yield from tell_checks(read_lines(file, time.time()), file.timezone, file.units)
    if checked.profile is not None and checked.adapted is not None:
        yield ""
        yield f"Profile {checked.profile.name}: {checked.profile.title}"
        for before, after in zip(checked.profile.stages, checked.adapted.stages, strict=True):
            yield from fold(_describe_stage(before, after, file.units, checked.reach), "      ", "  ")
        for sentence in checked.sentences:
            yield from fold(in_units(sentence, file.units), "  ")
        yield ""
        yield "Can it do it?"
        yield from tell_reach(checked.reach, checked.plan, file.units, checked.rooms_from)
    if checked.reach.lacking or (checked.reach.stages and checked.reach.unknown):
        yield ""
        yield "Out of reach, too strong, or not known"
        yield from tell_lacking(checked.reach, file.units)
    yield ""
    yield from tell_proved(file)
    yield ""
    yield "This computer"
    yield from tell_computer(computer, file)
    yield "  On one page, with the service and who may do what: hangroom check --protected"
    yield ""
    yield "NOT protected, not monitored"
    for sentence in list_unprotected(file):
        yield from fold(in_units(sentence, file.units), "    ", "  - ")


def _tell_now(sensor: SensorEntry, now: Readings, units: Units) -> str:
    word = now.get(sensor.channel)
    if word is None:
        return ""
    if isinstance(word, Fault):
        return f": {in_units(FAULT_WORDS[word.kind], units)} here"
    return f": {word.value:.0f} % now" if sensor.channel in {"rh", "rh_2"} else f": {show_temp(word.value, units)} now"


def _describe_output(output: OutputEntry) -> str:
    power = "" if output.w is None else f", {output.w:g} W"
    water = "" if output.ml_per_h is None else f", {output.ml_per_h:g} ml per hour"
    return f"{name_pin(output.pin)}, on when {output.active}, {output.switch}{power}{water}"


def _tell_limits(checked: Checked) -> Iterator[str]:
    file, limits = checked.chamber, checked.plan.limits
    units = file.units
    yield f"  All heat is cut at {show_temp(limits.trip_c, units)} or above at any thermometer, until you clear it."
    if file.thermal_cutout_c is not None and file.cutout_tested_on is not None:
        yield from fold(
            f"The thermal cut-out opens at {show_temp(file.thermal_cutout_c, units)}; "
            f"it was last tested on {file.cutout_tested_on.isoformat()}.",
            "  ",
        )
    if checked.plan.heat_refused:
        yield from fold(f"No heat is given: {checked.plan.heat_refused}.", "  ")
    yield from fold(
        in_units(f"Thermometers must agree within {limits.agree_k:g} K", units)
        + f"; heat burns only while the newest good air temperature is at most {limits.fresh_s:g} s old.",
        "  ",
    )
    if checked.plan.output("humidifier") is not None:
        yield f"  At most {limits.mist_ml_per_h:.0f} ml of water go into the air in an hour."


def _describe_stage(before: Stage, after: Stage, units: Units, reach: Judged) -> str:
    asks: list[str] = [after.name] if after.name == after.kind else [after.name, f"({after.kind})"]
    if after.air_temp_c is not None:
        asks.append(show_temp(after.air_temp_c, units))
    if after.rh_pct is not None:
        asks.append(f"{after.rh_pct:g} % humidity")
    end = _describe_end(after, units)
    if after.where == "chamber":
        missed = any(one.name == after.name and not one.within for one in reach.stages)
        verdict = "in this chamber, but not within reach in every room (below)" if missed else "this chamber can do it"
    elif before.where == "elsewhere":
        verdict = "elsewhere, as the profile says"
    else:
        verdict = "goes on elsewhere (why: below)"
    return f"{' '.join(asks)}, until {end}: {verdict}."


def _describe_end(stage: Stage, units: Units) -> str:
    until = stage.until
    parts = []
    if until.ph_at_most is not None:
        parts.append(f"pH {until.ph_at_most:g} or lower")
    if until.hours is not None:
        parts.append(f"{until.hours:g} hours at the right climate")
    if until.weight_loss_pct is not None:
        parts.append(f"{until.weight_loss_pct:g} % lost")
    if until.core_temp_c is not None:
        parts.append(f"the core has {show_temp(until.core_temp_c, units)}")
    if until.confirm:
        parts.append("the meat is hung" if stage.kind == "warm-up" else "you confirm it")
    return " and ".join(parts)


def as_object(checked: Checked, computer: Computer) -> dict[str, object]:
    """Return the page as one object for programs; temperatures in °C."""
    file, plan = checked.chamber, checked.plan
    stages: list[dict[str, object]] = []
    if checked.profile is not None and checked.adapted is not None:
        stages = [
            {
                "name": after.name,
                "kind": after.kind,
                "air_temp_c": after.air_temp_c,
                "rh_pct": after.rh_pct,
                "where": after.where,
                "where_in_profile": before.where,
            }
            for before, after in zip(checked.profile.stages, checked.adapted.stages, strict=True)
        ]
    return {
        "problems": [],
        "file": str(checked.path),
        "chamber": file.name,
        "sensors": [{"channel": sensor.channel, "sensor": name_sensor(sensor)} for sensor in file.sensor],
        "outputs": [
            {"role": output.role, "pin": output.pin, "active": output.active, "switch": output.switch}
            for output in file.output
        ],
        "wires": wires_object(file),
        "limits": plan.limits,
        "thermal_cutout_c": file.thermal_cutout_c,
        "cutout_tested_on": file.cutout_tested_on,
        "heat_refused": plan.heat_refused,
        "learned": checked.use.learned,
        "learned_not_used": checked.use.why_not,
        "sounder": read_sounder(Path(file.state_dir))
        if any(output.role == "sounder" for output in file.output)
        else None,
        "first_light": proved_object(file),
        "checks": as_list(read_lines(file, time.time())),
        "profile": None if checked.profile is None else checked.profile.name,
        "stages": stages,
        "sentences": list(checked.sentences),
        "reach": reach_object(checked.reach),
        "not_protected": list_unprotected(file),
        "computer": computer_object(computer),
    }
