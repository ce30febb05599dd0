"""What the slow rules remember from one tick to the next; it hangs on the monotonic clock and is begun afresh."""

from typing import Literal

from msgspec import Struct

from controller.core.plant.memory import PlantWatch
from controller.core.values import Channel


class TripWatch(Struct, frozen=True, gc=False):
    """Remember how many readings in a row were at the trip or above, and when the newest of them was taken."""

    readings: int = 0
    newest_s: float = float("-inf")


class AgreeWatch(Struct, frozen=True, gc=False):
    """Remember since when the witnesses disagree, until they have been seen to agree, and what was made of it."""

    apart_since_s: float | None = None
    beyond_since_s: float | None = None  # Since when they are beyond the limit, and not only not yet well within it.
    apart_row: str = ""
    doubt_since_s: float | None = None  # Since when they are so far apart that one may be wrong,
    doubt_at_c: float = 0.0  # the coldest of them showing this then,
    doubted: bool = False  # and that this has lasted,
    lead_k: float = 0.0  # with another one so much warmer than the leading one at most, until they agree well again.
    silent_since_s: float | None = None  # Since when fewer than two of them speak.
    wary: bool = False  # They have been apart or doubted, and have not agreed well since.


Pulse = Literal["", "lamp on", "lamp off", "cold on"]


class FrozenWatch(Struct, frozen=True, gc=False):
    """Remember since when a lonely thermometer shows the same number, and what should have moved it since."""

    value: float | None = None
    since_s: float = 0.0
    lamp_on: bool = False  # The present phase of the lamp,
    phase_s: float = 0.0  # since when it lasts,
    moved_k: float = 0.0  # and what it should have done to the air.
    edges: int = 0  # Phases that ended and should have moved the number.
    pulse: Pulse = ""  # What is switched for the purpose,
    pulse_s: float = 0.0  # since then,
    pulse_until_s: float = 0.0  # until then,
    on_total_s: float = 0.0  # with the counter of the output at this;
    given: bool = False  # that it was really given.
    next_s: float = float("-inf")  # Not to be tried again before.
    found: str = ""  # What did not move it.


class ReturnWatch(Struct, frozen=True, gc=False):
    """Remember what a lonely thermometer showed last, so that one that comes back elsewhere is not believed."""

    last_c: float = 0.0
    last_s: float = float("-inf")
    duty: float = 0.0  # Of the lamp, at that time.
    silent_since_s: float | None = None  # Since when nothing good comes.
    door: bool = False  # Somebody has been at the door since.
    far_until_s: float = float("-inf")  # It came back too cold; said until then.
    far_c: float = 0.0
    untold: bool = False  # A gap lies between, and nobody knows yet how long it was.
    came_s: float | None = None  # When it has spoken again meanwhile, and shown `far_c`.
    due: bool = False  # That is known since, and what it shows now is to be judged.


class DamageWatch(Struct, frozen=True, gc=False):
    """Remember the sensors that gave too many damaged readings: since when they give few, None while they do not."""

    doubtful: tuple[tuple[Channel, float | None], ...] = ()


class PairWatch(Struct, frozen=True, gc=False):
    """Remember since when two humidity sensors are apart, and since when they are far apart."""

    since_s: float | None = None
    far_since_s: float | None = None


class WetWatch(Struct, frozen=True, gc=False):
    """Remember since when the humidity sensor is saturated, and what it showed before an empty box got warmer."""

    since_s: float | None = None
    lowest_c: float | None = None  # In the empty box, since the mist ended:
    lowest_pct: float = 0.0  # the humidity at that time.
    rose_s: float | None = None  # Since when it is a kelvin warmer.
    wet: bool = False
    warmed: bool = False  # It was found by the warming, and not by half an hour of saturated air.


class OutsideWatch(Struct, frozen=True, gc=False):
    """Remember since when the air is as warm as the room, with the lamp's counter at that time."""

    since_s: float | None = None
    on_total_s: float = 0.0


class HeatWatch(Struct, frozen=True, gc=False):
    """Remember since when full power is given, the lowest temperature since, and the rise that should have come."""

    full_since_s: float | None = None
    lowest_c: float = 0.0
    expected_k: float = 0.0
    wanted_c: float = 0.0
    first_c: float = 0.0  # The temperature when full power began.
    found: bool = False  # It was found to give nothing.


class IdleWatch(Struct, frozen=True, gc=False):
    """Remember since when the heater has been off, and the temperatures since, every two minutes."""

    since_s: float | None = None
    marks: tuple[tuple[float, float], ...] = ()
    found: str = ""  # What was found, until the balance of heat shows that the lamp gives none.
    first_c: float = 0.0  # How warm it was when the heater went off,
    hour_s: float | None = None  # since when it is looked how often the compressor runs all the same,
    hour_runs: int = 0  # and its starts up to then.


class MistWatch(Struct, frozen=True, gc=False):
    """Remember since when mist is given in vain, and how much of it."""

    since_s: float | None = None
    start_pct: float = 0.0
    on_s: float = 0.0
    hour_s: float = float("-inf")  # The present hour of counting water began then,
    hour_on_s: float = 0.0  # with the humidifier's counter at this.


class DoorWatch(Struct, frozen=True, gc=False):
    """Remember since when the door has been open, when it was shut last, and since when it never was for long."""

    since_s: float | None = None
    shut_s: float = float("-inf")
    busy_s: float | None = None  # Opened again and again since, each time before the air had settled.


class MachineWatch(Struct, frozen=True, gc=False):
    """Remember of the computer what outlives the program, but not the boot: when its supply was weak, and a reset."""

    low: bool = False  # The supply was too weak when it was asked last,
    low_since_s: float = float("-inf")  # since then,
    low_times_s: tuple[float, ...] = ()  # and so often in the last hour.
    hot: bool = False
    filling: bool = False
    reset_told: bool = False  # That the watchdog has caused this boot.


class Watch(Struct, frozen=True, gc=False):
    """Remember what each of the slow rules needs."""

    trip: TripWatch = TripWatch()
    agree: AgreeWatch = AgreeWatch()
    heat: HeatWatch = HeatWatch()
    idle: IdleWatch = IdleWatch()
    mist: MistWatch = MistWatch()
    door: DoorWatch = DoorWatch()
    machine: MachineWatch = MachineWatch()
    plant: PlantWatch = PlantWatch()
    frozen: FrozenWatch = FrozenWatch()
    back: ReturnWatch = ReturnWatch()
    damage: DamageWatch = DamageWatch()
    pair: PairWatch = PairWatch()
    wet: WetWatch = WetWatch()
    outside: OutsideWatch = OutsideWatch()
