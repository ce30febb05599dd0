"""The kinds of faults that a campaign injects, each with what the fault table says of it: rows, and time to detect.

The times are those of the fault table (the same that `controller.core.fault_table` is to follow), written down here a
second time on purpose: what judges the program takes no figure from it.
"""

from typing import Final

from msgspec import Struct

MINUTE_S: Final = 60.0
HOUR_S: Final = 3600.0

BRIEF: Final = (10.0, 60.0)
PASSING: Final = (60.0, 840.0)
LASTING: Final = (900.0, 3 * HOUR_S)


class Kind(Struct, frozen=True, kw_only=True):
    """Hold one kind of fault.

    Attributes:
        name: as the simulated world knows it, or a name of the campaign's own (see `place`).
        place: which port it meets: sensor, actuator, door, supply, clock, program, disk.
        rows: the rows of the fault table that may speak for it.
        within_s: the time to detect of the table's row, in seconds; what is over sooner need not be seen.
        lasts_s: ranges of how long it lasts, one of which is drawn.
        weight: how often it is drawn.
        doubt: whether it counts as seen when the program calls the value doubtful; else only a row is.
        passes: a sensor fault that the table lets be over by itself ("S" in its column of latching).
    """

    name: str
    place: str
    rows: tuple[str, ...]
    within_s: float
    lasts_s: tuple[tuple[float, float], ...] = ((0.0, 0.0),)
    weight: float = 1.0
    passes: bool = False
    doubt: bool = True


SENSOR: Final = (BRIEF, PASSING, PASSING, LASTING)
LOST: Final = ("S1", "S2", "S3", "S4", "S5", "S7", "S8", "S15")
APART: Final = ("S6", "S9", "S10", "H9")
NEEDS: Final = {
    "mist-leaks": "humidifier", "humidifier-empty": "humidifier", "fan-stuck": "fan", "compressor-dead": "cooler",
    "evaporator-iced": "cooler",
}  # fmt: skip
"""What a chamber without this output cannot have."""
CONTACTS: Final = ("door", "heater_live", "heater_current", "cooler_current", "fan_turns", "cutout")
OF_A_CONTACT: Final = frozenset({"missing", "hung", "frozen"})
"""What a contact can have; all else is a matter of numbers."""

KINDS: Final[dict[str, Kind]] = {
    kind.name: kind
    for kind in (
        # Table 2.2. What is seen in a single reading is seen in the tick after it; 20 to 60 s are the table's.
        Kind(name="missing", place="sensor", rows=LOST, within_s=20.0, lasts_s=SENSOR, passes=True),
        Kind(name="nan", place="sensor", rows=LOST, within_s=20.0, lasts_s=SENSOR, passes=True),
        Kind(name="checksum", place="sensor", rows=LOST, within_s=30.0, lasts_s=SENSOR, passes=True),
        Kind(name="empty", place="sensor", rows=LOST, within_s=30.0, lasts_s=SENSOR, passes=True),
        Kind(name="power-on-value", place="sensor", rows=LOST, within_s=20.0, lasts_s=SENSOR, passes=True),
        Kind(name="low-supply", place="sensor", rows=LOST, within_s=20.0, lasts_s=SENSOR, passes=True),
        Kind(name="no-reply", place="sensor", rows=LOST, within_s=20.0, lasts_s=SENSOR, passes=True),
        Kind(name="stale", place="sensor", rows=LOST, within_s=60.0, lasts_s=SENSOR, passes=True),
        Kind(name="hung", place="sensor", rows=LOST, within_s=60.0, lasts_s=SENSOR, passes=True),
        Kind(name="flaky", place="sensor", rows=LOST, within_s=600.0, lasts_s=(PASSING, LASTING)),
        Kind(name="jump", place="sensor", rows=(*LOST, *APART, "A2"), within_s=300.0, lasts_s=SENSOR),
        Kind(
            name="drift", place="sensor", rows=(*LOST, *APART), within_s=4.5 * HOUR_S,
            lasts_s=((HOUR_S, 4 * HOUR_S), (5 * HOUR_S, 9 * HOUR_S)),
        ),
        Kind(name="stranger", place="bus", rows=("S13",), within_s=60.0, lasts_s=(PASSING, LASTING), weight=0.7),
        Kind(name="frozen", place="sensor", rows=APART, within_s=7920.0, lasts_s=(PASSING, LASTING)),
        Kind(
            name="probe-out", place="sensor", rows=("S9", "H9"), within_s=600.0, doubt=False,
            lasts_s=(PASSING, LASTING),
        ),
        # Table 2.3.
        Kind(
            name="relay-welded", place="actuator", rows=("A1", "A2", "A4", "A6", "A10", "P4", "P6", "P7", "S9"),
            within_s=1200.0, lasts_s=(PASSING, LASTING, LASTING), weight=1.5,
        ),
        Kind(
            name="relay-open", place="actuator", rows=("A3", "A5", "A7", "A8", "A9", "A10", "P2", "P4"),
            within_s=1800.0, lasts_s=(PASSING, LASTING, LASTING),
        ),
        Kind(
            name="pin-stuck", place="actuator", rows=("A10", "A1", "A2", "A6"), within_s=30.0,
            lasts_s=(BRIEF, PASSING, LASTING),
        ),
        Kind(
            name="cutout-open", place="actuator", rows=("A3", "A4", "P2", "P4"), within_s=1800.0,
            lasts_s=(PASSING, LASTING),
        ),
        Kind(name="mist-leaks", place="actuator", rows=("A6", "P7", "S11"), within_s=1800.0, lasts_s=(LASTING,)),
        Kind(name="fan-stuck", place="actuator", rows=("A9",), within_s=1800.0, lasts_s=(PASSING, LASTING), weight=2.0),
        Kind(
            name="compressor-dead", place="actuator", rows=("A7", "A8", "P4"), within_s=7200.0, lasts_s=(LASTING,),
            weight=2.0,
        ),
        Kind(
            name="evaporator-iced", place="actuator", rows=("A7", "A8", "P4"), within_s=7200.0, lasts_s=(LASTING,),
            weight=2.0,
        ),
        Kind(name="lamp-burnt", place="actuator", rows=("A3", "A4", "P2", "P4"), within_s=1800.0, lasts_s=(LASTING,)),
        Kind(name="humidifier-empty", place="actuator", rows=("A5", "P2"), within_s=1800.0, lasts_s=(LASTING,)),
        Kind(
            name="door-open", place="door", rows=("P1", "S7", "S9", "H9", "A3"), within_s=600.0,
            lasts_s=(BRIEF, PASSING, LASTING),
        ),
        # Table 2.5 and 2.7.
        Kind(
            name="power-cut", place="supply", rows=("C16", "gap", "C5", "C14"), within_s=0.0,
            lasts_s=((2.0, 60.0), (60.0, 900.0), (900.0, 8 * HOUR_S), (8 * HOUR_S, 14 * HOUR_S)), weight=1.5,
        ),
        Kind(
            name="cut-in-write", place="supply", rows=("C16", "gap", "C5", "C14"), within_s=0.0,
            lasts_s=((2.0, 60.0), (60.0, 900.0)), weight=2.0,
        ),
        Kind(
            name="cut-without-clock", place="supply", rows=("C16", "gap", "C5", "C14"), within_s=0.0,
            lasts_s=((10.0, 900.0), (900.0, 6 * HOUR_S)),
        ),
        Kind(
            name="computer-hangs", place="supply", rows=("C3", "C16", "gap", "C5"), within_s=0.0,
            lasts_s=((60.0, 900.0),),
        ),
        Kind(name="low-voltage", place="computer", rows=("C9",), within_s=10.0, lasts_s=(BRIEF, PASSING), weight=0.7),
        Kind(name="processor-hot", place="computer", rows=("C10",), within_s=60.0, lasts_s=(PASSING,), weight=0.7),
        Kind(name="loop-late", place="computer", rows=("C1", "late"), within_s=15.0, lasts_s=((12.0, 90.0),)),
        Kind(name="clock-step", place="clock", rows=("C4",), within_s=15.0),
        Kind(name="clock-lost", place="clock", rows=("C5", "clock"), within_s=15.0, lasts_s=(PASSING, LASTING)),
        Kind(name="exception", place="program", rows=("C2", "C16", "gap"), within_s=30.0),
        Kind(name="kill", place="program", rows=("C2", "C16", "gap"), within_s=30.0),
        Kind(name="kill-in-write", place="program", rows=("C2", "C16", "gap"), within_s=30.0, weight=1.5),
        Kind(name="restart", place="program", rows=("C2", "C16", "gap"), within_s=30.0, weight=0.7),
        Kind(name="overrun", place="program", rows=("C1", "late"), within_s=30.0, lasts_s=((11.0, 28.0),)),
        Kind(name="hang", place="program", rows=("C1", "C2", "gap"), within_s=60.0, lasts_s=((30.0, 30.0),)),
        Kind(
            name="crash-loop", place="program", rows=("C2", "C16", "gap"), within_s=600.0, lasts_s=((200.0, 500.0),),
            weight=0.7,
        ),
        Kind(name="disk-filling", place="computer", rows=("C6",), within_s=120.0, lasts_s=(PASSING, LASTING)),
        Kind(name="disk-full", place="disk", rows=("C6", "C7"), within_s=120.0, lasts_s=(PASSING, LASTING)),
        Kind(name="disk-read-only", place="disk", rows=("C6", "C7"), within_s=120.0, lasts_s=(PASSING, LASTING)),
        Kind(name="disk-io-error", place="disk", rows=("C6", "C7"), within_s=120.0, lasts_s=(BRIEF, LASTING)),
        Kind(name="disk-slow", place="disk", rows=("C8", "C6"), within_s=180.0, lasts_s=(BRIEF, PASSING)),
    )
}  # fmt: skip
"""All of them. `within_s` of what cannot be alarmed at once: 2 min for a disk that is written to once a minute."""

DISK: Final = {"disk-full": "full", "disk-read-only": "read-only", "disk-io-error": "io-error", "disk-slow": "slow"}

SHOWN_AT_ONCE: Final = frozenset(
    {"missing", "nan", "checksum", "empty", "power-on-value", "low-supply", "no-reply", "stale", "jump", "hung"}
)
"""What a single reading of the leading thermometer shows, or that it does not come: the lamp is off within 15 s."""


class Planned(Struct, frozen=True, kw_only=True):
    """Hold one fault of a seed's list. `windows` are when it is there; one that comes and goes has several."""

    index: int
    kind: str
    at_s: float
    until_s: float
    what: str = ""
    step_s: float = 0.0
    windows: tuple[tuple[float, float], ...] = ()
    count: int = 0  # In the middle of which system call a write is cut.

    @property
    def trusted_s(self) -> float:
        """Return when the clock is believed again, after a cut without one: a minute to three hours after it."""
        return float(self.until_s + 60.0 * (1 + self.count) ** 1.5)

    @property
    def text(self) -> str:
        """Return it in one line."""
        what = f":{self.what}" if self.what else ""
        what += f":{self.step_s:+.0f}s" if self.step_s else ""
        lasts_s = self.until_s - self.at_s
        often = f" ({len(self.windows)} times)" if len(self.windows) > 1 else ""
        return f"{self.index}. {self.kind}{what} at {self.at_s / HOUR_S:.3f} h" + (
            f" for {lasts_s:.0f} s{often}" if lasts_s else ""
        )
