"""The profile: read, checked, and handed on as what the deciding part goes by.

All problems of a file are told together, each on a line with file, key, value and what would be right.
"""

from pathlib import Path

from controller.core.plan import Recipe, Stage, Until
from controller.settings.fit import ChosenProfile, adapt, fits
from controller.settings.profile_checks import check_profile
from controller.settings.profile_tables import ProfileFile, StageTable, usual_where
from controller.settings.reader import read_table
from controller.settings.shipped import find_profile, shipped_names
from controller.settings.units import to_c

__all__ = ["ChosenProfile", "adapt", "find_profile", "fits", "read_profile", "shipped_names"]

DECIMALS = 3
"""Of a °C that was typed in °F: 36.001 °C for 96.8 °F helps nobody."""


def read_profile(path: Path) -> ChosenProfile:
    """Return the profile, checked by itself; whether a chamber can do it is for `fits` and `adapt`.

    Raises:
        SettingsError: one line for each problem.
        NoInputError: there is no such file.
        AccessError: it may not be read.
    """
    table = read_table(path, ProfileFile)
    check_profile(table)
    table.problems.raise_all()
    file = table.build(ProfileFile)
    return ChosenProfile(
        name=file.name,
        title=file.title,
        style=file.style,
        cure=file.cure,
        starter=file.starter,
        starter_temp_c=file.starter_temp_c or (0.0, 0.0),
        kill_step=file.kill_step,
        mould=file.mould,
        per_kg=Recipe(
            salt_pct=file.per_kg.salt_pct,
            cure_pct=file.per_kg.cure_pct,
            dextrose_pct=file.per_kg.dextrose_pct,
            starter_g_per_kg=0.0 if file.starter == "none" else file.per_kg.starter_g_per_kg,
        ),
        stages=tuple(_stage(stage) for stage in file.stage),
        file=path.name,
        movable=tuple(stage.name for stage in file.stage if stage.elsewhere_if_unfit),
        typed_f=tuple(stage.name for stage in file.stage if stage.air_temp_f is not None),
    )


def _stage(stage: StageTable) -> Stage:
    until = stage.until
    temp_c = stage.air_temp_c if stage.air_temp_f is None else round(to_c(stage.air_temp_f), DECIMALS)
    return Stage(
        name=stage.name,
        kind=stage.kind,
        until=Until(
            ph_at_most=until.ph_at_most,
            hours=until.hours,
            weight_loss_pct=until.weight_loss_pct,
            core_temp_c=until.core_temp_c,
            confirm=until.confirm,
        ),
        where=stage.where or usual_where(stage.kind),
        air_temp_c=temp_c,
        rh_pct=stage.rh_pct,
        fan_min_per_h=stage.fan_min_per_h,
        fresh_air_min_per_day=stage.fresh_air_min_per_day,
        ramp_h=stage.ramp_h,
        at_least_h=stage.at_least_h,
        at_most_h=stage.at_most_h,
        ph_due_h=stage.ph_due_h,
        note=stage.note,
    )
