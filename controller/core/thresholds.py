"""The figures of the fault table, all of them settings: `[faults]` of the chamber file, with defaults.

Every default is common practice, no source, unless noted. The README prints each line with its range and its unit,
which is the end of its name. The ranges keep a rule a rule: none can be set so that it never speaks.

Sources: `back_by_k` EEMUA 191, 1 % of a span of 50 K (second-hand); `relay_life` IEC 61810-2 speaks of a mean and of no
guaranteed minimum; `heat_gained_k` is eight steps of a DS18B20; `start_watched_s`: a compressor that runs cools such a
box by kelvins in minutes; `mist_lift_pct`: walls and leaks take what single pulses bring.
"""

from typing import Annotated

from msgspec import Meta, Struct

Soon = Annotated[float, Meta(ge=1, le=120)]
Minutes = Annotated[float, Meta(ge=60, le=7200)]
Hours = Annotated[float, Meta(ge=600, le=172_800)]
WetHours = Annotated[float, Meta(ge=12, le=1000)]
Kelvin = Annotated[float, Meta(ge=0.1, le=10)]
Frost = Annotated[float, Meta(ge=-5, le=5)]
Plate = Annotated[float, Meta(ge=-40, le=-5)]
Processor = Annotated[float, Meta(ge=50, le=100)]
Percent = Annotated[float, Meta(ge=1, le=100)]
Lift = Annotated[float, Meta(ge=10, le=1000)]
Count = Annotated[int, Meta(ge=1, le=100)]
PerHour = Annotated[float, Meta(ge=1, le=1000)]
Life = Annotated[float, Meta(ge=1000, le=100_000_000)]
Share = Annotated[float, Meta(ge=0.05, le=1)]
SmallShare = Annotated[float, Meta(ge=0.01, le=1)]
Room = Annotated[float, Meta(ge=10, le=10_000)]


class Thresholds(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Hold the thresholds of the slow rules. Units stand last in each name; shares are 0 to 1.

    Behind each stand the rows of the fault table that it is for, and what it is.
    """

    damaged_in_a_row: Count = 3  # S2: damaged readings in a row
    damaged_of_100: Count = 20  # S2: damaged ones of the last 100
    frozen_move_k: Kelvin = 0.5  # S6: so much another thermometer moved meanwhile
    frozen_rh_s: Minutes = 3600.0  # S6: the same humidity for so long
    provoke_after_s: Hours = 7200.0  # S6: a lonely thermometer stands still for so long
    provoke_s: Minutes = 120.0  # S6: then the lamp is switched for so long
    provoked_within_s: Minutes = 600.0  # S6: and the number has to change within this
    jump_rh_pct: Percent = 20.0  # S7: a leap of the humidity in 30 s
    doubt_k: Kelvin = 1.5  # S9: so far apart is a doubt
    doubt_s: Minutes = 600.0  # S9: after so long
    apart_s: Minutes = 300.0  # S9: so long further apart than agree_k of [limits]
    rh_doubt_pct: Percent = 5.0  # S10: so far apart is a doubt
    rh_apart_pct: Percent = 10.0  # S10: so far apart ends mist and drying
    rh_apart_s: Minutes = 1800.0  # S10: after so long
    saturated_s: Minutes = 1800.0  # S11: saturated air for so long
    wet_hours: WetHours = 72.0  # S12: hours in wet air
    wet_above_pct: Percent = 85.0  # S12: wet is above this
    feedback_s: Soon = 5.0  # A1: voltage at the lamp so long after it was switched off
    idle_s: Minutes = 600.0  # A1: the lamp is off for so long
    idle_rise_k: Kelvin = 0.3  # A1: and the air has risen so much in it
    idle_share: Share = 0.25  # A1: so much of the lamp's power flows in; the room is measured
    idle_share_room: Share = 0.5  # A1: the same where it is known from room_temp_c only
    too_hot_k: Kelvin = 3.0  # A2: so much above what is wanted
    too_hot_s: Minutes = 300.0  # A2: for so long
    back_by_k: Kelvin = 0.5  # A2, P4: over only when it is so much nearer
    back_by_pct: Percent = 2.0  # A6, P4: the same for humidity
    heat_watched_s: Minutes = 1200.0  # A3: full power for so long
    heat_expected_k: Kelvin = 3.0  # A3: figures and load lead one to expect so much
    heat_gained_k: Kelvin = 0.5  # A3: and less than this has come
    no_current_s: Soon = 10.0  # A3, A4, A8: no current or voltage so long after it was switched on
    mist_watched_s: Minutes = 1800.0  # A5: too dry for so long
    mist_lift_pct: Lift = 100.0  # A5: after mist that should have brought so much in all
    wet_without_mist_s: Minutes = 900.0  # A6: no mist was asked for so long
    wet_without_mist_pct: Percent = 5.0  # A6: and it is so much damper than wanted
    wet_rise_pct: Percent = 2.0  # A6: and has risen so much
    cold_watched_s: Hours = 7200.0  # A7: cooling at full power for so long
    cold_gained_k: Kelvin = 0.3  # A7, A8: less than this has come; of A7 in half that time
    evaporator_c: Plate = -15.0  # A7: a plate colder than this, and no fall of the air, is ice
    start_watched_s: Minutes = 1200.0  # A8: running for so long without effect
    fan_still_s: Soon = 30.0  # A9: no turns for so long
    fan_spread_k: Kelvin = 2.0  # A9: so much further apart than usual
    fan_spread_s: Minutes = 600.0  # A9: for so much stirring
    closings_per_h: PerHour = 15.0  # A11: closings of the lamp's mechanical relay
    starts_per_h: PerHour = 8.0  # A11: starts of a compressor
    relay_life: Life = 100_000.0  # A12: operations of a mechanical relay
    relay_life_share: SmallShare = 0.8  # A12: told from this share of them on
    door_s: Minutes = 600.0  # P1: open for so long
    door_long_s: Minutes = 1800.0  # P1: open for so long is priority 1
    door_settles_s: Minutes = 1200.0  # P1: slow rules rest so long after it was shut
    door_busy_s: Hours = 7200.0  # P1: opened within that, over and over, so long (or twice either): no rest
    reach_s: Minutes = 3600.0  # P2: at full power for so long
    reach_more_s: Hours = 57_600.0  # P2: and more than this to go, at the pace of that time
    reach_k: Kelvin = 2.0  # P2: still so much missing
    reach_pct: Percent = 5.0  # P2: the same for humidity
    off_k: Kelvin = 2.0  # P4: so far off what is wanted
    off_s: Minutes = 900.0  # P4: for so long
    off_pct: Percent = 5.0  # P4: the mean humidity of an hour so far off
    off_rh_s: Minutes = 1800.0  # P4: for so long
    cold_c: Frost = 1.0  # P6: below this where no more than 5 °C is wanted
    cold_k: Kelvin = 4.0  # P6: else so much below what is wanted
    cold_s: Minutes = 600.0  # P6: for so long
    damp_pct: Percent = 10.0  # P7: so much damper than wanted
    damp_s: Hours = 21_600.0  # P7: for so long
    mould_pct: Percent = 90.0  # P7: or damper than this
    mould_s: Hours = 43_200.0  # P7: for so long
    dry_pct: Percent = 10.0  # P8: so much drier than wanted
    dry_s: Hours = 21_600.0  # P8: for so long
    nearer_pct: Percent = 5.0  # P7, P8: over only when it is so much nearer
    ticks_late: Count = 3  # C1: a decision so many periods (tick_s) after the last one
    clock_event_s: Soon = 2.0  # C4: a step of the clock that is told
    clock_alarm_s: Soon = 60.0  # C4: a step that is an alarm
    disk_free_mb: Room = 200.0  # C6: less room than this
    disk_free_share: SmallShare = 0.05  # C6: or less than this share of the disk
    slow_write_s: Soon = 5.0  # C8: one write takes so long
    supply_calm_s: Soon = 2.0  # C9: so long no output changes but to off
    supply_per_h: Count = 10  # C9: more often than this is priority 2
    processor_c: Processor = 80.0  # C10: hotter than this
    boots_per_h: Count = 3  # C14: more starts of the machine than this
    supply_quiet_s: Minutes = 600.0  # C14: no heat until it was quiet for so long
    ph_late_s: Hours = 7200.0  # H2: so long after a pH was due
    outside_s: Minutes = 1800.0  # H9: as warm as the room under heat for so long
    outside_k: Kelvin = 0.5  # H9: as warm is within this
