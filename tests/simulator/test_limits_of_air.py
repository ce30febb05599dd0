"""No switch, door or room makes the modelled air damper or drier than physics lets it be, or loses heat or water."""

from random import Random
from typing import Final

import pytest
from msgspec.structs import replace

from controller.settings.chamber_file import OutputEntry
from controller.settings.model_figures import COIL_KG_M3
from controller.simulator.chamber_model import ChamberModel, exact_saturation_kg_m3
from controller.simulator.chamber_parameters import parameters_of
from tests.helpers.simulated_chambers import NAMES, chamber_of, load, model_of

SEEDS: Final = [0, *(pytest.param(seed, marks=pytest.mark.long) for seed in range(1, 6))]


def with_all_outputs(name: str) -> ChamberModel:
    """Return the model of a chamber that has every output there is, as far as its box can have it."""
    file = chamber_of(name)
    more = (OutputEntry(role="dehumidifier", pin=5, w=60.0), OutputEntry(role="fresh_air", pin=6))
    return ChamberModel(parameters_of(replace(file, output=(*file.output, *more))), room_c=18.0, room_rh_pct=60.0)


def switch(model: ChamberModel, random: Random) -> None:
    """Throw every switch there is, mist seldom: a second of it is several per cent."""
    model.lamp_on, model.cooler_on = random.random() < 0.4, random.random() < 0.4
    model.mist_on, model.dehumidifier_on = random.random() < 0.1, random.random() < 0.2
    model.fan_on, model.fresh_air_on = random.random() < 0.3, random.random() < 0.1
    model.door_open, model.iced = random.random() < 0.03, random.random() < 0.05
    model.mist_leaks = random.random() < 0.02
    model.room_c = min(max(model.room_c + random.gauss(0.0, 1.0), -15.0), 38.0)
    model.room_rh_pct = min(max(model.room_rh_pct + random.gauss(0.0, 5.0), 10.0), 100.0)
    model.changed()


def vapours(model: ChamberModel) -> tuple[float, float]:
    """Return the least and the most vapour, in kg/m3, toward which anything that touches the air pulls it now."""
    room = model.room_rh_pct / 100.0 * exact_saturation_kg_m3(model.room_c)
    low, high = [room], [room]
    over_wall, over_plate = exact_saturation_kg_m3(model.wall_c), exact_saturation_kg_m3(model.plate_c)
    low.append(over_wall)  # A wall takes from air that is damper than this,
    if model.wall_film_kg > 0.0:
        high.append(over_wall)  # and gives where it is wet.
    if model.parameters.plate_w_per_k:
        low.append(over_plate)
        if model.plate_film_kg > 0.0:
            high.append(over_plate)
    if model.dehumidifier_on:
        low.append(COIL_KG_M3)
    if model.meat_area_m2:
        high.append(model.meat_aw * exact_saturation_kg_m3(model.meat_c))
    return min(low), max(high)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("name", NAMES)
def test_vapour_never_passes_what_it_is_drawn_to(name: str, seed: int) -> None:
    """A plate dries no further than its own saturation, a wet surface wets no further than its own.

    The bounds are taken before and after each step, for bodies move meanwhile; mist lifts air that is not saturated by
    what it gives and no more, and what is given to saturated air settles.
    """
    random = Random(f"{name}/{seed}")
    model = with_all_outputs(name)
    load(model, name, temp_c=8.0, aw=0.96)
    worst = 0.0
    for _ in range(150):
        switch(model, random)
        for _ in range(12):
            before, low_a = model.vapour_kg_m3, vapours(model)
            was_saturated = before >= exact_saturation_kg_m3(model.air_c)
            mist_kg = model.ledger.water_mist_kg
            model.advance(5.0)
            low_b = vapours(model)
            mist_kg = 0.0 if was_saturated else model.ledger.water_mist_kg - mist_kg
            low, high = min(low_a[0], low_b[0], before), max(low_a[1], low_b[1], before)
            after = model.vapour_kg_m3
            worst = max(worst, low - after, after - high - mist_kg / model.parameters.volume_m3)
            assert after > 0.0
    assert worst < 1e-7  # kg/m3; measured: nothing at all.


@pytest.mark.parametrize("name", NAMES)
def test_fog_settles(name: str) -> None:
    """Air that was misted full goes back to saturation and below, on walls that are colder, within ten minutes."""
    model = model_of(name, room_c=10.0)
    model.air_c = model.wall_c = model.lamp_c = 30.0
    model.mist_on = True
    model.advance(120.0)
    assert model.rh_pct > 99.0
    model.mist_on = False
    model.advance(600.0)
    assert model.rh_pct < 100.0
    assert model.wall_film_kg + model.plate_film_kg > 0.0


def test_mist_alone_never_makes_more_than_one_step_of_fog() -> None:
    """Ten minutes of a mister that would fill this box twenty times: the rest is on the wall and runs off."""
    model = model_of("insulated-box", room_c=20.0)
    model.mist_on = True
    a_step = model.parameters.mist_kg_s / model.parameters.volume_m3
    foggy = False
    for _ in range(600):
        before, full = model.vapour_kg_m3, exact_saturation_kg_m3(model.air_c)
        model.advance(1.0)
        assert model.vapour_kg_m3 <= max(before, full) + a_step
        foggy |= model.rh_pct > 100.0
    assert foggy
    assert model.wall_film_kg > 0.015


def test_a_cold_plate_dries_the_air_to_its_own_saturation_and_no_further() -> None:
    model = model_of("old-fridge", room_c=20.0, room_rh_pct=90.0)
    model.parameters = replace(model.parameters, leak_per_h=0.0)
    model.cooler_on = True
    model.advance(6 * 3600.0)
    over_plate = exact_saturation_kg_m3(model.plate_c)
    assert model.vapour_kg_m3 == pytest.approx(over_plate, rel=0.001)
    assert model.vapour_kg_m3 >= over_plate


def test_a_dehumidifier_dries_to_its_coil_and_no_further() -> None:
    model = with_all_outputs("plywood-cabinet")
    model.parameters = replace(model.parameters, leak_per_h=0.0)
    model.dehumidifier_on = True
    model.advance(24 * 3600.0)
    assert model.vapour_kg_m3 == pytest.approx(COIL_KG_M3, rel=0.001)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("name", NAMES)
def test_balances_close_whatever_is_switched_hung_and_opened(name: str, seed: int) -> None:
    """Every output, the door, the room and the meat at random, with steps of any length."""
    random = Random(f"balance/{name}/{seed}")
    model = with_all_outputs(name)
    begun_j, begun_kg = model.stored_heat_j(), model.stored_water_kg()
    for _ in range(400):
        switch(model, random)
        if random.random() < 0.05:
            load(model, name, temp_c=random.uniform(0.0, 30.0), aw=random.uniform(0.85, 0.99))
        elif random.random() < 0.05:
            model.take_out()
        model.advance(random.choice((0.3, 2.0, 5.0, 17.0, 61.0)))
    ledger = model.ledger
    handled_j = sum(abs(getattr(ledger, key)) for key in ("lamp_j", "wall_j", "cooler_j", "leak_j", "dehumidifier_j"))
    handled_j += abs(ledger.meat_j) + 1e5
    handled_kg = ledger.water_mist_kg + ledger.water_evaporated_kg + abs(ledger.water_leak_kg)
    assert abs(model.stored_heat_j() - begun_j - ledger.heat_j()) < 1e-10 * handled_j
    assert abs(model.stored_water_kg() - begun_kg - ledger.water_kg()) < 1e-12 * handled_kg
