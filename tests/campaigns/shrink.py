"""Make the fault list of a failing seed as short as it can be: delta debugging (Zeller and Hildebrandt 2002).

Each fault is drawn from a stream of its own, so what is left away changes nothing of the others. A list has failed
when the same rule is broken, whatever else is.
"""

from collections.abc import Callable, Sequence

from msgspec.structs import replace

from tests.campaigns.draw import Case, draw_faults, setting_of


def shrink(case: Case, fails: Callable[[Case], bool], most_runs: int = 60) -> Case:
    """Return the case with the fewest faults that were found to fail still."""
    kept = [fault.index for fault in draw_faults(case, setting_of(case).chamber)]
    runs = 0

    def still_fails(chosen: Sequence[int]) -> bool:
        nonlocal runs
        runs += 1
        return runs <= most_runs and fails(replace(case, kept=tuple(chosen)))

    if still_fails([]):
        return replace(case, kept=())
    parts = 2
    while len(kept) >= 2:
        size = max(len(kept) // parts, 1)
        pieces = [kept[at : at + size] for at in range(0, len(kept), size)]
        smaller = _smaller(kept, pieces, still_fails)
        if smaller is not None:
            kept, parts = smaller, max(parts - 1, 2)
        elif size == 1:
            break
        else:
            parts = min(2 * parts, len(kept))
    return replace(case, kept=tuple(kept))


def _smaller(
    kept: list[int], pieces: list[list[int]], still_fails: Callable[[Sequence[int]], bool]
) -> list[int] | None:
    for piece in pieces:
        rest = [index for index in kept if index not in piece]
        if rest and len(pieces) > 1 and still_fails(rest):
            return rest
    return None
