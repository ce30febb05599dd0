"""What first light says must happen, asked of the deciding part itself: the lamp of an empty chamber that warms up."""

from collections.abc import Callable
from math import exp

import pytest

from controller.core.memory import Inputs
from controller.core.requests import Start
from controller.core.restart import first_memory
from controller.core.step import step
from controller.core.values import Fault, Reading, Readings
from controller.planning.setting_up.first_light import TRIP_OVER_K, layers_of
from controller.settings.chamber_file import plan_of
from controller.settings.profile_file import adapt, find_profile, read_profile
from tests.helpers.shipped_chambers import shipped_chamber

BEGIN_WALL_S = 1_767_592_800.0
DONE_S, OVER_S = 600.0, 1800.0
FILE = shipped_chamber("insulated-box")

Shown = Callable[[float], float | Fault]


def lamp_and_alarms(main_thermometer: Shown) -> tuple[dict[float, bool], dict[str, float]]:
    """Run with an indicator lamp, so that nothing warms; return when it burns, and when each row called first."""
    plan = plan_of(FILE)
    profile, _ = adapt(read_profile(find_profile("tangy")), plan)
    memory = first_memory(plan, 0.0, BEGIN_WALL_S, "boot")
    burns: dict[float, bool] = {}
    called: dict[str, float] = {}
    for number in range(int(OVER_S / plan.tick_s)):
        now_s = number * plan.tick_s
        word = main_thermometer(now_s)
        air = word if isinstance(word, Fault) else Reading(word, now_s)
        readings: Readings = {"air_temp": air, "rh_temp": Reading(20.0, now_s), "rh": Reading(60.0, now_s)}
        start = Start(id="trial", actor="maker", batch="trial", profile=profile, meat_kg=5.0)
        requests = (start,) if number == 1 else ()
        memory, outcome = step(
            memory, Inputs(now_s, BEGIN_WALL_S + now_s, wall_trusted=True, readings=readings, requests=requests), plan
        )
        burns[now_s] = outcome.commands.on_until_s.get("heater", 0.0) > now_s
        for event in outcome.events:
            if event.kind == "alarm":
                called.setdefault(event.id.partition("-")[0], now_s)
    return burns, called


def test_the_lamp_is_dark_fifteen_seconds_after_the_main_thermometer_was_taken_off() -> None:
    burns, called = lamp_and_alarms(lambda now_s: Fault("empty") if now_s >= DONE_S else 20.0)
    assert burns[DONE_S - 5.0]
    assert not any(burn for now_s, burn in burns.items() if now_s >= DONE_S + 15.0)
    assert {"S1", "S2"} & set(called)


@pytest.mark.parametrize("response_s", [10.0, 30.0, 90.0])
def test_the_lamp_is_dark_and_stays_so_after_a_cup_of_hot_water(response_s: float) -> None:
    cup_c = FILE.limits.trip_c + TRIP_OVER_K

    def shows(now_s: float) -> float:
        if now_s < DONE_S:
            return 20.0
        in_cup_s = min(now_s - DONE_S, 300.0)
        at_most_c = 20.0 + (cup_c - 20.0) * (1.0 - exp(-in_cup_s / response_s))
        return 20.0 + (at_most_c - 20.0) * exp(-max(now_s - DONE_S - 300.0, 0.0) / 90.0)

    burns, called = lamp_and_alarms(shows)
    assert burns[DONE_S - 5.0]
    assert not any(burn for now_s, burn in burns.items() if now_s >= DONE_S + 15.0)
    assert called["A2"] <= DONE_S + 300.0
    assert shows(OVER_S) < 21.0  # It is cool again, and the lamp still dark.


def test_the_layers_name_the_thermometer_that_the_file_calls_the_main_one() -> None:
    layers = {layer.id: layer for layer in layers_of(FILE)}
    main = next(sensor.id for sensor in FILE.sensor if sensor.channel == "air_temp")
    for id in ("thermometer lost", "too hot"):
        assert any(main in sentence for sentence in layers[id].do)
