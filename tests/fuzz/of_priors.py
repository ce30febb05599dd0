"""The file of learned priors, spoiled: forecasts use it or say why not, and never end."""

import random
from pathlib import Path

from controller.errors import HangroomError
from controller.review.forecast.folder import outlook
from controller.review.forecast.told import words_of
from controller.review.priors.kept import FILE, AcidPrior, DryingPrior, LeftOut, Priors, encode_priors, read_priors
from tests.fuzz.harness import Target, require_readable
from tests.fuzz.of_files import spoiled_toml
from tests.helpers.batch_logs import Log
from tests.helpers.makers import leave

GOOD = Priors(
    on="2026-02-01T00:00:00Z",
    by="anna",
    acid=(
        AcidPrior(culture="mesophilic", batches=("a", "b", "c"), slope=0.1, slope_spread=0.1, lag=0.2, lag_spread=0.1),
    ),
    drying=(DryingPrior(chamber="bench", batches=("a", "b", "c"), days=-0.3, days_spread=0.1),),
    left_out=(LeftOut(batch="d", because="the fan", by="anna", on="2026-02-01"),),
)


class PriorFiles(Target):
    """Forecast a ferment beside a spoiled file."""

    name = "priors"
    share = 0.2

    def prepare(self, folder: Path) -> None:
        """Leave a ferment of six hours."""
        log = Log().event(0.0, "hang").minutes(0.0, 6.0, 24.0, set_c=24.0, every_min=10.0).reading(0.0, "ph", 5.75)
        self._home, self._batch = folder, leave(folder, "b", log)
        self._goods = [encode_priors(GOOD).encode()]

    def make(self, rng: random.Random) -> bytes:
        """Return a spoiled file."""
        return spoiled_toml(rng, self._goods)

    def of_bytes(self, data: bytes) -> bytes:
        """Return them as the file."""
        return data

    def feed(self, made: bytes) -> bool:
        """Forecast, and read it as the verb that learns does."""
        (self._home / FILE).write_bytes(made)
        seen = outlook(self._batch)
        require_readable(seen.why_not or "-")
        for one in seen.forecasts:
            require_readable(words_of(one, seen.timezone))
            assert one.quantiles_s is None or list(one.quantiles_s) == sorted(one.quantiles_s)
        try:
            read_priors(self._home / FILE)
        except HangroomError:
            return False
        return True
