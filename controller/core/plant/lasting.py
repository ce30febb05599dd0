"""A limit with a delay and a deadband: raised after it was exceeded for so long, over only when it is clearly met."""


def since(began_s: float | None, now_s: float, for_s: float, *, beyond: bool, back: bool) -> float | None:
    """Return since when a limit is exceeded; None where it is not.

    Args:
        began_s: what this returned at the last look.
        now_s: the monotonic clock.
        for_s: after so long it is raised; from then on only `back` ends it.
        beyond: the limit is exceeded now.
        back: the value is clearly inside again, by more than its deadband.
    """
    if beyond:
        return now_s if began_s is None else began_s
    if began_s is None or back or now_s - began_s < for_s:
        return None
    return began_s


def is_raised(began_s: float | None, now_s: float, for_s: float) -> bool:
    """Say whether it has lasted long enough."""
    return began_s is not None and now_s - began_s >= for_s


def spoken(seconds: float) -> str:
    """Return a time as a person says it: in minutes, from two hours on in hours."""
    return f"{seconds / 60.0:.0f} min" if seconds < 7200.0 else f"{seconds / 3600.0:.1f} h"  # noqa: PLR2004 - two hours
