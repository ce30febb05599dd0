"""Finished batches of invented makers whose starter and chamber differ from the recipe's, as folders on disk.

pH and weights are those of the mechanistic models (tests.bench.priors), the climate is held as it was wanted.
"""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Final

from msgspec.structs import replace

from controller.core.plan import Profile, Until
from controller.core.sheet import Sheet
from controller.records.batch_folder import CARD, encode_card, read_card
from tests.bench.priors import TEMP_C, drying, ferment
from tests.helpers.batch_logs import Log, text_of
from tests.helpers.recorded import PROFILE

WARM, FERMENT, _, DRY = PROFILE.stages
RAW: Final = replace(
    PROFILE,
    stages=(WARM, replace(FERMENT, air_temp_c=TEMP_C, until=Until(ph_at_most=5.25)), replace(DRY, rh_pct=78.0)),
)
"""A ferment at 24 °C, then drying at 13 °C and 78 %RH until 35 % are lost."""
FERMENTED_H: Final = 96.0
DAY_H: Final = 24.0
GREEN_G: Final = 400.0
Change = Callable[[Log], object]


def raw_log(
    shift: Sequence[float] = (0.0, 0.0), days_ln: float = 0.0, seed: int = 1, *, every_min: float = 10.0
) -> Log:
    """Return a whole batch: slope and wait of the pH's fall, days of drying, off the recipe's by these logarithms."""
    log = Log(every_s=60.0 * every_min).event(0.0, "hang").event(0.05, "stage", "hang")
    log.minutes(0.0, FERMENTED_H, TEMP_C, set_c=TEMP_C, every_min=every_min)
    for at_h, ph in ferment(round(shift[0], 6), round(shift[0] + shift[1], 6), seed):
        log.reading(at_h, "ph", round(ph, 2))
    log.event(FERMENTED_H, "stage", "until").reading(FERMENTED_H, "weight", GREEN_G, piece="A")
    weighed = drying(round(days_ln, 6), seed)
    end_h = FERMENTED_H + weighed[-1][0] * DAY_H
    log.minutes(FERMENTED_H, end_h, 13.0, stage="dry", set_c=13.0, rh_pct=78.0, every_min=every_min)
    for day, loss_pct in weighed:
        log.reading(FERMENTED_H + day * DAY_H, "weight", round(GREEN_G * (1.0 - loss_pct / 100.0), 1), piece="A")
    return log.event(end_h + 0.1, "end", "complete")


def leave(
    state_dir: Path,
    name: str,
    log: Log,
    *,
    profile: Profile = RAW,
    sheet: Sheet | None = None,
    began_day: int = 0,
    chamber: str = "bench",
) -> Path:
    """Put a batch into a state folder under a name of its own."""
    folder = log.write(state_dir / "batches" / name, profile, sheet)
    card = read_card(folder)
    head = replace(card.batch, id=name, began=text_of(began_day * DAY_H))
    changed = replace(card, batch=head, chamber=replace(card.chamber, name=chamber))
    (folder / CARD).write_bytes(encode_card(changed))
    return folder
