"""The care of instruments, at the desk: what a probe showed in ice, a sensor over salt, a meter in its buffers."""

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final, cast

import click

from controller.cli import typed
from controller.cli.asking import Desk, find_desk, report
from controller.cli.local import in_units
from controller.cli.options import at_option, chamber_option, who_option
from controller.cli.say import fold
from controller.cli.verb import Verb
from controller.core.batch.care import KINDS, WORDS
from controller.core.people.desk import Refused
from controller.core.people.instruments import OWN, judged
from controller.core.requests import Calibrate
from controller.core.values import CheckMethod, InstrumentCheck
from controller.errors import DataError, NoInputError, UnavailableError, UsageError
from controller.food.checks.fixed_points import (
    BOTTLES,
    BUFFER_PRACTICE,
    ICE_C,
    ICE_PRACTICE,
    REFERENCE_PRACTICE,
    SALT_PRACTICE,
    SALTS,
)
from controller.records.status import is_alive
from controller.settings.units import Units, parse_temp_c

PRACTICE: Final[dict[CheckMethod, tuple[str, ...]]] = {
    "ice": ICE_PRACTICE,
    "salt": SALT_PRACTICE,
    "buffers": BUFFER_PRACTICE,
    "reference": REFERENCE_PRACTICE,
}
EXAMPLES: Final[dict[CheckMethod, str]] = {
    "ice": "hangroom calibrate ice air_temp 0.3C",
    "salt": "hangroom calibrate salt rh NaCl 73.1 --temp 21C",
    "buffers": 'hangroom calibrate buffers "meter 1" 7.00=7.03 4.01=4.05 --temp 22C',
    "reference": 'hangroom calibrate reference "probe 2" 64.0C=64.3C',
}
LOWEST_PH: Final = 0.0
HIGHEST_PH: Final = 14.0


@click.command(
    cls=Verb,
    context_settings={"ignore_unknown_options": True},  # Ice may show -0.2C.
    examples=(*EXAMPLES.values(), "hangroom calibrate salt"),
)
@click.argument("method", type=click.Choice(list(PRACTICE)), metavar="ice|salt|buffers|reference")
@click.argument("instrument", required=False, default="")
@click.argument("values", nargs=-1)
@click.option("--temp", metavar="TEMP", help="Temperature of the salt or of the buffers, as 21C or 70F.")
@click.option("--mv", is_flag=True, help="What the meter showed in the buffers is mV, not pH.")
@click.option(
    "--bottle", "bottles", metavar="NAME=PH", multiple=True,
    help="For a buffer that is not in the tables: its pH at this temperature, by its own table.",
)  # fmt: skip
@click.option("--sure", is_flag=True, help="You were asked back, and mean it.")
@click.option("--note", "note_text", metavar="TEXT", default="", help="A remark that stands beside the check.")
@at_option
@chamber_option
@who_option
def calibrate(
    method: str, instrument: str, values: tuple[str, ...], temp: str | None, bottles: tuple[str, ...], note_text: str,
    at: str | None, chamber: Path | None, who: str, *, mv: bool, sure: bool,
) -> None:  # fmt: skip
    """Report the check of an instrument by ice, salt or buffers.

    INSTRUMENT is a sensor of the chamber file (air_temp, rh), or one in the hand
    with its number: "meter 1", "probe 2". What it should show stands before the
    sign = and what it showed behind it. With no instrument it says how to check.

    The answer says slope, offset, whether it is good, and which offset to write
    into the chamber file: nothing is corrected by itself. Every check is a row of
    instruments.csv.
    """
    how = cast("CheckMethod", method)
    if not instrument:
        units = _units(chamber)
        for line in _tell_practice(how, units):
            click.echo(line)
        return
    check = InstrumentCheck(
        instrument=_name(instrument),
        method=how,
        points=_points(how, values, bottles, mv=mv),
        unit=_unit(how, values, mv=mv),
        temp_c=None if temp is None else parse_temp_c(temp, "--temp"),
    )
    if how in {"salt", "buffers"} and temp is None:
        raise UsageError(f"calibrate {how}: at what temperature? Say it, as --temp 21C.")
    desk = find_desk(chamber, who)
    _look_through(desk, check, sure=sure)
    report(
        desk,
        Calibrate(
            id=desk.new_id(), actor=desk.actor, at_wall_s=desk.when(at), check=check, sure=sure, note=note_text
        ),
        " ".join(values),
    )  # fmt: skip


def _tell_practice(method: CheckMethod, units: Units) -> Iterator[str]:
    for number, sentence in enumerate(PRACTICE[method], start=1):
        yield from fold(in_units(sentence, units), "   ", f"{number}. ")
    if method == "salt":
        yield from fold(f"Known salts: {', '.join(SALTS)}.", "   ")
    if method == "buffers":
        yield from fold(f"Known buffers: {', '.join(sorted(BOTTLES, key=float))}; others with --bottle.", "   ")
    yield f"Then: {in_units(EXAMPLES[method], units)}"


def _units(chamber: Path | None) -> Units:
    """Return the units of the chamber; how to check an instrument is told where there is no chamber file yet, too."""
    try:
        return find_desk(chamber).chamber.units
    except (NoInputError, UnavailableError):
        if chamber is not None:
            raise
        return "C"


def _look_through(desk: Desk, check: InstrumentCheck, *, sure: bool) -> None:
    """Ask back at once what the daemon would ask, and tell the verdict where no daemon is there to do so."""
    try:
        said = judged(check, desk.plan())
    except Refused as refused:
        raise DataError("\n".join(fold(desk.words(str(refused))))) from refused
    if said.ask and not sure:
        asked = "\n".join(fold(desk.words(f"{check.instrument}: {said.ask}")))
        raise DataError(f"{asked}\nNothing was recorded; if it is meant, say --sure.")
    if not is_alive(desk.state_dir):
        for line in fold(desk.words(said.text)):
            click.echo(line)


def _name(text: str) -> str:
    """Return the name as the chamber file has it, or as it is said: "meter 1"."""
    words = text.split()
    if words and words[0].lower() in KINDS:
        words[0] = words[0].lower()  # "Meter 1" and "meter 1" are one.
    joined = "_".join(words)
    return joined if joined in WORDS else " ".join(words)


def _unit(method: CheckMethod, values: Sequence[str], *, mv: bool) -> str:
    if method == "buffers":
        return "mV" if mv else "pH"
    is_humidity = method == "salt" or (method == "reference" and "%" in "".join(values))
    return "%RH" if is_humidity else "Cel"


def _points(
    method: CheckMethod, values: Sequence[str], bottles: Sequence[str], *, mv: bool
) -> tuple[tuple[str, float, float], ...]:
    """Return the points as typed; what a fixed point truly is, is filled in where it is judged."""
    example = f"\nWrite it as: {EXAMPLES[method]}"
    if mv and method != "buffers":
        raise UsageError("--mv: only a pH meter in its buffers shows mV.")
    if bottles and method != "buffers":
        raise UsageError("--bottle: only of buffers.")
    if method == "buffers":
        return _buffers(values, bottles, mv=mv, example=example)
    if method == "salt":
        return (_salt(values, example),)
    if len(values) != 1:
        raise UsageError(f"calibrate {method}: what did it show?{example}")
    if method == "ice":
        return (("ice", ICE_C, parse_temp_c(values[0].removeprefix("0C="), "ice")),)
    true, shown = _halves(values[0], example)
    if ("%" in true) != ("%" in shown):
        raise UsageError(f"{values[0]}: both sides in the same unit; as 64.0C=64.3C or 75%=73%.")
    if "%" in true:
        return (("reference", _humidity(true), _humidity(shown)),)
    return (("reference", parse_temp_c(true, "the better one"), parse_temp_c(shown, "this one")),)


def _buffers(
    values: Sequence[str], bottles: Sequence[str], *, mv: bool, example: str
) -> tuple[tuple[str, float, float], ...]:
    own = {_bottle(name): typed.number(value, f"--bottle {name}", "7.02") for name, value in map(_own, bottles)}
    for name, ph in own.items():
        if not LOWEST_PH <= ph <= HIGHEST_PH:
            raise DataError(f"--bottle {name}={ph:g}: a buffer has pH 0 to 14.")
    found: list[tuple[str, float, float]] = []
    for word in values:
        name, shown = _halves(word, example)
        bottle = _bottle(name)
        if any(bottle == other.removesuffix(OWN) for other, _, _ in found):
            raise UsageError(f"{word}: buffer {bottle} is named twice; each showed one value.")
        value = typed.number(shown, f"{bottle}=", "172" if mv else "7.03")
        found.append((f"{bottle}{OWN}", own[bottle], value) if bottle in own else (bottle, 0.0, value))
    unused = [name for name in own if not any(name == other.removesuffix(OWN) for other, _, _ in found)]
    if unused:
        raise UsageError(f"--bottle {unused[0]}: what did the meter show in it?{example}")
    return tuple(found)


def _own(text: str) -> tuple[str, str]:
    return _halves(text, "\nWrite it as: --bottle 7.01=7.02")


def _bottle(text: str) -> str:
    """Return what stands on a bottle as the tables have it: with two decimals, so that 7 and 7.0 are 7.00."""
    value = typed.number(text.strip().lower().removeprefix("ph"), "buffer", "7.00")
    exact = next((bottle for bottle in BOTTLES if float(bottle) == value), None)
    return exact or f"{value:.2f}"


def _salt(values: Sequence[str], example: str) -> tuple[str, float, float]:
    words = [part for value in values for part in value.split("=")]
    if len(words) != 2:  # noqa: PLR2004 - salt and value
        raise UsageError(f"calibrate salt: which salt, and what did it show?{example}")
    salt = next((name for name in SALTS if name.lower() == words[0].lower()), None)
    if salt is None:
        raise UsageError(f"{words[0]}: no such salt in the table; there are\n{', '.join(SALTS)}.")
    return salt, 0.0, _humidity(words[1])


def _humidity(text: str) -> float:
    plain = text.strip().removesuffix("RH").removesuffix("rh").strip().removesuffix("%").strip()
    return typed.number(plain, "humidity", "73.1")


def _halves(text: str, example: str) -> tuple[str, str]:
    before, equals, behind = text.partition("=")
    if not (before.strip() and equals and behind.strip()):
        raise UsageError(f"{text}: what it should show, the sign =, what it showed.{example}")
    return before.strip(), behind.strip()
