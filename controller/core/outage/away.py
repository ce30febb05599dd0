"""What a time without the program leaves with a batch, and with the program itself, until it is answered."""

from msgspec import Struct

from controller.core.outage.warmth import Warmth


class Cut(Struct, frozen=True, gc=False):
    """Hold one time in which the program was not running: when it was over, how long it was, and in which stage."""

    back_s: float  # In elapsed seconds of the batch.
    lasted_s: float
    stage_index: int
    power: bool = True  # It was no mere crash: the machine had gone too.
    answered: bool = False  # A person has seen its alarm, or has let the batch go on: it counts for no later one.
    bounded: bool = False  # It was that long at most by the cooling: a clock may still tell how long.


class Away(Struct, frozen=True, gc=False):
    """Hold what the cuts of a batch still ask for.

    Attributes:
        cuts: the newest ones, for what a day has seen of them.
        counted: how many cuts of the stage nobody has answered, also where they are not among the newest,
        counted_s: how long they were together,
        counted_in: and in which stage; None where an older program has not added them up.
        unseen: a stage does not end by time until somebody has seen the alarm of the last cut.
        ph_after_s: a ferment does not end without a pH that was typed in after this elapsed second.
        asks: what is wanted before a person may go on with a batch that waits: nothing, a reason, or a pH and a reason,
        asks_since_s: and since when, in elapsed seconds of the batch.
        bound_s: of open gaps so much is counted for the time being, as long as they can have been by the cooling,
        bound_c: at this temperature,
        bound_error_k: with this error added;
        holes: and so many of them have no bound,
        decided: over so many of which a person has let the batch go on.
        since_s: the elapsed second of the first of the open gaps; None without one,
        since_in: in which stage that was,
        shared: and there had been another before the batch began, which a clock will tell together with its own.
        gave: a cut whose length nobody knew was let go on by its cooling: a clock that tells more may take that back.
    """

    cuts: tuple[Cut, ...] = ()
    counted: int = 0
    counted_s: float = 0.0
    counted_in: int | None = None
    unseen: bool = False
    ph_after_s: float | None = None
    asks: str = ""  # "", "reason" or "ph".
    asks_since_s: float = 0.0
    bound_s: float = 0.0
    bound_c: float | None = None
    bound_error_k: float = 0.0
    holes: int = 0
    decided: int = 0
    since_s: float | None = None
    since_in: int | None = None
    shared: bool = False
    gave: bool = False


class Back(Struct, frozen=True, gc=False):
    """Hold what is still to be found out after the program came back.

    Attributes:
        warmth: how warm the chamber had been at the checkpoint.
        known_s: seconds since that checkpoint that are known: the program ran, or a clock told.
        older_s: so much older than usual the checkpoint can be.
        unknown: nobody knows yet how long the program was away.
        looked: the thermometers have been asked; without a bound it waits only for a clock now.
        called: batches about which a person was called meanwhile.
    """

    warmth: Warmth
    known_s: float = 0.0
    older_s: float = 0.0
    unknown: bool = False
    looked: bool = False
    called: tuple[str, ...] = ()


class Starts(Struct, frozen=True, gc=False):
    """Hold how the program came to start, on clocks that no step of the wall can touch.

    Attributes:
        boots_ago_s: how long before this start of the program each of the last hour's boots was that followed no stop.
        crashes_s: monotonic instants at which it started though it had not been stopped; below 0 before this boot.
        untold: the row of the trouble by which this start could not be written down; empty where it could.
    """

    boots_ago_s: tuple[float, ...] = ()
    crashes_s: tuple[float, ...] = ()
    untold: str = ""
