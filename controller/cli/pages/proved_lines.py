"""When each safety layer of a chamber was last seen to work, or that nobody has ever seen it."""

from collections.abc import Iterator
from pathlib import Path

from controller.cli.pages.sounder_lines import read_sounder
from controller.cli.say import fold, show_time
from controller.errors import AccessError, DataError
from controller.planning.setting_up.first_light import SOUNDER, layers_of
from controller.records.proofs import Outcome, Proof, Standing, read_proofs, standing_of
from controller.settings.chamber_tables import ChamberFile
from controller.settings.units import Units, show_temp


def tell_proved(file: ChamberFile) -> Iterator[str]:
    """Yield the section of the page about first light, at most 80 columns wide."""
    yield "First light: each safety layer, and when somebody last saw it work"
    try:
        proofs = proofs_of(file)
    except (AccessError, DataError) as error:
        yield from fold(f"The record could not be read: {error}", "  ")
        return
    for layer in layers_of(file):
        yield from fold(
            f"{layer.title}: {tell_standing(standing_of(proofs, layer.id), file.timezone, file.units)}.", "      ", "  "
        )
    yield "  hangroom setup --first-light leads through them."


def proofs_of(file: ChamberFile) -> list[Proof]:
    """Return all proofs of a chamber in the order in which they were kept, for a Pi's clock may have been wrong.

    The daemon has a record of its own of when the sounder was heard; where that is newer, it comes last.

    Raises AccessError, DataError.
    """
    proofs = read_proofs(Path(file.state_dir))
    sounder = read_sounder(Path(file.state_dir))
    last_s = max((proof.wall_s for proof in proofs if proof.layer == SOUNDER), default=float("-inf"))
    if sounder.tried_wall_s is not None and sounder.tried_wall_s > last_s:
        heard: Outcome = "yes" if sounder.heard else "no"
        proofs.append(Proof(wall_s=sounder.tried_wall_s, layer=SOUNDER, outcome=heard, actor=sounder.by))
    return proofs


def tell_standing(standing: Standing, timezone: str, units: Units) -> str:
    """Return how one layer stands, as part of a sentence."""
    if standing.failed is not None:
        note = f" ({standing.failed.note})" if standing.failed.note else ""
        return f"DID NOT WORK {_when(standing.failed, timezone)}{note}: no heat before it does"
    if standing.proven is None:
        return "never proven"
    temp = "" if standing.proven.temp_c is None else f", at {show_temp(standing.proven.temp_c, units)}"
    return f"proven {_when(standing.proven, timezone)}{temp}"


def _when(proof: Proof, timezone: str) -> str:
    return f"{show_time(proof.wall_s, timezone)} by {proof.actor or 'somebody'}"


def as_list(file: ChamberFile) -> list[dict[str, object]] | None:
    """Return the same for programs; None where the record cannot be read."""
    try:
        proofs = proofs_of(file)
    except (AccessError, DataError):
        return None
    found: list[dict[str, object]] = []
    for layer in layers_of(file):
        standing = standing_of(proofs, layer.id)
        found.append({"layer": layer.id, "proven": standing.proven, "failed": standing.failed})
    return found
