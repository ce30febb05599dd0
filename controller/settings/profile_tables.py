"""The tables of a profile as they stand on disk: what goes into the bowl, and the stages one after another."""

from typing import Annotated, Final, Literal

from msgspec import Meta, Struct

from controller.core.plan import StageKind, Where


class PerKgTable(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Hold what goes into the bowl, in per cent of the meat; of the starter in grams for each kg.

    Salt of 2.4 to 3.0 % is usual; the bounds only catch slips. Common practice, no source.
    """

    salt_pct: Annotated[float, Meta(ge=1.5, le=6)]
    cure_pct: Annotated[float, Meta(ge=0, le=4)]  # Weak nitrite salts are used at 2 to 3 %.
    dextrose_pct: Annotated[float, Meta(ge=0, le=2)]
    starter_g_per_kg: Annotated[float, Meta(ge=0, le=20)] = 0.25


class UntilTable(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Hold what ends a stage; all that is given must hold."""

    ph_at_most: float | None = None
    hours: Annotated[float, Meta(gt=0, le=10_000)] | None = None
    weight_loss_pct: Annotated[float, Meta(ge=5, le=60)] | None = None
    core_temp_c: Annotated[float, Meta(ge=40, le=95)] | None = None
    confirm: bool = False


PERSONS_KINDS: Final[frozenset[StageKind]] = frozenset({"smoke", "cook", "chill"})
"""What a person does elsewhere: in a smoker, in steam, in cold water."""


def usual_where(kind: StageKind) -> Where:
    """Return where a stage of this kind is done when the profile does not say it."""
    return "elsewhere" if kind in PERSONS_KINDS else "chamber"


class StageTable(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Hold one stage. `elsewhere_if_unfit` lets it go on elsewhere where a chamber cannot do it."""

    name: str
    kind: StageKind
    until: UntilTable
    where: Where | None = None  # Left out: as `usual_where` says.
    elsewhere_if_unfit: bool = False
    air_temp_c: Annotated[float, Meta(ge=-5, le=120)] | None = None
    air_temp_f: Annotated[float, Meta(ge=23, le=248)] | None = None
    rh_pct: Annotated[float, Meta(ge=30, le=99)] | None = None
    fan_min_per_h: Annotated[float, Meta(ge=0, le=60)] = 0.0
    fresh_air_min_per_day: Annotated[float, Meta(ge=0, le=1440)] = 0.0
    ramp_h: Annotated[float, Meta(ge=0, le=240)] = 0.0
    at_least_h: Annotated[float, Meta(ge=0, le=10_000)] = 0.0
    at_most_h: Annotated[float, Meta(gt=0, le=10_000)] | None = None
    ph_due_h: tuple[float, ...] = ()
    note: str = ""


class ProfileFile(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Hold one whole profile, checked."""

    name: str
    title: str
    style: Literal["raw-dried", "cooked"]
    cure: Literal["1", "2", "other"]
    starter: Literal["mesophilic", "thermotolerant", "none"]
    starter_temp_c: tuple[float, float] | None = None
    kill_step: str = ""
    mould: bool = False
    per_kg: PerKgTable
    stage: tuple[StageTable, ...]
