"""The thermal cut-out of a modelled chamber counts as tested at the beginning of its run: nothing can burn there.

On real hardware nobody but a person who has seen it open may say so; a shipped chamber file leaves the day out.
"""

from datetime import UTC, datetime

from msgspec.structs import replace

from controller.settings.chamber_file import ChamberFile


def with_tested_cutout(file: ChamberFile, begin_wall_s: float) -> ChamberFile:
    """Return a chamber that has a cut-out with the day of its test; the day that its file tells stays.

    Args:
        file: as it was read. Without a cut-out it stays as it is: no heat is given in the model either.
        begin_wall_s: when the simulated run begins; its day in UTC.
    """
    if file.thermal_cutout_c is None or file.cutout_tested_on is not None:
        return file
    return replace(file, cutout_tested_on=datetime.fromtimestamp(begin_wall_s, UTC).date())
