"""What a person can ask of the daemon, one frozen value per verb.

The request box decides whether a command is fresh enough to be handed over at all (same boot, within a minute);
what reaches `core` is only judged by what the batch allows. `id` is unique and becomes the id of the row it leaves.
"""

from typing import Literal

from msgspec import Struct

from controller.core.plan import Profile


class Start(Struct, frozen=True, kw_only=True, tag="start"):
    """Open a batch with this profile; `batch` is the name of the folder it gets, chosen by the request box."""

    id: str
    actor: str = ""
    batch: str
    profile: Profile
    meat_kg: float
    heard_wall_s: float | None = None  # When an alarm was last heard in a test; None: never said.
    diameter_mm: float = 55.0


class Hang(Struct, frozen=True, kw_only=True, tag="hang"):
    """Say that the meat is in the chamber: ferment time and degree-hours count from here."""

    id: str
    actor: str = ""
    batch: str = ""
    pieces_g: dict[str, float] = {}


class Confirm(Struct, frozen=True, kw_only=True, tag="confirm"):
    """Say that what the stage asks of a person is done."""

    id: str
    actor: str = ""
    batch: str = ""


class Next(Struct, frozen=True, kw_only=True, tag="next"):
    """End the stage early, with the reason."""

    id: str
    actor: str = ""
    batch: str = ""
    because: str


class Hold(Struct, frozen=True, kw_only=True, tag="hold"):
    """Pause the batch until a person resumes it."""

    id: str
    actor: str = ""
    batch: str = ""
    because: str = ""


class Resume(Struct, frozen=True, kw_only=True, tag="resume"):
    """Go on with a batch that was held."""

    id: str
    actor: str = ""
    batch: str = ""
    because: str = ""


class End(Struct, frozen=True, kw_only=True, tag="end"):
    """End the batch: it is taken out, finished or not."""

    id: str
    actor: str = ""
    batch: str = ""
    because: str = ""
    aborted: bool = False


class Ph(Struct, frozen=True, kw_only=True, tag="ph"):
    """Report a pH that was measured on the wrapped sample."""

    id: str
    actor: str = ""
    batch: str = ""
    at_wall_s: float
    value: float
    instrument: str  # "meter" or "strips", with its id where it has one: "meter 1".
    sample_temp_c: float | None = None
    replaces: str = ""
    note: str = ""


class Weigh(Struct, frozen=True, kw_only=True, tag="weigh"):
    """Report the weights of pieces, in grams; the first weight of a piece is its green weight."""

    id: str
    actor: str = ""
    batch: str = ""
    at_wall_s: float
    pieces_g: dict[str, float]
    instrument: str = "scale"
    replaces: str = ""
    note: str = ""


class CoreTemp(Struct, frozen=True, kw_only=True, tag="core"):
    """Report a core temperature that was measured with a probe in the thickest piece."""

    id: str
    actor: str = ""
    batch: str = ""
    at_wall_s: float
    value_c: float
    instrument: str = "probe"
    replaces: str = ""
    note: str = ""


class Note(Struct, frozen=True, kw_only=True, tag="note"):
    """Put a sentence into the record."""

    id: str
    actor: str = ""
    batch: str = ""
    at_wall_s: float
    text: str


class Seen(Struct, frozen=True, kw_only=True, tag="seen"):
    """Acknowledge one occurrence of an alarm, such as `A3-2`."""

    id: str
    actor: str = ""
    alarm: str


class Clear(Struct, frozen=True, kw_only=True, tag="clear"):
    """Release what is latched by one occurrence of an alarm, after its cause is gone."""

    id: str
    actor: str = ""
    alarm: str


Command = Start | Hang | Confirm | Next | Hold | Resume | End | Seen | Clear
"""What changes what the chamber does; never taken from an old box."""

Report = Ph | Weigh | CoreTemp | Note
"""What a person measured or saw; taken whenever it comes."""

Request = Command | Report

Verb = Literal[
    "start", "hang", "confirm", "next", "hold", "resume", "end", "seen", "clear", "ph", "weigh", "core", "note"
]
