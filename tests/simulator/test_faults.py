"""Every fault that can be ordered, as it is typed and as it is seen."""

from math import inf, isnan

import pytest
from msgspec.structs import replace

from controller.core.values import Channel, Commands, Fault, Reading, Role
from controller.errors import UsageError
from controller.settings.chamber_file import SensorEntry
from controller.simulator.faults import KINDS, OF_A_SENSOR, OF_THE_COMPUTER, parse_fault, parse_faults
from controller.simulator.world import PowerCut, World
from tests.helpers.simulated_chambers import BEGIN_WALL_S, chamber_of


def world_with(*specs: str, name: str = "insulated-box", master: bool = False) -> World:
    """Return a world in which this goes wrong."""
    chamber = chamber_of(name, master=master)
    return World(chamber, begin_wall_s=BEGIN_WALL_S, seed=1, faults=parse_faults(specs))


def run(world: World, seconds: float, *roles: Role) -> None:
    """Let the world go on in ticks of 5 s with these outputs renewed at each."""
    for _ in range(round(seconds / 5.0)):
        now_s = world.clock.monotonic_s()
        world.relays.apply(Commands(dict.fromkeys(roles, now_s + 10.0)))
        world.clock.sleep_until(now_s + 5.0)
        world.sensors.newest()


def said(world: World, channel: Channel = "air_temp") -> Reading:
    """Return what a channel says, which must be a reading."""
    reading = world.sensors.newest()[channel]
    assert isinstance(reading, Reading)
    return reading


@pytest.mark.parametrize(
    ("spec", "at_s", "until_s", "what"),
    [
        ("probe-out@6h/20m", 21_600.0, 22_800.0, ""),
        ("missing:air_temp@90m", 5400.0, inf, "air_temp"),
        ("missing@90m", 5400.0, inf, "air_temp"),
        ("nan:rh@30s/10s", 30.0, 40.0, "rh"),
        ("relay-welded@1.5d", 129_600.0, inf, "heater"),
        ("relay-welded:cooler@2d", 172_800.0, inf, "cooler"),
        ("power-cut@26h/5m", 93_600.0, 93_900.0, ""),
    ],
)
def test_a_fault_is_understood_as_it_is_typed(spec: str, at_s: float, until_s: float, what: str) -> None:
    fault = parse_fault(spec)
    assert (fault.at_s, fault.until_s, fault.what) == (at_s, until_s, what)
    assert fault.kind == spec.split("@", maxsplit=1)[0].split(":", maxsplit=1)[0]


def test_a_clock_step_is_understood_forward_and_back() -> None:
    assert parse_fault("clock-step:+1h@3h").step_s == 3600.0
    assert parse_fault("clock-step:-2d@3h").step_s == -172_800.0


@pytest.mark.parametrize(
    ("spec", "remedy"),
    [
        ("melted@6h", "kinds are missing, frozen"),
        ("missing", "probe-out@6h/20m"),
        ("missing@6", "'6' is no time"),
        ("missing@6h/", "'' is no time"),
        ("missing@6h/0s", "more than 0"),
        ("missing:door_temp@6h", "there is no channel 'door_temp'; there are air_temp"),
        ("relay-welded:lamp@6h", "there is no output 'lamp'; there are heater"),
        ("power-cut@6h", "power-cut@26h/5m"),
        ("power-cut@0s/5m", "after the begin"),
        ("clock-step@6h", "+1h"),
        ("clock-step:+1h@6h/5m", "no duration"),
        ("door-open:left@6h", "takes nothing after a colon"),
        ("power-cut@6h/2h power-cut@7h/1h", "overlap"),
    ],
)
def test_a_fault_that_cannot_be_understood_is_told_with_what_would_be_right(spec: str, remedy: str) -> None:
    with pytest.raises(UsageError) as told:
        parse_faults(spec.split())
    assert remedy in str(told.value)
    assert "--fault" in str(told.value)


def test_all_faults_that_cannot_be_understood_are_told_together() -> None:
    with pytest.raises(UsageError) as told:
        parse_faults(["melted@6h", "missing@6", "probe-out@1h"])
    assert len(str(told.value).splitlines()) == 2


def test_a_fault_of_what_the_chamber_lacks_is_refused() -> None:
    with pytest.raises(UsageError, match="no such sensor; it has air_temp"):
        world_with("missing:air_temp_2@1m")
    with pytest.raises(UsageError, match="no such output; it has heater, humidifier"):
        world_with("relay-welded:cooler@1m")


def share_of_faults(world: World) -> float:
    """Return how many of the next 200 looks find a damaged reading."""
    world.faults = parse_faults(["flaky@0s"])
    world._look_at_faults()
    looks = []
    for _ in range(200):
        run(world, 5.0)
        looks.append(isinstance(world.sensors.newest()["air_temp"], Fault))
    return sum(looks) / len(looks)


@pytest.mark.parametrize("kind", OF_A_SENSOR)
def test_a_faulty_sensor_says_what_such_a_sensor_says_and_is_well_again_afterwards(kind: str) -> None:
    world = world_with(f"{kind}@2m/2m")
    run(world, 115.0, "heater")
    before = said(world)
    run(world, 60.0, "heater")
    seen, now_s = world.sensors.newest()["air_temp"], world.clock.monotonic_s()
    true_c = world.true_air_temp_c
    if kind in {"missing", "checksum", "empty", "hung"}:
        assert isinstance(seen, Fault)
        assert seen.kind == kind
    elif kind == "flaky":
        assert 0.1 < share_of_faults(world) < 0.45  # Asked in a while in which it goes on.
        return
    else:
        assert isinstance(seen, Reading)
        fresh = now_s - seen.taken_s < 2.5
        assert fresh is (kind != "stale")
        expected = {"power-on-value": 85.0, "low-supply": 127.9375, "no-reply": -127.0}
        if kind == "nan":
            assert isnan(seen.value)
        elif kind in {"frozen", "stale"}:
            assert before.value <= seen.value < before.value + 0.3
            assert true_c > seen.value + 1.0
        elif kind == "drift":
            well = world.sensors.probes["air_temp"].shown_c
            assert seen.value == pytest.approx(well + 55.0 / 3600.0, abs=1e-3)  # It began 55 s ago, 1 K an hour.
        elif kind == "jump":
            well = world.sensors.probes["air_temp"].shown_c
            assert seen.value == well + 8.0
        else:
            assert seen.value == expected[kind]
    run(world, 70.0)
    assert said(world).value == world.sensors.probes["air_temp"].shown_c


def test_a_frozen_humidity_and_a_lost_core_probe_are_other_channels() -> None:
    world = world_with("frozen:rh@1m", "missing:core_temp@1m")
    run(world, 55.0)
    run(world, 10.0)
    frozen = said(world, "rh").value
    run(world, 300.0, "humidifier")
    assert said(world, "rh").value == frozen
    assert world.true_rh_pct > 90.0
    assert isinstance(world.sensors.newest()["core_temp"], Fault)
    assert isinstance(world.sensors.newest()["air_temp"], Reading)


def test_a_probe_that_slips_out_follows_the_room_slowly_while_the_other_witness_shows_the_box() -> None:
    world = world_with("probe-out@20m/20m")
    run(world, 1200.0, "heater")
    inside = said(world).value
    assert inside > 25.0
    run(world, 60.0, "heater")
    assert 20.0 < said(world).value < inside
    run(world, 900.0, "heater")
    assert said(world).value == pytest.approx(20.0, abs=0.2)
    assert said(world, "rh_temp").value > inside
    run(world, 1200.0, "heater")
    assert said(world).value > inside


def test_a_welded_heater_burns_on_against_every_command_until_it_comes_loose() -> None:
    world = world_with("relay-welded@2m/3m")
    run(world, 60.0, "heater")
    run(world, 120.0)
    assert world.heat_on
    world.relays.all_off()
    assert world.heat_on
    run(world, 240.0)
    assert not world.heat_on
    assert world.lamp_edges == [(0.0, True), (60.0, False), (120.0, True), (300.0, False)]


def test_a_master_contactor_cuts_a_welded_heater() -> None:
    world = world_with("relay-welded@1m", master=True)
    run(world, 60.0, "heater", "master")
    run(world, 30.0, "master")
    assert world.heat_on
    run(world, 30.0)
    assert not world.heat_on


def test_a_burnt_lamp_gives_nothing_though_it_is_commanded() -> None:
    world = world_with("lamp-burnt@1m")
    run(world, 55.0, "heater")
    assert world.heat_on
    run(world, 30.0, "heater")
    assert not world.heat_on
    assert world.relays.closings["heater"] == 1


def test_a_relay_that_never_closes_and_a_cut_out_that_is_open_give_no_voltage() -> None:
    for spec in ("relay-open@1m/1m", "cutout-open@1m/1m"):
        world = world_with(spec)
        run(world, 55.0, "heater")
        assert world.contact("heater_live")
        run(world, 30.0, "heater")
        assert not world.contact("heater_live")
        assert not world.heat_on
        assert world.contact("cutout") is spec.startswith("cutout")
        run(world, 60.0, "heater")
        assert world.heat_on


def test_a_stuck_pin_is_on_and_is_read_back_so() -> None:
    world = world_with("pin-stuck@1m/1m")
    run(world, 55.0)
    assert world.relays.disobedient() == ()
    run(world, 30.0)
    assert world.relays.disobedient() == ("heater",)
    assert world.heat_on
    world.relays.apply(Commands({"heater": world.clock.monotonic_s() + 10.0}))
    assert world.relays.disobedient() == (), "it is where it was set"
    run(world, 60.0)
    assert world.relays.disobedient() == ()
    assert not world.heat_on


def test_a_humidifier_that_leaks_gives_a_fifth_of_its_mist() -> None:
    world = world_with("mist-leaks@0s")
    run(world, 3600.0)
    assert world.model.ledger.water_mist_kg == pytest.approx(0.15 / 5.0)


def test_a_fan_that_is_stuck_does_not_turn() -> None:
    world = world_with("fan-stuck@1m", name="old-fridge")
    run(world, 55.0, "fan")
    assert world.contact("fan_turns")
    run(world, 30.0, "fan")
    assert not world.contact("fan_turns")
    assert not world.model.fan_on


def test_a_dead_compressor_draws_no_current_and_ice_keeps_the_cold_from_the_air() -> None:
    well, dead, iced = (
        world_with(*specs, name="old-fridge") for specs in ((), ("compressor-dead@0s",), ("evaporator-iced@0s",))
    )
    for world in (well, dead, iced):
        run(world, 1800.0, "cooler")
    assert not dead.contact("cooler_current")
    assert dead.true_air_temp_c == pytest.approx(20.0, abs=0.1)
    assert iced.contact("cooler_current")
    assert iced.evaporator_temp_c < well.evaporator_temp_c < 10.0
    assert iced.true_air_temp_c > well.true_air_temp_c + 5.0


@pytest.mark.parametrize("spec", ["fan-stuck@1m", "compressor-dead@1m", "evaporator-iced@1m", "pin-stuck:cooler@1m"])
def test_what_the_chamber_lacks_cannot_fail(spec: str) -> None:
    with pytest.raises(UsageError, match="this chamber has no such output; it has heater, humidifier"):
        world_with(spec)


def test_an_empty_humidifier_gives_nothing() -> None:
    world = world_with("humidifier-empty@5s")
    run(world, 300.0, "humidifier")
    assert world.model.ledger.water_mist_kg == pytest.approx(5.0 * 150.0 / 3.6e6)


def test_an_open_door_is_seen_by_its_contact_and_changes_the_air() -> None:
    world = world_with("door-open@10m/2m")
    run(world, 600.0, "heater")
    warm_c = world.true_air_temp_c
    run(world, 60.0, "heater")
    assert said(world, "door").value == 1.0
    assert world.true_air_temp_c < warm_c
    run(world, 120.0, "heater")
    assert said(world, "door").value == 0.0


def test_contacts_follow_what_the_chamber_does() -> None:
    old_fridge = chamber_of("old-fridge")
    watched: tuple[Channel, ...] = ("heater_live", "heater_current", "cooler_current", "cutout", "fan_turns")
    contacts = [SensorEntry(channel=channel, kind="contact", pin=5) for channel in watched]  # type: ignore[arg-type]
    world = World(
        replace(old_fridge, sensor=(*old_fridge.sensor, *contacts)),
        begin_wall_s=BEGIN_WALL_S,
        faults=parse_faults(["lamp-burnt@2m/1m", "relay-welded@4m"]),
    )

    def closed() -> set[str]:
        return {channel for channel in watched if said(world, channel).value == 1.0}

    run(world, 60.0, "heater", "fan")
    assert closed() == {"heater_live", "heater_current", "fan_turns"}
    run(world, 90.0, "heater", "cooler")
    assert closed() == {"heater_live", "cooler_current"}
    run(world, 60.0)
    assert closed() == set()
    run(world, 60.0)
    assert closed() == {"heater_live", "heater_current"}


def test_a_second_humidity_sensor_and_the_evaporators_thermometer_show_what_is_there() -> None:
    old_fridge = chamber_of("old-fridge")
    more = (
        SensorEntry(channel="rh_2", kind="sht4x", address="1-0045"),
        SensorEntry(channel="evaporator_temp", kind="ds18b20", id="28-000000000004"),
    )
    world = World(replace(old_fridge, sensor=(*old_fridge.sensor, *more)), begin_wall_s=BEGIN_WALL_S)
    run(world, 60.0)
    assert said(world, "rh_2").value == pytest.approx(world.true_rh_pct, abs=0.5)
    run(world, 1200.0, "cooler")
    assert said(world, "evaporator_temp").value < said(world).value - 5.0
    assert said(world, "rh_2").value == pytest.approx(said(world, "rh").value, abs=1.0)


def test_a_stranger_hangs_on_the_bus_while_its_fault_lasts() -> None:
    world = world_with("stranger@1m/1m")
    assert world.sensors.strangers() == ()
    run(world, 60.0)
    assert world.sensors.strangers() == ("28-0000deadbeef",)
    run(world, 60.0)
    assert world.sensors.strangers() == ()


def test_a_contact_is_lost_or_stands_still_and_does_not_jump() -> None:
    assert parse_fault("missing:door@1m").what == "door"
    with pytest.raises(UsageError, match="there is no channel 'door'"):
        parse_fault("jump:door@1m")


def test_a_clock_step_moves_the_wall_clock_only() -> None:
    world = world_with("clock-step:-1h@1m")
    run(world, 120.0)
    assert world.clock.wall_s() == BEGIN_WALL_S + 120.0 - 3600.0
    assert world.clock.monotonic_s() == 30.0 + 120.0
    assert world.clock.wall_trusted()


def test_a_lost_clock_is_not_trusted() -> None:
    world = world_with("clock-lost@1m/1m")
    run(world, 60.0)
    assert not world.clock.wall_trusted()
    run(world, 60.0)
    assert world.clock.wall_trusted()


def test_a_power_cut_ends_the_program_and_leaves_the_chamber_to_itself() -> None:
    world = world_with("power-cut@30m/2h", "relay-welded@10m")
    with pytest.raises(PowerCut):
        run(world, 7200.0, "heater")
    assert world.elapsed_s == 1800.0
    assert not world.heat_on  # Welded or not: there is no supply.
    warm_c, boot = world.true_air_temp_c, world.clock.boot_id()
    assert world.restore_power()
    assert world.elapsed_s == 1800.0 + 7200.0
    assert world.true_air_temp_c < warm_c - 2.0
    assert world.clock.boot_id() != boot
    assert world.clock.monotonic_s() == 30.0
    assert world.clock.wall_s() == BEGIN_WALL_S + 9000.0
    run(world, 10.0)
    assert said(world).value == pytest.approx(world.true_air_temp_c, abs=0.7)
    assert world.next_power_cut_s is None


def test_a_run_that_ends_in_a_power_cut_ends() -> None:
    faults = parse_faults(["power-cut@30m/2h"])
    world = World(chamber_of("insulated-box"), begin_wall_s=BEGIN_WALL_S, faults=faults, ends_s=3600.0)
    with pytest.raises(PowerCut):
        run(world, 7200.0)
    assert not world.restore_power()
    assert world.elapsed_s == 3600.0


def test_every_kind_of_fault_has_a_test_on_this_page() -> None:
    tested = {*OF_A_SENSOR, "stranger", "probe-out", "relay-welded", "lamp-burnt", "humidifier-empty", "door-open"}
    tested |= {
        "relay-open",
        "pin-stuck",
        "cutout-open",
        "mist-leaks",
        "fan-stuck",
        "compressor-dead",
        "evaporator-iced",
    }
    assert tested | {"power-cut", "clock-step", "clock-lost", *OF_THE_COMPUTER} == set(KINDS)
