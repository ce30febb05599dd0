"""Smoke, cook, chill and climate: the core, the smoker, and another wanted climate for the present stage."""

from pathlib import Path

import click

from controller.cli import typed
from controller.cli.asking import command, find_desk, report
from controller.cli.options import (
    NUMBERS_MAY_BE_NEGATIVE,
    batch_option,
    by_option,
    chamber_option,
    entry_options,
    sure_option,
    who_option,
)
from controller.cli.verb import Verb
from controller.core.requests import Adjust, CoreTemp, Smoker
from controller.errors import UsageError
from controller.settings.units import parse_temp_c


@click.command(
    cls=Verb,
    context_settings=NUMBERS_MAY_BE_NEGATIVE,
    examples=(
        "hangroom core 64C --piece A",
        'hangroom core 147F --by "probe 2" --at 18:05',
        "hangroom core 46C --replaces ID",
    ),
)
@click.argument("temperature", metavar="TEMP")
@click.option("--piece", metavar="PIECE", default="", help="Of which piece; the lowest of all pieces counts.")
@by_option("probe", default="probe")
@sure_option
@entry_options
def core(
    temperature: str, piece: str, by: str, note_text: str, at: str | None, replaces: str,
    chamber: Path | None, batch: str, who: str, *, sure: bool,
) -> None:  # fmt: skip
    """Report the temperature in the core of the thickest piece.

    The unit must be there: 64 could be either, and the difference decides
    whether the meat is cooked. In a cook the answer says how far it has come; in
    a chill how much time is left.
    """
    value_c = typed.core_c(temperature)
    instrument = typed.instrument(by, ("probe",))
    desk = find_desk(chamber, who)
    report(
        desk,
        CoreTemp(
            id=desk.new_id(), actor=desk.actor, batch=batch, at_wall_s=desk.when(at), value_c=value_c, piece=piece,
            instrument=instrument, sure=sure, replaces=replaces, note=note_text,
        ),
        temperature,
    )  # fmt: skip


@click.command(
    cls=Verb,
    context_settings=NUMBERS_MAY_BE_NEGATIVE,
    examples=("hangroom smoker 60C", "hangroom smoker 140F --at 16:10"),
)
@click.argument("temperature", metavar="TEMP")
@by_option("probe", default="probe")
@sure_option
@entry_options
def smoker(
    temperature: str, by: str, note_text: str, at: str | None, replaces: str,
    chamber: Path | None, batch: str, who: str, *, sure: bool,
) -> None:  # fmt: skip
    """Report how warm the smoker or the oven is, wherever it stands.

    Smoke holds carbon monoxide: never in a closed room.
    """
    value_c = parse_temp_c(temperature, "smoker")
    instrument = typed.instrument(by, ("probe",))
    desk = find_desk(chamber, who)
    report(
        desk,
        Smoker(
            id=desk.new_id(), actor=desk.actor, batch=batch, at_wall_s=desk.when(at), value_c=value_c,
            instrument=instrument, sure=sure, replaces=replaces, note=note_text,
        ),
        temperature,
    )  # fmt: skip


@click.command(
    "set",
    cls=Verb,
    context_settings=NUMBERS_MAY_BE_NEGATIVE,
    examples=(
        'hangroom set --rh 82 --because "dries too fast"',
        'hangroom set --air-temp 12C --rh 80 --because "soft fat"',
    ),
)
@click.option("--air-temp", metavar="TEMP", help="Wanted temperature of the air, as 12C or 54F.")
@click.option("--rh", metavar="PERCENT", help="Wanted humidity of the air in per cent, as 82.")
@click.option("--because", metavar="TEXT", required=True, help="The reason; it stands in the record.")
@sure_option
@chamber_option
@batch_option
@who_option
def set_climate(
    air_temp: str | None, rh: str | None, because: str, chamber: Path | None, batch: str, who: str, *, sure: bool
) -> None:  # fmt: skip
    """Want another climate for the present stage, with a reason.

    It holds for this stage of this batch; the batch card stays as it was, and old
    and new stand in the events. The limits of the chamber hold, in a ferment those
    of the starter and of the degree-hours too.
    """
    if air_temp is None and rh is None:
        raise UsageError("what is to change? --air-temp 12C, --rh 82, or both.")
    air_temp_c = None if air_temp is None else parse_temp_c(air_temp, "--air-temp")
    rh_pct = None if rh is None else typed.number(rh.strip().removesuffix("%"), "--rh", "82")
    reason = typed.sentence(because, "--because")
    desk = find_desk(chamber, who)
    command(
        desk,
        Adjust(
            id=desk.new_id(), actor=desk.actor, batch=batch, air_temp_c=air_temp_c, rh_pct=rh_pct, because=reason,
            sure=sure,
        ),
        air_temp or "",
    )  # fmt: skip
