"""What the deciding part is told and what it answers: plain immutable values, and the empty one is the safe one.

Structs of msgspec are used for their speed (one tick makes some thirty of them) and because they go to disk and
come back without code of ours. Units stand last in every name; instants are seconds of the monotonic clock unless
the name says `wall`.
"""

from collections.abc import Mapping
from typing import Final, Literal

from msgspec import Struct

Channel = Literal[
    "air_temp",
    "air_temp_2",
    "rh",
    "rh_temp",
    "rh_2",
    "core_temp",
    "ambient_temp",
    "evaporator_temp",
    "door",
    "heater_live",
    "heater_current",
    "cooler_current",
    "cutout",
    "fan_turns",
]
"""What a sensor measures. `rh_temp` is the temperature inside the humidity sensor; contacts are 1.0 or 0.0."""

CONTACTS: Final[tuple[Channel, ...]] = (
    "door",
    "heater_live",
    "heater_current",
    "cooler_current",
    "cutout",
    "fan_turns",
)
"""1.0 while: the door is open; there is voltage at the lamp; current flows in it; current flows in the compressor; the
thermal cut-out has opened; the fan turns."""

HUMIDITY: Final[tuple[Channel, ...]] = ("rh", "rh_2")
"""Every humidity of the chamber's air. `rh` is the one that leads."""

WITNESSES: Final[tuple[Channel, ...]] = ("air_temp", "air_temp_2", "rh_temp")
"""Every temperature of the chamber's air. `air_temp` is the one that leads."""

Role = Literal["heater", "humidifier", "cooler", "dehumidifier", "fan", "fresh_air", "sounder", "master"]
"""What an output does. `master` is a second contactor in series with the heat, on only while all is well."""

ROLES: Final[tuple[Role, ...]] = (
    "heater",
    "humidifier",
    "cooler",
    "dehumidifier",
    "fan",
    "fresh_air",
    "sounder",
    "master",
)

FaultKind = Literal[
    "missing",  # the sensor is not there
    "unread",  # it has not given its first value yet
    "hung",  # the read call does not come back
    "checksum",
    "empty",  # the kernel gave an empty file: bad checksum, vanished sensor or failed conversion
    "half_read",
    "bus_error",
    "power_on_value",  # 85.000 °C: reset before a conversion
    "low_supply",  # 127.94 °C: conversion without enough power
    "no_reply",  # -127 °C: the classic value of a bus without an answer
    "not_a_number",
    "out_of_range",
    "stale",
    "jump",
    "rate",
    "frozen",
    "disagree",
    "saturated",
]


class Reading(Struct, frozen=True, gc=False):
    """Hold one measured value and the monotonic instant at which its measurement ended."""

    value: float
    taken_s: float


class Fault(Struct, frozen=True, gc=False):
    """Name why there is no value. `detail` is for the person: the errno, the text, the device."""

    kind: FaultKind
    detail: str = ""


Readings = Mapping[Channel, Reading | Fault]


class Health(Struct, frozen=True, gc=False):
    """Hold what the computer says of itself; None where it cannot tell."""

    low_voltage: bool | None = None  # The supply is too weak now, or was since this was asked last.
    processor_c: float | None = None
    disk_free_mb: float | None = None
    disk_free_share: float | None = None
    disk_read_only: bool | None = None
    reset_by_watchdog: bool | None = None  # The machine's own watchdog has caused this boot.


class Computer(Struct, frozen=True, gc=False):
    """Hold what one look at the computer finds that protects the chamber, or does not; None where it cannot be told."""

    watchdog: str = ""  # The name of its hardware watchdog; empty where there is none.
    watchdog_armed: bool | None = None
    watchdog_s: int | None = None  # So long the computer may hang before it is reset.
    strict_gpiod: bool | None = None  # The kernel lets go of a pin whose program has died.
    clock: bool = False  # There is a clock of its own, which may have a battery.
    health: Health = Health()


FAILS: Final = 2
"""The level of trouble with records that are refused; less room than there should be is a lower one."""


class Trouble(Struct, frozen=True, gc=False):
    """Hold what goes wrong beside the deciding: the row of the fault table and what is said of it."""

    row: str
    text: str
    level: int = 0  # How far it has gone; where it goes further, it calls again.
    priority: str = ""  # Empty: as the table says.
    did: str = ""  # What the program did, where the table's words do not fit.


class Commands(Struct, frozen=True, gc=False):
    """Say until which monotonic instant each output is on from now. An output that is not named is off.

    No output is ever simply "on": the adapter's own timer ends it at that instant, whatever becomes of the daemon.
    """

    on_until_s: dict[Role, float] = {}

    def is_on(self, role: Role, now_s: float) -> bool:
        """Say whether this output is on at this instant."""
        return self.on_until_s.get(role, now_s) > now_s


SWIFT_MOST_K: Final = 5.0
"""No more than an open door does to the air before a probe shows it. Common practice, no source."""


class Known(Struct, frozen=True, gc=False):
    """Hold what the judge believes after looking at all readings of this tick.

    `air_temp_c` and `rh_pct` are good values that control may use, else None. `highest_c` is the highest temperature
    that any witness shows, also a doubtful one, and cuts the heat at once; `highest_firm_c` leaves out sudden jumps
    and is what the latched trip looks at, with the instant of its reading; a damaged read hides no
    witness for a minute. `good_air_taken_s` is when the newest good air temperature was measured, `good_rh_taken_s`
    the newest good humidity.
    `spread_k` compares the good witnesses after each was slowed to the slowest probe's response; `slowed_c` are these
    values. `pressure_pa` is the vapour pressure where humidity and temperature of the humidity sensor are good.
    `contacts` holds what each contact says that gives a value at all: whether it is there (see `CONTACTS`).
    `damaged_of_100` counts the damaged ones of the last 100 looks at a sensor; one without any is left out.
    `still_since_s` is since when each witness that speaks has shown the very same number; `stuck_air_c` is what the
    leading thermometer shows while it is not believed because it was found stuck.
    """

    air_temp_c: float | None = None
    rh_pct: float | None = None
    rh_temp_c: float | None = None
    core_temp_c: float | None = None
    ambient_temp_c: float | None = None
    rh_2_pct: float | None = None
    evaporator_temp_c: float | None = None
    highest_c: float | None = None
    highest_firm_c: float | None = None
    highest_firm_s: float = float("-inf")
    pressure_pa: float | None = None
    good_air_taken_s: float = float("-inf")
    good_rh_taken_s: float = float("-inf")
    good_in_a_row: int = 0
    spread_k: float | None = None
    slowed_c: dict[Channel, float] = {}
    door_open: bool = False
    faults: dict[Channel, FaultKind] = {}
    contacts: dict[Channel, bool] = {}
    damaged_of_100: dict[Channel, int] = {}
    still_since_s: float = float("inf")
    stuck_air_c: float | None = None

    @property
    def swift_k(self) -> float | None:
        """Return how much warmer the air is than the leading thermometer shows yet; None without a quicker one.

        The quicker one sits on the chip of the humidity sensor. Only its changes count, not where it stands: what it
        shows now, less what it shows when it is slowed down as much as the slowest one.
        """
        slowed_c = self.slowed_c.get("rh_temp")
        if slowed_c is None or self.rh_temp_c is None:
            return None
        return min(max(self.rh_temp_c - slowed_c, -SWIFT_MOST_K), SWIFT_MOST_K)


class Wanted(Struct, frozen=True, gc=False):
    """Hold the set-points of this tick; None where nothing is wanted."""

    air_temp_c: float | None = None
    rh_pct: float | None = None


class Event(Struct, frozen=True, gc=False):
    """Hold one row of the events file. `batch` is empty where it concerns the chamber as a whole."""

    kind: str
    text: str
    id: str = ""
    priority: str = ""
    actor: str = "hangroom"
    batch: str = ""


LookKind = Literal["look", "firmness", "smell"]

EntryKind = Literal["ph", "weight", "core_temp", "water_activity", "look", "firmness", "smell", "smoker_temp"]

CheckMethod = Literal["ice", "salt", "buffers", "reference"]
"""How an instrument was checked: in melting ice, over a salt solution, in two buffers, beside a better instrument."""


class InstrumentCheck(Struct, frozen=True, gc=False):
    """Hold one check of an instrument: what it showed at the fixed points, and what the points are.

    Attributes:
        instrument: its name, as `meter 1`, `probe 2`, or the channel of a fixed sensor, as `air_temp`.
        method: which kind of fixed points.
        points: each (what it is, the true value, what was shown); the buffers' shown value is pH or mV by `unit`.
        unit: `Cel`, `%RH`, `pH` or `mV`.
        temp_c: temperature of the points.
        error: what is left as uncertainty after the check, in the unit (pH for mV); None where it says nothing.
        offset: true value minus shown value; for buffers the one at the buffer nearest 7, for mV the mV at pH 7.
        slope_pct: of the theoretical slope, for buffers.
        verdict: `good`, or in words what is wrong.
    """

    instrument: str
    method: CheckMethod
    points: tuple[tuple[str, float, float], ...]
    unit: str
    temp_c: float | None = None
    error: float | None = None
    offset: float | None = None
    slope_pct: float | None = None
    verdict: str = ""


class CheckEntry(Struct, frozen=True, gc=False):
    """Hold one row of the instruments file: a check, when it was made, and who made it."""

    id: str
    at_wall_s: float
    check: InstrumentCheck
    actor: str = ""
    entered_wall_s: float = 0.0
    note: str = ""


class Entry(Struct, frozen=True, gc=False):
    """Hold one row of the readings file: what a person measured or saw, in the unit that `unit` names."""

    batch: str
    id: str
    at_wall_s: float
    kind: EntryKind
    value: str
    unit: str
    piece: str = ""
    instrument: str = ""
    sample_temp_c: float | None = None
    actor: str = ""
    entered_wall_s: float = 0.0
    replaces: str = ""
    note: str = ""


class Answer(Struct, frozen=True, gc=False):
    """Hold the one answer to a person's request; it is given when everything it promises is durable."""

    request_id: str
    done: bool
    text: str
