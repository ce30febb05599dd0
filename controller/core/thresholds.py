"""The figures of the fault table, all of them settings: `[faults]` of the chamber file, with defaults.

Every default is common practice, no source, unless noted. Row ids stand at the end of each line. The ranges keep a rule
a rule: none can be set so that it never speaks.
"""

from typing import Annotated

from msgspec import Meta, Struct

Soon = Annotated[float, Meta(ge=1, le=120)]
Minutes = Annotated[float, Meta(ge=60, le=7200)]
Hours = Annotated[float, Meta(ge=600, le=172_800)]
Kelvin = Annotated[float, Meta(ge=0.1, le=10)]
Percent = Annotated[float, Meta(ge=1, le=100)]
Count = Annotated[int, Meta(ge=1, le=100)]
Share = Annotated[float, Meta(ge=0.05, le=1)]


class Thresholds(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Hold the thresholds of the slow rules. Units stand last in each name; shares are 0 to 1."""

    damaged_in_a_row: Count = 3  # S2
    damaged_of_100: Count = 20  # S2
    frozen_move_k: Kelvin = 0.5  # S6
    frozen_rh_s: Minutes = 3600.0  # S6
    provoke_after_s: Hours = 7200.0  # S6
    provoke_s: Minutes = 120.0  # S6: the lamp is switched for so long,
    provoked_within_s: Minutes = 600.0  # S6: and within this the number must have changed.
    jump_rh_pct: Percent = 20.0  # S7, in 30 s.
    doubt_k: Kelvin = 1.5  # S9: a warning,
    doubt_s: Minutes = 600.0  # S9: after so long.
    apart_s: Minutes = 300.0  # S9, above `agree_k`.
    rh_doubt_pct: Percent = 5.0  # S10
    rh_apart_pct: Percent = 10.0  # S10
    rh_apart_s: Minutes = 1800.0  # S10
    saturated_s: Minutes = 1800.0  # S11
    wet_hours: Annotated[float, Meta(ge=12, le=1000)] = 72.0  # S12: hours above
    wet_above_pct: Percent = 85.0  # S12: this.
    feedback_s: Soon = 5.0  # A1: voltage at the lamp so long after it was switched off.
    idle_s: Minutes = 600.0  # A1: off for so long,
    idle_rise_k: Kelvin = 0.3  # A1: and still this rise in it,
    idle_share: Share = 0.25  # A1: with so much of the lamp's power flowing in where the room is measured,
    idle_share_room: Share = 0.5  # A1: or so much where it is only known from the chamber file.
    too_hot_k: Kelvin = 3.0  # A2: above what is wanted,
    too_hot_s: Minutes = 300.0  # A2: for so long.
    deadband_k: Kelvin = (
        0.5  # A2, P4: so much nearer before it is over. EEMUA 191, 1 % of a span of 50 K (second-hand).
    )
    deadband_pct: Percent = 2.0  # A6, P4: the same for humidity.
    heat_watched_s: Minutes = 1200.0  # A3
    heat_expected_k: Kelvin = 3.0  # A3
    heat_gained_k: Kelvin = 0.5  # A3: eight steps of a DS18B20.
    no_current_s: Soon = 10.0  # A3, A4, A8
    mist_watched_s: Minutes = 1800.0  # A5
    mist_lift_pct: Annotated[float, Meta(ge=10, le=1000)] = 100.0  # A5: walls and leaks take what single pulses bring.
    wet_without_mist_s: Minutes = 900.0  # A6
    wet_without_mist_pct: Percent = 5.0  # A6
    wet_rise_pct: Percent = 2.0  # A6
    cold_watched_s: Hours = 7200.0  # A7
    cold_gained_k: Kelvin = 0.3  # A7, in an hour; A8.
    evaporator_c: Annotated[float, Meta(ge=-40, le=-5)] = -15.0  # A7
    start_watched_s: Minutes = 1200.0  # A8: of running; one that runs cools such a box by kelvins in minutes.
    fan_still_s: Soon = 30.0  # A9
    fan_spread_k: Kelvin = 2.0  # A9: further apart than usual,
    fan_spread_s: Minutes = 600.0  # A9: for so much stirring.
    closings_per_h: Annotated[float, Meta(ge=1, le=1000)] = 15.0  # A11, of a mechanical relay.
    starts_per_h: Annotated[float, Meta(ge=1, le=1000)] = 8.0  # A11, of a compressor.
    relay_life: Annotated[float, Meta(ge=1000, le=100_000_000)] = (
        100_000.0  # A12: operations; IEC 61810-2 speaks of a mean, no guaranteed minimum.
    )
    relay_life_share: Annotated[float, Meta(ge=0.01, le=1)] = 0.8  # A12
    door_s: Minutes = 600.0  # P1
    door_long_s: Minutes = 1800.0  # P1
    door_settles_s: Minutes = 1200.0  # P1: slow rules rest so long after it was shut.
    reach_s: Minutes = 3600.0  # P2: at full power for so long,
    reach_more_s: Hours = 57_600.0  # P2: and more than this still to come, at the pace of that time.
    reach_k: Kelvin = 2.0  # P2
    reach_pct: Percent = 5.0  # P2
    off_k: Kelvin = 2.0  # P4
    off_s: Minutes = 900.0  # P4
    off_pct: Percent = 5.0  # P4
    off_rh_s: Minutes = 1800.0  # P4
    cold_c: Annotated[float, Meta(ge=-5, le=5)] = 1.0  # P6
    cold_k: Kelvin = 4.0  # P6
    cold_s: Minutes = 600.0  # P6
    damp_pct: Percent = 10.0  # P7: above what is wanted,
    damp_s: Hours = 21_600.0  # P7: for so long,
    mould_pct: Percent = 90.0  # P7: or above this,
    mould_s: Hours = 43_200.0  # P7: for so long.
    dry_pct: Percent = 10.0  # P8: below what is wanted,
    dry_s: Hours = 21_600.0  # P8: for so long.
    nearer_pct: Percent = 5.0  # P7, P8: so much nearer before it is over.
    ticks_late: Count = 3  # C1
    clock_event_s: Soon = 2.0  # C4
    clock_alarm_s: Soon = 60.0  # C4
    disk_free_mb: Annotated[float, Meta(ge=10, le=10_000)] = 200.0  # C6
    disk_free_share: Annotated[float, Meta(ge=0.01, le=1)] = 0.05  # C6
    slow_write_s: Soon = 5.0  # C8
    supply_calm_s: Soon = 2.0  # C9: no output changes for so long but to off.
    supply_per_h: Count = 10  # C9: more often than this it is priority 2.
    processor_c: Annotated[float, Meta(ge=50, le=100)] = 80.0  # C10
    boots_per_h: Count = 3  # C14
    supply_quiet_s: Minutes = 600.0  # C14
    ph_late_s: Hours = 7200.0  # H2
    outside_s: Minutes = 1800.0  # H9: as warm as the room under heat for so long,
    outside_k: Kelvin = 0.5  # H9: within this.
