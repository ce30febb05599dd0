"""What stands around the program on one machine: its service, who may do what, the disk of the records, the clock."""

from msgspec import Struct


class Service(Struct, frozen=True):
    """Hold how the daemon's unit stands. None: it cannot be told here."""

    installed: str = ""  # The unit's file; empty where there is none.
    enabled: bool = False  # It starts with the machine.
    active: bool | None = None  # It runs now.
    relays_off_after: bool = False  # The unit switches all relays off after any end.
    watchdog_s: str = ""  # As the unit says it; empty where it does not.


class Rights(Struct, frozen=True):
    """Hold who may do what. None: it cannot be told, mostly because there is nothing yet to be asked about."""

    who: str
    reads_batches: bool | None = None
    gives_orders: bool | None = None
    daemon_user: bool = False  # There is a user `hangroom`.
    chip_groups: tuple[str, ...] = ()  # The groups of the GPIO chips; empty where there is no chip.
    chip_open_to_group: bool | None = None
    daemon_opens_chip: bool | None = None  # By its groups, or those that the unit adds.


class Disk(Struct, frozen=True):
    """Hold on what the records lie."""

    filesystem: str = ""
    device: str = ""
    options: tuple[str, ...] = ()


class Surroundings(Struct, frozen=True):
    """Hold all of it."""

    service: Service
    rights: Rights
    disk: Disk
    network_time: bool = False  # The network has told this machine the time since it was started.
    battery_clock_runs: bool | None = None  # None: there is none.
