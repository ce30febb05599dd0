"""What a person can ask of the daemon, one frozen value per verb.

The request box decides whether a command is fresh enough to be handed over at all (same boot, within a minute);
what reaches `core` is only judged by what the batch allows. `id` is unique and becomes the id of the row it leaves.
"""

from typing import Literal

from msgspec import Struct

from controller.core.plan import Profile
from controller.core.sheet import Sheet
from controller.core.values import InstrumentCheck, LookKind


class Start(Struct, frozen=True, kw_only=True, tag="start"):
    """Open a batch with this profile; `batch` is the name of the folder it gets, chosen by the request box."""

    id: str
    actor: str = ""
    batch: str
    profile: Profile
    meat_kg: float
    diameter_mm: float = 55.0
    sheet: Sheet | None = None  # What `hangroom plan` worked out, where the maker made a plan.
    sure: bool = False  # The person was told that the room is too warm, and means it.


class Hang(Struct, frozen=True, kw_only=True, tag="hang"):
    """Say that the meat is in the chamber: ferment time and degree-hours count from here."""

    id: str
    actor: str = ""
    batch: str = ""
    pieces_g: dict[str, float] = {}  # Gross, as the scale showed it.
    tare_g: float = 0.0  # Hook and string of each piece.
    sure: bool = False


class Confirm(Struct, frozen=True, kw_only=True, tag="confirm"):
    """Say that what the stage asks of a person is done."""

    id: str
    actor: str = ""
    batch: str = ""
    sure: bool = False  # The person was told what is unproved, and means it.


class Next(Struct, frozen=True, kw_only=True, tag="next"):
    """End the stage early, with the reason."""

    id: str
    actor: str = ""
    batch: str = ""
    because: str
    sure: bool = False  # As in Confirm.


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
    sure: bool = False  # The person was told that the meat is not done, and what to do with it.


Sample = Literal["mince", "sausage"]
"""What was measured: the wrapped sample of the mince, or the middle of a real sausage."""


class Cool(Struct, frozen=True, kw_only=True, tag="cool"):
    """Let a ferment cool from this instant on, though nobody ends it then; it only lowers. None takes it back."""

    id: str
    actor: str = ""
    batch: str = ""
    from_wall_s: float | None = None


class Adjust(Struct, frozen=True, kw_only=True, tag="set"):
    """Change the wanted climate of the present stage, with the reason; what is None stays."""

    id: str
    actor: str = ""
    batch: str = ""
    air_temp_c: float | None = None
    rh_pct: float | None = None
    because: str = ""
    sure: bool = False


class Ph(Struct, frozen=True, kw_only=True, tag="ph"):
    """Report a pH that was measured on the wrapped sample, or in a real sausage."""

    id: str
    actor: str = ""
    batch: str = ""
    at_wall_s: float | None  # None: when what it replaces was measured, else now.
    value: float
    instrument: str  # "meter" or "strips", with its id where it has one: "meter 1".
    sample: Sample | None = None  # None: as in what it replaces, else the wrapped mince.
    sample_temp_c: float | None = None
    looks: dict[LookKind, str] = {}
    sure: bool = False  # The person was asked back and means it.
    replaces: str = ""
    note: str = ""


class Weigh(Struct, frozen=True, kw_only=True, tag="weigh"):
    """Report the weights of pieces, in grams; the first weight of a piece is its green weight."""

    id: str
    actor: str = ""
    batch: str = ""
    at_wall_s: float
    pieces_g: dict[str, float]  # Gross, as the scale showed it.
    tare_g: float | None = None  # Hook and string of each piece; None: as last time.
    out: tuple[str, ...] = ()  # Pieces that leave on their own day.
    instrument: str = "scale"
    sure: bool = False
    replaces: str = ""
    note: str = ""


class CoreTemp(Struct, frozen=True, kw_only=True, tag="core"):
    """Report a core temperature that was measured with a probe in the thickest piece."""

    id: str
    actor: str = ""
    batch: str = ""
    at_wall_s: float
    value_c: float
    piece: str = ""
    instrument: str = "probe"
    sure: bool = False
    replaces: str = ""
    note: str = ""


class Smoker(Struct, frozen=True, kw_only=True, tag="smoker"):
    """Report the temperature of the smoker or of the oven, wherever it stands."""

    id: str
    actor: str = ""
    batch: str = ""
    at_wall_s: float
    value_c: float
    instrument: str = "probe"
    sure: bool = False
    replaces: str = ""
    note: str = ""


class WaterActivity(Struct, frozen=True, kw_only=True, tag="aw"):
    """Report a water activity that was measured, by the maker or by a laboratory."""

    id: str
    actor: str = ""
    batch: str = ""
    at_wall_s: float
    value: float
    piece: str = ""
    instrument: str
    sample_temp_c: float | None = None
    replaces: str = ""
    note: str = ""


class Look(Struct, frozen=True, kw_only=True, tag="look"):
    """Report what a piece looks, feels and smells like, each in one plain word of a fixed choice."""

    id: str
    actor: str = ""
    batch: str = ""
    at_wall_s: float
    piece: str = ""
    looks: dict[LookKind, str]
    note: str = ""


class Calibrate(Struct, frozen=True, kw_only=True, tag="calibrate"):
    """Report the check of an instrument against a fixed point: ice, salt solution or buffers."""

    id: str
    actor: str = ""
    at_wall_s: float
    check: InstrumentCheck
    sure: bool = False  # The person was asked back and means it.
    note: str = ""


class Note(Struct, frozen=True, kw_only=True, tag="note"):
    """Put a sentence into the record; `topic` sorts it where it is a job that comes again, as cleaning."""

    id: str
    actor: str = ""
    batch: str = ""
    at_wall_s: float
    text: str
    topic: str = ""


class Seen(Struct, frozen=True, kw_only=True, tag="seen"):
    """Acknowledge one occurrence of an alarm, such as `A3-2`."""

    id: str
    actor: str = ""
    alarm: str


class Quiet(Struct, frozen=True, kw_only=True, tag="quiet"):
    """Let one alarm be quiet for so many seconds, after which it calls again; 0 ends it at once."""

    id: str
    actor: str = ""
    alarm: str
    for_s: float


class Sound(Struct, frozen=True, kw_only=True, tag="sound"):
    """Let the sounder sound for ten seconds, so that somebody can say whether it is heard."""

    id: str
    actor: str = ""


class Heard(Struct, frozen=True, kw_only=True, tag="heard"):
    """Say whether the sounder was heard when it was tried."""

    id: str
    actor: str = ""
    at_wall_s: float
    heard: bool = True


class Clear(Struct, frozen=True, kw_only=True, tag="clear"):
    """Release what is latched by one occurrence of an alarm, after its cause is gone."""

    id: str
    actor: str = ""
    alarm: str
    sure: bool = False  # The person has seen that the lamp is dark.


class Learn(Struct, frozen=True, kw_only=True, tag="learn"):
    """Begin a step test; `test` is the name of the folder it gets."""

    id: str
    actor: str = ""
    test: str
    loaded_kg: float = 0.0  # What stands in the chamber meanwhile; 0: it is empty.


class StopLearning(Struct, frozen=True, kw_only=True, tag="stop-learning"):
    """Break the step test off."""

    id: str
    actor: str = ""


Command = (
    Start
    | Hang
    | Confirm
    | Next
    | Hold
    | Resume
    | End
    | Cool
    | Adjust
    | Seen
    | Quiet
    | Sound
    | Clear
    | Learn
    | StopLearning
)
"""What changes what the chamber does; never taken from an old box."""

Report = Ph | Weigh | CoreTemp | Smoker | WaterActivity | Look | Calibrate | Heard | Note
"""What a person measured or saw; taken whenever it comes."""

Request = Command | Report

Verb = Literal[
    "start", "hang", "confirm", "next", "hold", "resume", "end", "cool", "set", "seen", "quiet", "sound", "clear",
    "learn", "stop-learning",
    "ph", "weigh", "core", "smoker", "aw", "look", "calibrate", "heard", "note",
]  # fmt: skip
