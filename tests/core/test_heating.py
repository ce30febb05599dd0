"""The lamp's loop: what the walls take is given at once, the quick thermometer counts by its changes only."""

from math import exp

import pytest
from msgspec.structs import replace

from controller.core.chamber.climate import control
from controller.core.chamber.heating import CALM, LATELY_S, NEUTRAL_K, heat, neutral_k, ripple_k
from controller.core.memory import Loops
from controller.core.plan import Chamber
from controller.core.values import Known, Wanted
from tests.helpers.bench_chamber import CHAMBER

WANTED_C, ROOM_C = 36.0, 20.0
HOURS_S = 3600.0


def known(
    air_c: float, *, quick_c: float | None = None, slowed_c: float | None = None, room_c: float = ROOM_C
) -> Known:
    """Return air as two thermometers show it; without `quick_c` there is one."""
    slowed = {"air_temp": air_c} if slowed_c is None else {"air_temp": air_c, "rh_temp": slowed_c}
    return Known(air_temp_c=air_c, rh_temp_c=quick_c, slowed_c=slowed, ambient_temp_c=room_c)  # type: ignore[arg-type]


def duty_of(loops: Loops, seen: Known, chamber: Chamber = CHAMBER, dt_s: float = 5.0) -> tuple[Loops, float]:
    assert seen.air_temp_c is not None
    return heat(loops, seen.air_temp_c, seen, WANTED_C, chamber, 10_000.0, dt_s)


def settled_loops(wall_c: float) -> Loops:
    return Loops(wall_c=wall_c, wanted_c=WANTED_C)


def test_a_cold_wall_takes_the_whole_lamp_though_the_air_has_come() -> None:
    _, duty = duty_of(settled_loops(wall_c=30.0), known(WANTED_C))
    assert duty == 1.0


def test_without_a_lamp_nothing_is_asked_and_the_weakest_lamp_is_one() -> None:
    cold = settled_loops(wall_c=20.0)
    without = replace(CHAMBER, outputs=CHAMBER.outputs[1:])
    assert duty_of(cold, known(20.0), without) == (cold, 0.0)
    for power_w, asked in ((0.0, 0.0), (0.5, 1.0)):
        lamp = replace(CHAMBER, figures=replace(CHAMBER.figures, heater_w=power_w))
        assert duty_of(cold, known(20.0), lamp)[1] == asked


def test_where_nothing_measures_the_room_the_middle_of_what_the_chamber_file_says_of_it_counts() -> None:
    chamber = replace(CHAMBER, room_c=(10.0, 22.0))
    blind = replace(known(WANTED_C), ambient_temp_c=None)
    assert duty_of(settled_loops(35.5), blind, chamber) == duty_of(settled_loops(35.5), known(WANTED_C, room_c=16.0))


def test_a_window_is_given_what_the_wall_takes_in_its_middle() -> None:
    """Beside a wall whose warmth stands still (15 W/K from 6 K warmer air, 9 W/K to a room 10 K colder)."""
    figures = replace(CHAMBER.figures, heater_w=300.0, wall_j_per_k=100_000.0, air_wall_w_per_k=15.0, ua_w_per_k=9.0)
    lamp = replace(CHAMBER.outputs[0], window_s=1200.0)
    chamber = replace(CHAMBER, figures=figures, outputs=(lamp, *CHAMBER.outputs[1:]))
    _, still = duty_of(settled_loops(30.0), known(WANTED_C, room_c=20.0), chamber)
    _, warms = duty_of(settled_loops(30.0), known(WANTED_C, room_c=30.0), chamber)
    in_the_end_c = (15.0 * WANTED_C + 9.0 * 30.0) / 24.0
    middle_c = in_the_end_c + (30.0 - in_the_end_c) * exp(-600.0 * 24.0 / 100_000.0)
    assert warms / still == pytest.approx((WANTED_C - middle_c) / (WANTED_C - 30.0), abs=0.01)


def test_a_wall_that_settles_in_half_a_window_gets_half_at_once() -> None:
    """What changes so quickly is left to the loop: a window that gave it all would end far too warm."""
    figures = replace(CHAMBER.figures, heater_w=300.0, wall_j_per_k=7200.0, air_wall_w_per_k=15.0, ua_w_per_k=9.0)
    lamp = replace(CHAMBER.outputs[0], window_s=600.0)
    chamber = replace(CHAMBER, figures=figures, outputs=(lamp, *CHAMBER.outputs[1:]))
    _, duty = duty_of(settled_loops(30.0), known(WANTED_C, room_c=20.0), chamber)
    warms_air_w = duty * figures.heater_w * (1.0 - figures.lamp_radiant)
    assert warms_air_w == pytest.approx(0.5 * 15.0 * (WANTED_C - 30.0))


@pytest.mark.parametrize("wall_j_per_k", [20.0, 4000.0, 100_000.0])
@pytest.mark.parametrize("dt_s", [1.0, 30.0])
def test_the_wall_is_reckoned_as_its_balance_says_to_the_letter_whatever_the_tick(
    wall_j_per_k: float, dt_s: float
) -> None:
    """One mass between air and room, in closed form; the lamp is dark."""
    chamber = replace(CHAMBER, figures=replace(CHAMBER.figures, wall_j_per_k=wall_j_per_k, ua_w_per_k=9.0))
    loops, in_the_end_c = settled_loops(wall_c=30.0), (15.0 * WANTED_C + 9.0 * ROOM_C) / 24.0 + 3.0 * 15.0 / 24.0
    for tick in range(1, 20):
        loops, _ = heat(loops, WANTED_C + 3.0, known(WANTED_C + 3.0), WANTED_C, chamber, 10_000.0, dt_s, allowed=False)
        left = exp(-tick * dt_s * 24.0 / wall_j_per_k)
        assert loops.wall_c == pytest.approx(in_the_end_c + (30.0 - in_the_end_c) * left)


def test_hours_of_a_full_lamp_teach_it_nothing_so_that_the_air_does_not_run_over() -> None:
    strong = replace(CHAMBER, figures=replace(CHAMBER.figures, heater_w=120.0))
    loops = settled_loops(wall_c=31.0)
    for _ in range(1440):
        loops, duty = duty_of(loops, known(31.0), strong)
        assert duty == 1.0
    _, comes = duty_of(loops, known(WANTED_C), strong)
    _, new = duty_of(replace(loops, heat_integral=0.0), known(WANTED_C), strong)
    assert comes == pytest.approx(new, abs=0.01)


def test_what_holds_the_air_is_known_before_the_walls_are_warm() -> None:
    """It is what may burn while the door is open. By hand: UA (air - room) of the lamp's power, and what was learnt."""
    lost = CHAMBER.figures.ua_w_per_k * (WANTED_C - ROOM_C) / CHAMBER.figures.heater_w
    cold_walls, _ = duty_of(settled_loops(wall_c=20.0), known(WANTED_C))
    assert cold_walls.heat_holds == pytest.approx(lost)
    learnt, _ = duty_of(replace(settled_loops(wall_c=20.0), heat_integral=0.1), known(WANTED_C), dt_s=0.0)
    assert learnt.heat_holds == pytest.approx(lost), "walls that take it all leave nothing to what was learnt"
    learnt, _ = duty_of(replace(settled_loops(wall_c=34.5), heat_integral=0.1), known(WANTED_C), dt_s=0.0)
    assert learnt.heat_holds == pytest.approx(lost + 0.1)
    warm_walls, _ = duty_of(replace(settled_loops(wall_c=WANTED_C), heat_integral=0.1), known(WANTED_C), dt_s=0.0)
    assert warm_walls.heat_holds == pytest.approx(0.1), "walls as warm as the air take nothing, and it needs less yet"


def test_after_cold_for_warmth_the_air_comes_back_by_itself_and_dried_air_is_held_by_the_lamp() -> None:
    """In a room as warm as what is wanted, a little too cold: nothing is lost that the lamp would have to give."""
    seen = known(WANTED_C - 0.3, room_c=WANTED_C)
    cooled = replace(settled_loops(wall_c=WANTED_C), last_cool_s=9_000.0)
    assert duty_of(cooled, seen)[1] == 0.0
    assert duty_of(cooled, known(WANTED_C - 1.0, room_c=WANTED_C))[1] > 0.0, "so cold is too cold"
    assert duty_of(replace(cooled, dry_duty=0.3), seen)[1] > 0.0
    assert duty_of(replace(cooled, last_cool_s=10_000.0 - LATELY_S), seen)[1] > 0.0, "that was long ago"


def test_in_the_end_the_air_is_held_by_what_is_lost_to_the_room() -> None:
    """The balance by hand: all that the lamp gives goes through the wall, UA (air of the wall - room)."""
    figures = replace(CHAMBER.figures, wall_j_per_k=100_000.0)  # So thick that all of it is given at once.
    thick = replace(CHAMBER, figures=figures)
    loops, duty = settled_loops(wall_c=30.0), 0.0
    for _ in range(20_000):
        loops, duty = duty_of(loops, known(WANTED_C), thick, dt_s=30.0)
    assert loops.wall_c is not None
    lost_w = figures.ua_w_per_k * (loops.wall_c - ROOM_C)
    on_wall = 1.0 - figures.lamp_radiant * (1.0 - 0.7)  # The rest of its radiation falls on the meat.
    assert duty * figures.heater_w * on_wall == pytest.approx(lost_w, rel=0.02)
    assert loops.heat_integral == pytest.approx(0.0, abs=1e-9), "there was nothing left to learn"


@pytest.mark.parametrize("wall_j_per_k", [1.0, 20.0, 300.0])
def test_a_wall_as_thin_as_foil_is_as_warm_as_air_and_room_make_it_and_lights_no_lamp(wall_j_per_k: float) -> None:
    thin = replace(CHAMBER.figures, wall_j_per_k=wall_j_per_k, air_wall_w_per_k=100.0, ua_w_per_k=30.0)
    chamber, loops, duty = replace(CHAMBER, figures=thin), settled_loops(wall_c=30.0), 1.0
    for _ in range(2000):
        loops, duty = duty_of(loops, known(WANTED_C + 8.0), chamber, dt_s=8.0)
    assert loops.wall_c == pytest.approx((100.0 * (WANTED_C + 8.0) + 30.0 * ROOM_C) / 130.0)
    assert duty == 0.0


def test_what_the_walls_had_is_forgotten_while_nothing_is_wanted() -> None:
    loops, _ = control(settled_loops(wall_c=5.0), known(30.0), Wanted(), None, CHAMBER, 10_000.0, 5.0)
    assert loops.wall_c is None
    blind = replace(known(30.0), air_temp_c=None)
    loops, _ = control(settled_loops(wall_c=5.0), blind, Wanted(WANTED_C), "ferment", CHAMBER, 10_000.0, 5.0)
    assert loops.wall_c == 5.0, "a damaged read is no reason"


def test_a_room_that_gets_colder_is_met_before_the_air_feels_it() -> None:
    loops = settled_loops(wall_c=35.0)
    for _ in range(2000):
        loops, warm = duty_of(loops, known(WANTED_C, room_c=20.0))
    for _ in range(2000):
        loops, cold = duty_of(loops, known(WANTED_C, room_c=10.0))
    more_w = CHAMBER.figures.ua_w_per_k * 10.0
    assert (cold - warm) * CHAMBER.figures.heater_w == pytest.approx(more_w, rel=0.15)


def test_the_quick_thermometer_counts_by_its_changes_and_not_by_where_it_stands() -> None:
    assert known(36.0, quick_c=37.5, slowed_c=37.5).swift_k == 0.0
    assert known(36.0, quick_c=35.0, slowed_c=37.5).swift_k == -2.5
    assert known(36.0, quick_c=20.0, slowed_c=37.5).swift_k == -5.0, "an open door; more is not believed"
    assert known(36.0).swift_k is None
    assert known(36.0, slowed_c=36.0).swift_k is None, "it says nothing good now"


def test_without_the_quick_one_the_slower_gains_are_used() -> None:
    both = replace(CHAMBER, gains=replace(CHAMBER.gains, heat_per_k=0.1, swift_per_k=0.5, swift_ti_s=300.0))
    warm = settled_loops(wall_c=WANTED_C)
    _, slow = duty_of(warm, known(35.5), both)
    _, swift = duty_of(warm, known(35.5, quick_c=35.5, slowed_c=35.5), both)
    assert swift - slow == pytest.approx(0.5 * (0.5 - CALM * 0.1), abs=0.01)


def test_where_only_the_slow_thermometer_speaks_the_lamp_learns_at_leisure() -> None:
    """With the same gains given for both: half of each is a quarter of the pace at which the integral grows."""
    gains = CHAMBER.gains
    both = replace(CHAMBER, gains=replace(gains, swift_per_k=gains.heat_per_k, swift_ti_s=gains.heat_ti_s))
    warm = settled_loops(wall_c=WANTED_C)
    slow, _ = duty_of(warm, known(35.5), both)
    swift, _ = duty_of(warm, known(35.5, quick_c=35.5, slowed_c=35.5), both)
    assert slow.heat_integral == pytest.approx(swift.heat_integral / 4.0)
    assert swift.heat_integral > 0.0


def test_while_the_cold_has_the_chamber_nothing_is_learnt_of_heat() -> None:
    loops, duty = heat(
        replace(settled_loops(34.0), heat_integral=0.1), 35.0, known(35.0), WANTED_C, CHAMBER, 0.0, 5.0, allowed=False
    )
    assert duty == 0.0
    assert loops.heat_integral <= 0.1


def test_far_above_what_is_wanted_no_heat_is_given_though_cold_walls_would_take_it() -> None:
    cold_walls = settled_loops(wall_c=20.0)
    assert duty_of(cold_walls, known(WANTED_C + 1.4))[1] > 0.5
    assert duty_of(cold_walls, known(WANTED_C + 1.5))[1] == 0.0


def test_who_is_cut_off_again_and_again_learns_to_ask_for_less_and_for_no_less_than_nothing() -> None:
    """A strong lamp reaches that far in each long pulse: an integral that stood still would hold the air too warm."""
    loops = replace(settled_loops(wall_c=WANTED_C), heat_integral=0.3)
    for _ in range(720):
        loops, duty = duty_of(loops, known(WANTED_C + 1.6))
        assert duty == 0.0
    assert loops.heat_integral < 0.15
    for _ in range(7200):
        loops, _ = duty_of(loops, known(WANTED_C + 1.6))
    assert loops.heat_integral == pytest.approx(0.0, abs=1e-9)


def test_the_cold_leaves_the_lamp_s_own_pulses_alone_and_takes_over_when_it_is_long_dark() -> None:
    loops = Loops(heat_holds=0.05, last_heat_s=1000.0)
    lifted_k = ripple_k(loops, 1.5, 1005.0, 5.0)
    assert lifted_k == 1.5
    assert neutral_k(loops, lifted_k, 1005.0) == pytest.approx(1.8)
    assert neutral_k(loops, 0.0, 1005.0) == NEUTRAL_K
    assert neutral_k(loops, lifted_k, 1000.0 + LATELY_S) == 0.0
    assert ripple_k(loops, 1.5, 9000.0, 5.0) == 0.0, "no lamp has burned: it is the room that warms"
    faded = replace(loops, ripple_k=1.5)
    assert 0.0 < ripple_k(faded, 0.0, 1005.0, HOURS_S) < 1.5


def test_drying_by_cold_gives_back_by_the_lamp_what_it_takes_and_cold_for_warmth_does_not() -> None:
    damp = Known(air_temp_c=13.0, rh_pct=90.0, pressure_pa=0.9 * 1497.0, ambient_temp_c=18.0)
    loops = Loops(damp_pct=12.0, wanted_c=13.0, last_heat_s=0.0)
    after, duty = control(loops, damp, Wanted(13.0, 78.0), "dry", CHAMBER, 5000.0, 5.0)
    assert duty["cooler"] == after.dry_duty > 0.0
    warm = replace(damp, air_temp_c=16.0)
    after, duty = control(loops, warm, Wanted(13.0, 78.0), "dry", CHAMBER, 5000.0, 5.0)
    assert duty["cooler"] > 0.2
    assert after.dry_duty == 0.0
    assert duty["heater"] == 0.0


def test_cold_for_warmth_and_cold_for_dryness_follow_each_other_and_hand_over_without_a_jump() -> None:
    wanted = Wanted(13.0, 78.0)
    held = Known(air_temp_c=13.0, rh_pct=75.0, pressure_pa=0.75 * 1497.0, ambient_temp_c=30.0)
    loops, now_s = Loops(cool_integral=0.25, wanted_c=13.0, last_heat_s=0.0), 50_000.0
    for _ in range(720):
        now_s += 5.0
        loops, duty = control(loops, held, wanted, "dry", CHAMBER, now_s, 5.0)
        assert duty["heater"] == 0.0
    assert loops.dry_duty == 0.0, "the air is drier than wanted: the cold is there for the warmth"
    assert loops.dry_integral == pytest.approx(0.25, rel=0.05), "and yet an hour later the dryness knows what is given"
    damp = replace(held, pressure_pa=0.80 * 1497.0)
    after, duty = control(replace(loops, damp_pct=2.0, last_mist_s=0.0), damp, wanted, "dry", CHAMBER, now_s + 5.0, 5.0)
    assert after.dry_duty == duty["cooler"], "the dryness has it at once"
    assert 0.25 < duty["cooler"] < 0.28


@pytest.mark.parametrize(("warm_k", "burns"), [(-0.1, True), (0.1, False)])
def test_what_a_door_took_from_a_drying_box_the_lamp_gives_back_in_a_cold_room_and_a_warm_one_by_itself(
    warm_k: float,
    burns: bool,  # noqa: FBT001
) -> None:
    """Dry air has come in, so the integral that looked on asks for more cold than the dryness does."""
    cold = Known(air_temp_c=12.4, rh_pct=60.0, pressure_pa=0.58 * 1497.0, ambient_temp_c=5.0)
    loops = Loops(
        heat_integral=0.3,
        cool_integral=0.25,
        dry_integral=0.12,
        damp_pct=-2.0,
        wanted_c=13.0,
        last_heat_s=49_990.0,
        last_dry_s=49_990.0,
        last_cool_s=49_990.0,
        warm_k=warm_k,
    )
    after, duty = control(loops, cold, Wanted(13.0, 78.0), "dry", CHAMBER, 50_000.0, 5.0)
    assert (duty["heater"] > 0.0) is burns
    assert (after.dry_duty > 0.0) is burns


def test_a_door_that_asks_for_much_cold_does_not_teach_the_dryness_anything() -> None:
    hot = Known(air_temp_c=16.0, rh_pct=70.0, pressure_pa=0.8 * 1497.0, ambient_temp_c=30.0)
    before = Loops(cool_integral=0.25, dry_integral=0.25, damp_pct=-1.0, wanted_c=13.0, last_heat_s=0.0)
    loops = before
    for tick in range(60):
        loops, duty = control(loops, hot, Wanted(13.0, 78.0), "dry", CHAMBER, 50_000.0 + 5.0 * tick, 5.0)
        assert duty["cooler"] > 0.6
    assert loops.dry_integral < 0.28


def test_cold_that_has_to_wait_for_the_lamp_learns_nothing_while_it_waits() -> None:
    warm = Known(air_temp_c=24.8, rh_pct=70.0, pressure_pa=0.7 * 2985.0, ambient_temp_c=30.0)
    loops = Loops(wanted_c=24.0, last_heat_s=49_900.0, ripple_k=0.5)
    for tick in range(60):
        loops, duty = control(loops, warm, Wanted(24.0, 90.0), "ferment", CHAMBER, 50_000.0 + 5.0 * tick, 5.0)
        assert duty["cooler"] == 0.0
    assert loops.cool_integral == 0.0


def test_drying_judges_the_warmth_by_a_mean_too_and_a_dip_teaches_the_lamp_nothing() -> None:
    """Each run of a compressor swings the air by half a kelvin; on the mean it is as wanted."""
    swung = Known(air_temp_c=13.6, rh_pct=78.0, pressure_pa=0.78 * 1497.0, ambient_temp_c=25.0)
    drying = Loops(cool_integral=0.2, wanted_c=13.0, last_heat_s=0.0, last_dry_s=49_000.0, last_cool_s=49_900.0)
    _, duty = control(drying, swung, Wanted(13.0, 78.0), "dry", CHAMBER, 50_000.0, 5.0)
    assert duty["cooler"] == pytest.approx(0.2, abs=0.005)
    far = replace(swung, air_temp_c=14.5)
    _, duty = control(drying, far, Wanted(13.0, 78.0), "dry", CHAMBER, 50_000.0, 5.0)
    assert duty["cooler"] > 0.4, "that is no swing any more"
    loops = replace(drying, heat_integral=0.5, warm_k=0.3)
    after, _ = control(loops, swung, Wanted(13.0, 78.0), "dry", CHAMBER, 50_000.0, 5.0)
    assert 0.49 < after.heat_integral < 0.5


def test_mist_waits_for_the_warm_up_and_goes_by_the_mean_while_a_compressor_runs() -> None:
    dry = Known(air_temp_c=13.0, rh_pct=60.0, pressure_pa=0.6 * 1497.0, ambient_temp_c=18.0)
    wanted = Wanted(13.0, 78.0)
    calm = Loops(wanted_c=13.0, last_heat_s=0.0)
    _, duty = control(calm, dry, wanted, "dry", CHAMBER, 5000.0, 5.0)
    assert duty["humidifier"] > 0.0
    _, duty = control(replace(calm, last_cool_s=4900.0), dry, wanted, "dry", CHAMBER, 5000.0, 5.0)
    assert duty["humidifier"] < 0.01, "the dip of one run; on the mean it is as wanted"
    cold = replace(dry, air_temp_c=12.0)
    _, duty = control(calm, cold, wanted, "dry", CHAMBER, 5000.0, 5.0)
    assert duty["humidifier"] == 0.0
    _, duty = control(replace(calm, came=True), cold, wanted, "dry", CHAMBER, 5000.0, 5.0)
    assert duty["humidifier"] > 0.0, "cold meat, hours long"


def test_air_that_never_quite_arrives_is_not_left_dry_for_weeks() -> None:
    """A chamber without a lamp, or with one that is too weak, in a room a kelvin colder than what is wanted."""
    dry = Known(air_temp_c=12.0, rh_pct=60.0, pressure_pa=0.6 * 1403.0, ambient_temp_c=12.0)
    loops = Loops(wanted_c=13.0, last_heat_s=0.0)
    mist_after_s = None
    for tick in range(1000):
        loops, duty = control(loops, dry, Wanted(13.0, 78.0), "dry", CHAMBER, 5000.0 + 5.0 * tick, 5.0)
        if duty["humidifier"] > 0.0 and mist_after_s is None:
            mist_after_s = 5.0 * tick
    assert mist_after_s == pytest.approx(HOURS_S, abs=15.0)
    loops, duty = control(loops, dry, Wanted(20.0, 78.0), "dry", CHAMBER, 20_000.0, 5.0)
    assert (loops.came, duty["humidifier"]) == (False, 0.0), "a warmer climate begins anew"
