"""What the slow rules remember from one tick to the next; it hangs on the monotonic clock and is begun afresh."""

from msgspec import Struct


class TripWatch(Struct, frozen=True, gc=False):
    """Remember how many readings in a row were at the trip or above, and when the newest of them was taken."""

    readings: int = 0
    newest_s: float = float("-inf")


class AgreeWatch(Struct, frozen=True, gc=False):
    """Remember since when the witnesses disagree, until they have been seen to agree, and what was made of it."""

    apart_since_s: float | None = None
    apart_row: str = ""


class HeatWatch(Struct, frozen=True, gc=False):
    """Remember since when full power is given, the lowest temperature since, and the rise that should have come."""

    full_since_s: float | None = None
    lowest_c: float = 0.0
    expected_k: float = 0.0


class IdleWatch(Struct, frozen=True, gc=False):
    """Remember since when the heater has been off, and the temperatures since, every two minutes."""

    since_s: float | None = None
    marks: tuple[tuple[float, float], ...] = ()


class MistWatch(Struct, frozen=True, gc=False):
    """Remember since when mist is given in vain, how much of it, and since when the humidity sensor is saturated."""

    since_s: float | None = None
    start_pct: float = 0.0
    on_s: float = 0.0
    hour_s: float = float("-inf")  # The present hour of counting water began then,
    hour_on_s: float = 0.0  # with the humidifier's counter at this.
    saturated_since_s: float | None = None


class DoorWatch(Struct, frozen=True, gc=False):
    """Remember since when the door has been open."""

    since_s: float | None = None


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
