"""What the rules of this room remember; it hangs on the monotonic clock, and most is begun afresh at each start.

A rule of minutes looks once a minute; `found` is what it found then, and stands until it looks again.
"""

from msgspec import Struct

from controller.core.alarms import Condition
from controller.core.values import Role

NEVER_S = float("-inf")
Found = tuple[Condition, ...]


class FeedbackWatch(Struct, frozen=True, gc=False):
    """Remember since when the contacts at the lamp contradict what it was told."""

    stuck_s: float | None = None  # Voltage or current although it is off.
    opened_s: float | None = None  # The cut-out's own contact is open.
    dark_s: float | None = None  # Neither voltage nor current although it is on.
    dead_s: float | None = None  # It was found dead then, and has not been seen to burn since,
    without: str = ""  # in these words.


class ArmWatch(Struct, frozen=True, gc=False):
    """Remember what was wanted at the last look, and which sides have been reached since."""

    wanted_c: float | None = None
    wanted_pct: float | None = None
    warm: bool = False  # The air was as low as wanted: too warm is news.
    cold: bool = False
    damp: bool = False
    dry: bool = False


class AirWatch(Struct, frozen=True):
    """Remember since when the air is off what is wanted, in each of the ways that count."""

    looked_s: float = NEVER_S  # After a start it may lie ahead: so long nothing is to be told of the air.
    mean_pct: float | None = None  # The humidity's mean over about an hour,
    mean_of_s: float = 0.0  # or over as much of it as has passed since it began anew.
    arms: ArmWatch = ArmWatch()
    hot_s: float | None = None  # A2, the warning.
    off_s: float | None = None  # P4.
    cold_s: float | None = None  # P6.
    rh_off_s: float | None = None  # P4.
    damp_s: float | None = None  # P7.
    mould_s: float | None = None  # P7.
    dry_s: float | None = None  # P8.
    found: Found = ()
    waits_since_s: float | None = None  # Since when it is too cold, does not get warmer, and nothing is told of it.
    waits_at_c: float = 0.0
    waits: bool = False  # Another rule looked into why it is too cold when this one looked last.


class Pull(Struct, frozen=True, gc=False):
    """Remember of one output at full power: the hour that is watched, and what was missing when it began."""

    since_s: float | None = None
    began_s: float = 0.0  # When full power began.
    missing: float = 0.0
    gained: float = 0.0  # In the hour after which it was raised.
    raised: bool = False


class ReachWatch(Struct, frozen=True):
    """Remember what each output at full power has brought."""

    looked_s: float = NEVER_S
    heat: Pull = Pull()
    cold: Pull = Pull()
    mist: Pull = Pull()
    found: Found = ()


class LeakWatch(Struct, frozen=True):
    """Remember how dry the air was lately without mist."""

    looked_s: float = NEVER_S
    low_s: float | None = None
    low_pct: float = 0.0  # Above what is wanted, in %RH at the wanted temperature.
    found: Found = ()


class ColdWatch(Struct, frozen=True, gc=False):
    """Remember what the compressor brought while the air was too warm, and what was found of it."""

    on_s: float = 0.0  # So long it has run since the air fell,
    began_s: float = 0.0  # from then on,
    top_c: float = 0.0  # and the warmest air since.
    full_s: float | None = None  # At full power without a pause since.
    fell_s: float = NEVER_S  # When it was seen to fall last.
    mark_s: float | None = None  # When it was colder than ever before since it is too warm,
    mark_c: float = 0.0  # and how cold.
    first_c: float = 0.0  # The air when full power began.
    still_s: float | None = None  # On without current since.
    row: str = ""  # What was found: A7 or A8.
    by_current: bool = False
    level: int = 0
    rests_until_s: float = NEVER_S
    tries: tuple[float, ...] = ()  # When A8 was found in the last two hours.
    iced: tuple[float, ...] = ()  # When A7 was found in the last half day.

    def rests(self, now_s: float) -> bool:
        """Say whether the compressor rests because of what was found."""
        return now_s < self.rests_until_s


class FanWatch(Struct, frozen=True, gc=False):
    """Remember of the fan since when it is on, and how far the thermometers are apart then."""

    on_s: float | None = None
    still_s: float | None = None  # Its contact shows no turns since.
    usual_k: float = 0.0  # What the thermometers are usually apart while it is on,
    learned_s: float = 0.0  # learned over so much time.
    apart_s: float = 0.0  # So long they have been further apart.
    why: str = ""  # Why it is believed to stand,
    by_turns: bool = False  # by its contact, and not by thermometers, of which one may be wrong as well.


class PinWatch(Struct, frozen=True, gc=False):
    """Remember since when a pin is not at its level, and how often that has been."""

    since_s: float | None = None
    times: int = 0
    counted: bool = False


class WearWatch(Struct, frozen=True):
    """Remember when the present hour of counting began, and the counts then."""

    hour_s: float = NEVER_S
    closings: dict[Role, int] = {}
    found: Found = ()


class PlantWatch(Struct, frozen=True):
    """Remember what each rule of this room needs."""

    feedback: FeedbackWatch = FeedbackWatch()
    air: AirWatch = AirWatch()
    reach: ReachWatch = ReachWatch()
    leak: LeakWatch = LeakWatch()
    cold: ColdWatch = ColdWatch()
    fan: FanWatch = FanWatch()
    pins: PinWatch = PinWatch()
    wear: WearWatch = WearWatch()
