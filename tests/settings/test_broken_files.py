"""Files that cannot be meant: every problem on a line of its own, with file, key, value and what would be right."""

import datetime as dt
import re
from pathlib import Path
from typing import Final

import pytest

from controller.errors import AccessError, NoInputError, SettingsError
from controller.settings.chamber_file import read_chamber
from controller.settings.profile_file import read_profile
from controller.settings.shipped import find
from tests.helpers.shipped_chambers import with_day

TODAY: Final = dt.date(2026, 2, 1)
Swaps = list[tuple[str, str]]
Expected = tuple[str, str, str]  # Key, value as written (empty: nothing stands there), a piece of the remedy.

BOX: Final = "insulated-box"
FRIDGE: Final = "old-fridge"

AIR_ID = 'id = "28-000000000001"'
HEATER_W = 'switch = "solid-state"\nw = 60.0\n'
FERMENT_TANGY = (
    'kind = "ferment"                    # Its humidity is read as "at least": fresh meat is wet by itself.\n'
)

CHAMBERS: Final[list[tuple[str, str, Swaps, list[Expected]]]] = [
    ("an unknown key", BOX, [("drying =", "dryin =")], [("dryin", '"none"', "did you mean drying?")]),
    ("a misspelt key that is needed", BOX, [("volume_l =", "volume =")], [("model.volume", "75.0", "volume_l?")]),
    (
        "a key that is missing",
        BOX,
        [("ua_w_per_k = 0.9\n", "")],
        [("model.ua_w_per_k", "", "missing; a number above 0")],
    ),
    ("a wrong type", BOX, [("volume_l = 75.0", 'volume_l = "75"')], [("model.volume_l", '"75"', "without quotes")]),
    ("out of range", BOX, [("volume_l = 75.0", "volume_l = 7.5")], [("model.volume_l", "7.5", "from 20 to 2000")]),
    ("not a number", BOX, [("leak_per_h = 0.4", "leak_per_h = nan")], [("model.leak_per_h", "nan", "from 0 to 20")]),
    ("an endless room", BOX, [("[16.0, 22.0]", "[16.0, inf]")], [("room_temp_c", "[16.0, inf]", "two numbers")]),
    (
        "a wrong choice",
        BOX,
        [('"solid-state"', '"solidstate"')],
        [("output[1].switch", '"solidstate"', '"solid-state"?')],
    ),
    ("a pin that is no GPIO", BOX, [("pin = 17", "pin = 99")], [("output[1].pin", "99", "take 2 to 27")]),
    ("a pin of the add-on board", BOX, [("pin = 17", "pin = 1")], [("output[1].pin", "1", "no GPIO of the header")]),
    ("a pin used twice", BOX, [("pin = 27", "pin = 17")], [("output[2].pin", "17", "output[1] (heater) has this pin")]),
    (
        "the 1-wire pin",
        BOX,
        [("pin = 17", "pin = 4")],
        [("output[1].pin", "4", "1-wire sensors (ds18b20) are on GPIO 4")],
    ),
    ("an I2C pin", BOX, [("pin = 27", "pin = 3")], [("output[2].pin", "3", "I2C sensors have GPIO 3 as SCL")]),
    ("a lamp without power", BOX, [(HEATER_W, 'switch = "solid-state"\n')], [("output[1].w", "", "missing; a heater")]),
    ("a mister without flow", BOX, [("ml_per_h = 150.0\n", "")], [("output[2].ml_per_h", "", "a humidifier needs it")]),
    (
        "two heaters",
        BOX,
        [('role = "humidifier"', 'role = "heater"\nw = 60.0'), ("ml_per_h = 150.0\n", "")],
        [("output[2].role", '"heater"', "output[1] is the heater already")],
    ),
    (
        "two sensors for one thing",
        BOX,
        [('"rh"\nkind = "sht4x"', '"air_temp"\nkind = "sht4x"')],
        [("sensor[2].channel", '"air_temp"', "measured by sensor[1] already")],
    ),
    (
        "one device twice",
        FRIDGE,
        [("28-000000000003", "28-000000000001")],
        [("sensor[3].id", '"28-000000000001"', "the same device as sensor[1]")],
    ),
    (
        "no sensor of the air",
        BOX,
        [('"air_temp"', '"ambient_temp"')],
        [("sensor", "[{…}, {…}]", 'channel = "air_temp"')],
    ),
    (
        "a trip beside the cut-out",
        BOX,
        [("trip_c = 45.0", "trip_c = 55.5")],
        [("limits.trip_c", "55.5", "5 K or more below thermal_cutout_c = 60; take 55 or less")],
    ),
    (
        "a low cut-out, no trip",
        BOX,
        [("thermal_cutout_c = 60.0", "thermal_cutout_c = 48"), ("trip_c = 45.0\n", "")],
        [("thermal_cutout_c", "48", "set limits.trip_c = 43")],
    ),
    (
        "a test to come",
        BOX,
        [("2026-01-02", "2026-03-02")],
        [("cutout_tested_on", "2026-03-02", "today is 2026-02-01")],
    ),
    (
        "a low cut-out, no limits",
        BOX,
        [("thermal_cutout_c = 60.0", "thermal_cutout_c = 48"), ("[limits]\ntrip_c = 45.0\n", "")],
        [("thermal_cutout_c", "48", "set limits.trip_c = 43")],
    ),
    (
        "a date in words",
        BOX,
        [("2026-01-02", '"January"')],
        [("cutout_tested_on", '"January"', "a date, as 2026-01-02")],
    ),
    ("a room upside down", BOX, [("[16.0, 22.0]", "[22.0, 16.0]")], [("room_temp_c", "[22.0, 16.0]", "[16, 22]")]),
    (
        "a room in °F",
        BOX,
        [("[16.0, 22.0]", "[60.0, 75.0]")],
        [("room_temp_c", "[60.0, 75.0]", "did you mean 75 °F = 23.9 °C?")],
    ),
    ("a trip in °F", BOX, [("trip_c = 45.0", "trip_c = 113.0")], [("limits.trip_c", "113.0", "113 °F = 45.0 °C?")]),
    ("an unknown time zone", BOX, [('"UTC"', '"Europe/Viena"')], [("timezone", '"Europe/Viena"', '"Europe/Vienna"?')]),
    ("drying without a cooler", BOX, [('"none"', '"cool-and-reheat"')], [("drying", '"cool-and-reheat"', "no cooler")]),
    ("drying without a dryer", BOX, [('"none"', '"dehumidifier"')], [("drying", '"dehumidifier"', "no dehumidifier")]),
    ("drying without a vent", BOX, [('"none"', '"vent"')], [("drying", '"vent"', "no fresh_air")]),
    (
        "a cooler without its plate",
        FRIDGE,
        [("evaporator_w_per_k = 3.5", "# ")],
        [("model.evaporator_w_per_k", "", "there is a cooler")],
    ),
    (
        "a probe by address",
        BOX,
        [(AIR_ID, 'address = "1-0044"')],
        [("sensor[1].address", '"1-0044"', "named by its id")],
    ),
    (
        "a thermometer without error",
        BOX,
        [("error_k = 0.5", "error_k = 0.0")],
        [("sensor[1].error_k", "0.0", "no thermometer is exact, and melting ice is known to ±0.1; take 0.1 or more")],
    ),
    (
        "a meter without error",
        FRIDGE,
        [("ph_meter_error = 0.05", "ph_meter_error = 0.0")],
        [("ph_meter_error", "0.0", "no meter is exact, and its buffers are known to ±0.02; take 0.01 or more")],
    ),
    ("a probe with half an id", BOX, [(AIR_ID, 'id = "28-1"')], [("sensor[1].id", '"28-1"', "1-wire id, as")]),
    ("a chip address alone", BOX, [('"1-0044"', '"0x44"')], [("sensor[2].address", '"0x44"', 'as "1-0044"')]),
    (
        "humidity from a thermometer",
        BOX,
        [('kind = "sht4x"\naddress = "1-0044"', 'kind = "ds18b20"\nid = "28-00000000000a"')],
        [("sensor[2].kind", '"ds18b20"', "measures no humidity")],
    ),
    (
        "a door without its pin",
        BOX,
        [('channel = "air_temp"', 'channel = "door"\nkind = "contact"\n[[sensor]]\nchannel = "air_temp"')],
        [("sensor[1].pin", "", "a contact needs the GPIO")],
    ),
    (
        "a current contact of a compressor that is not there, and a second humidity sensor without a first",
        BOX,
        [
            (
                'channel = "air_temp"',
                'channel = "cooler_current"\nkind = "contact"\npin = 5\n[[sensor]]\nchannel = "air_temp"',
            ),
            ('channel = "rh"', 'channel = "rh_2"'),
        ],
        [
            ("sensor[1].channel", '"cooler_current"', "there is no cooler among the outputs"),
            ("sensor[3].channel", '"rh_2"', 'call this one "rh"'),
        ],
    ),
    (
        "a thermometer that is to be a contact, and a contact that is to be a thermometer",
        BOX,
        [
            ('kind = "ds18b20"\n' + AIR_ID, 'kind = "contact"\npin = 5'),
            ('channel = "rh"\nkind = "sht4x"', 'channel = "cutout"\nkind = "sht4x"'),
        ],
        [
            ("sensor[1].kind", '"contact"', "a contact measures no climate; its channel is door, heater_live"),
            ("sensor[2].kind", '"sht4x"', "cutout is open or closed; take contact"),
        ],
    ),
    (
        "a window too short",
        FRIDGE,
        [("pin = 22", "pin = 22\nwindow_s = 300")],
        [("output[3].window_s", "300", "take window_s = 420 or more")],
    ),
    (
        "a table that is none",
        BOX,
        [("[limits]\ntrip_c = 45.0\n", ""), ("drying =", "limits = 45\ndrying =")],
        [("limits", "45", "must be a table: [limits]")],
    ),
    (
        "five faults: two pins, a power, a word, a zone",
        BOX,
        [
            ("pin = 17", "pin = 99"),
            ("w = 60.0", "w = -60"),
            ("pin = 27", "pin = 3"),
            ('"C"', '"K"'),
            ('"UTC"', '"Mars"'),
        ],
        [
            ("units", '"K"', '"C" or "F"'),
            ("output[1].w", "-60", "above 0, at most 3000"),
            ("timezone", '"Mars"', 'as "Europe/Vienna"'),
            ("output[1].pin", "99", "no GPIO"),
            ("output[2].pin", "3", "SCL"),
        ],
    ),
    (
        "five faults that others hang on",
        FRIDGE,
        [
            ('channel = "air_temp"', 'channel = "air"'),
            ('role = "cooler"', 'role = "coler"'),
            ("cutout_tested_on", "cutout_tested"),
            ("[limits]\n", "[limits]\nlog_every_s = 1\n"),
            ("log_every_s = 60.0", "# "),
            ("volume_l = 330.0\n", ""),
        ],
        [
            ("cutout_tested", "2026-01-02", "cutout_tested_on?"),
            ("sensor[1].channel", '"air"', "air_temp"),
            ("output[3].role", '"coler"', '"cooler"?'),
            ("limits.log_every_s", "1", "from 10 to 600"),
            ("model.volume_l", "", "missing"),
        ],
    ),
]

PROFILES: Final[list[tuple[str, str, Swaps, list[Expected]]]] = [
    (
        "a ferment without a pH",
        "tangy",
        [("ph_at_most = 4.85", "hours = 40")],
        [("stage[2].until.ph_at_most", "", "ends only on a measured pH")],
    ),
    (
        "a pH that counts for nothing",
        "tangy",
        [("ph_at_most = 4.85", "ph_at_most = 5.4")],
        [("stage[2].until.ph_at_most", "5.4", "4.2 and 5.3")],
    ),
    (
        "a pH no starter reaches",
        "tangy",
        [("ph_at_most = 4.85", "ph_at_most = 3.9")],
        [("stage[2].until.ph_at_most", "3.9", "starters stop before")],
    ),
    (
        "an end that names nothing",
        "mild",
        [("{ weight_loss_pct = 20.0 }", "{}")],
        [("stage[4].until", "{…}", "names nothing that ends the stage")],
    ),
    (
        "hours after the latest hour",
        "tangy",
        [("ph_at_most = 4.85", "ph_at_most = 4.85, hours = 60")],
        [("stage[2].until.hours", "60", "never comes before at_most_h = 48")],
    ),
    (
        "a loss no sausage has",
        "mild",
        [("weight_loss_pct = 38.0", "weight_loss_pct = 65")],
        [("stage[6].until.weight_loss_pct", "65", "from 5 to 60")],
    ),
    (
        "a loss that damp air forbids",
        "mild",
        [("rh_pct = 75.0", "rh_pct = 85.0"), ("weight_loss_pct = 38.0", "weight_loss_pct = 40.0")],
        [("stage[6].until.weight_loss_pct", "40.0", "drying ends near 39 %")],
    ),
    (
        "a loss in the ferment",
        "mild",
        [("ph_at_most = 5.3", "ph_at_most = 5.3, weight_loss_pct = 8")],
        [("stage[2].until.weight_loss_pct", "8", "kind dry")],
    ),
    (
        "a loss before there is meat",
        "mild",
        [("hours = 0.25, confirm", "weight_loss_pct = 8, confirm")],
        [("stage[1].until.weight_loss_pct", "8", "no meat hangs")],
    ),
    (
        "a loss that is there already",
        "mild",
        [("weight_loss_pct = 30.0", "weight_loss_pct = 20")],
        [("stage[5].until.weight_loss_pct", "20", "ends at 20 % already")],
    ),
    (
        "a smoke that nobody ends",
        "tangy",
        [("until = { confirm = true }          # You", "until = { hours = 3 } # You")],
        [("stage[3].until.confirm", "", "only you know when a smoke elsewhere is done")],
    ),
    (
        "a warm-up that does not wait",
        "tangy",
        [("hours = 0.25, confirm = true", "hours = 0.25")],
        [("stage[1].until.confirm", "", "until the meat is hung")],
    ),
    ("no. 2 in a cooked sausage", "tangy", [('cure = "1"', 'cure = "2"')], [("cure", '"2"', 'a cooked one takes "1"')]),
    ("a cure without quotes", "mild", [('cure = "2" ', "cure = 2 ")], [("cure", "2", 'in quotes: "2"')]),
    (
        "a starter that is too cold",
        "tangy",
        [("[26.0, 43.0]", "[18.0, 32.0]")],
        [("stage[2].air_temp_c", "36.0", "outside starter_temp_c = [18, 32]")],
    ),
    (
        "a ferment in °F",
        "mild",
        [("air_temp_c = 24.0\nrh_pct = 90.0\nuntil = { ph", "air_temp_c = 75\nrh_pct = 90.0\nuntil = { ph")],
        [("stage[2].air_temp_c", "75", "did you mean 75 °F = 23.9 °C? Then write air_temp_f = 75")],
    ),
    (
        "both units at once",
        "mild",
        [("air_temp_c = 13.0\nrh_pct = 78.0", "air_temp_c = 13.0\nair_temp_f = 55\nrh_pct = 78.0")],
        [("stage[5].air_temp_f", "55", "leave one of them out")],
    ),
    (
        "a ferment elsewhere of which nothing would be counted",
        "mild",
        [
            ('kind = "ferment"', 'kind = "ferment"\nwhere = "elsewhere"'),
            ("air_temp_c = 24.0\nrh_pct = 90.0\nuntil = { ph", "rh_pct = 90.0\nuntil = { ph"),
        ],
        [("stage[2].air_temp_c", "", "a ferment needs its temperature wherever it stands")],
    ),
    (
        "a ferment in the fridge",
        "mild",
        [("air_temp_c = 24.0\nrh_pct = 90.0\nuntil = { ph", "air_temp_c = 4.0\nrh_pct = 90.0\nuntil = { ph")],
        [("stage[2].air_temp_c", "4.0", "between 12 and 45")],
    ),
    (
        "no ferment at all",
        "tangy",
        [(FERMENT_TANGY, 'kind = "rest"\n'), ("ph_due_h", "# ph_due_h")],
        [("stage", "[{…}, {…}, {…}, {…}, {…}, {…}]", "none is a ferment")],
    ),
    (
        "a first stage that dries",
        "mild",
        [('kind = "warm-up"  ', 'kind = "rest"  ')],
        [("stage[1].kind", '"rest"', "the first stage is a warm-up")],
    ),
    (
        "two stages of one name",
        "mild",
        [('"dry-2"', '"dry-1"')],
        [("stage[4].name", '"dry-1"', "stage[3] is called so too")],
    ),
    (
        "pH hours out of order",
        "tangy",
        [("[12, 16, 18,", "[12, 18, 16,")],
        [("stage[2].ph_due_h", "[12, 18, 16, 19, 21, 24, 27, 30, 33, 36, 40, 44]", "each later than the one before")],
    ),
    (
        "a name that is no folder",
        "mild",
        [('name = "mild"', 'name = "Mild/1"')],
        [("name", '"Mild/1"', "small letters")],
    ),
    ("no salt", "mild", [("salt_pct = 2.8\n", "")], [("per_kg.salt_pct", "", "missing; a number from 1.5 to 6")]),
    (
        "a cooked sausage nobody cooks",
        "mild",
        [('style = "raw-dried"', 'style = "cooked"'), ('cure = "2" ', 'cure = "1" ')],
        [("style", '"cooked"', "no stage cooks")],
    ),
    (
        "a ferment without a starter",
        "mild",
        [
            ('starter = "mesophilic"', 'starter = "none"'),
            ("starter_temp_c", "# starter_temp_c"),
            ("starter_g_per_kg", "# starter_g_per_kg"),
        ],
        [("starter", '"none"', "stage ferment ferments; name a starter")],
    ),
    (
        "a starter without its range",
        "mild",
        [("starter_temp_c = ", "# starter_temp_c = ")],
        [("starter_temp_c", "", "missing; the range on the starter's label")],
    ),
    (
        "a range and a dose of no starter",
        "dry-only",
        [
            ('starter = "none"', 'starter_temp_c = [18, 32]\nstarter = "none"'),
            ("dextrose_pct = 0.3", "dextrose_pct = 0.3\nstarter_g_per_kg = 0.25"),
        ],
        [
            ("starter_temp_c", "[18, 32]", "no starter goes in; leave it out"),
            ("per_kg.starter_g_per_kg", "0.25", "so none goes in"),
        ],
    ),
    (
        "a starter of nothing",
        "mild",
        [("starter_g_per_kg = 0.25", "starter_g_per_kg = 0.0")],
        [("per_kg.starter_g_per_kg", "0.0", "nothing sours in time")],
    ),
    (
        "something dried that shows no pH",
        "dry-only",
        [("until = { ph_at_most = 5.3 }", "until = { hours = 2 }"), ("ph_due_h = [0.5]", "# ph_due_h")],
        [("stage[1].until.ph_at_most", "", "shows its pH on arrival, as ph_at_most = 5.3")],
    ),
    (
        "something dried at once",
        "dry-only",
        [('kind = "rest"  ', 'kind = "dry"  ')],
        [("stage[1].kind", '"dry"', 'waits for the pH on arrival: "rest"')],
    ),
    (
        "pH hours where no pH is asked",
        "mild",
        [("ramp_h = 18.0", "ph_due_h = [2]\nramp_h = 18.0")],
        [("stage[3].ph_due_h", "[2]", "a stage that ends on a pH")],
    ),
    (
        "a process that is not published",
        "cooked-semi-dry",
        [('"pepperoni-5.0-145f"', '"peperoni-5.0-145f"')],
        [("kill_step", '"peperoni-5.0-145f"', 'did you mean "pepperoni-5.0-145f"?')],
    ),
    (
        "a process that wants more heat",
        "cooked-semi-dry",
        [("core_temp_c = 68.0", "core_temp_c = 60.0")],
        [("kill_step", '"pepperoni-5.0-145f"', "asks for 62.8 °C in the core")],
    ),
    (
        "a process that wants more acid",
        "cooked-semi-dry",
        [("ph_at_most = 5.0", "ph_at_most = 5.2")],
        [("kill_step", '"pepperoni-5.0-145f"', "asks for pH 5 or lower")],
    ),
    (
        "mould that is smoked",
        "tangy",
        [('starter = "thermotolerant"', 'mould = true\nstarter = "thermotolerant"')],
        [("mould", "true", "leave out stage smoke")],
    ),
    (
        "five faults in one profile",
        "mild",
        [
            ("salt_pct = 2.8", "salt = 2.8"),
            ("ph_at_most = 5.3", "ph_at_most = 6.2"),
            ("rh_pct = 82.0", "rh_pct = 182.0"),
            (
                "elsewhere_if_unfit = true\nair_temp_c = 13.0\nrh_pct = 78.0",
                "elsewhere = true\nair_temp_c = 13.0\nrh_pct = 78.0",
            ),
            ("weight_loss_pct = 38.0", "weight_loss_pct = 58.0"),
        ],
        [
            ("per_kg.salt", "2.8", "salt_pct?"),
            ("stage[4].rh_pct", "182.0", "from 30 to 99"),
            ("stage[5].elsewhere", "true", "elsewhere_if_unfit?"),
            ("stage[2].until.ph_at_most", "6.2", "4.2 and 5.3"),
            ("stage[6].until.weight_loss_pct", "58.0", "never reached at rh_pct = 75"),
        ],
    ),
]


def broken(tmp_path: Path, shipped: Path, swaps: Swaps) -> Path:
    """Write a shipped file with pieces of it swapped; each piece must have been there. A chamber's have no comments."""
    text = shipped.read_text(encoding="utf-8")
    if shipped.parent.name == "chambers":
        text = re.sub(r" +#.*", "", text)
    text = with_day(text) if "cutout_tested_on" in text else text
    for before, after in swaps:
        assert before in text
        text = text.replace(before, after, 1)
    path = tmp_path / shipped.name
    path.write_text(text, encoding="utf-8")
    return path


def assert_lines(message: str, file: str, expected: list[Expected]) -> None:
    lines = message.splitlines()
    for key, value, remedy in expected:
        head = f"{file}: {key} = {value}: " if value else f"{file}: {key}: "
        found = [line for line in lines if line.startswith(head)]
        assert len(found) == 1, f"{head!r} is not once in\n{message}"
        assert remedy in found[0]
    assert len(lines) == len(expected), message


@pytest.mark.parametrize(("shipped", "swaps", "expected"), [c[1:] for c in CHAMBERS], ids=[c[0] for c in CHAMBERS])
def test_a_chamber_file_that_cannot_be_meant_is_told_line_by_line(
    tmp_path: Path, shipped: str, swaps: Swaps, expected: list[Expected]
) -> None:
    path = broken(tmp_path, find("chamber", shipped), swaps)
    with pytest.raises(SettingsError) as told:
        read_chamber(path, TODAY)
    assert_lines(str(told.value), path.name, expected)
    assert told.value.exit_code == 78


@pytest.mark.parametrize(("shipped", "swaps", "expected"), [p[1:] for p in PROFILES], ids=[p[0] for p in PROFILES])
def test_a_profile_that_cannot_be_meant_is_told_line_by_line(
    tmp_path: Path, shipped: str, swaps: Swaps, expected: list[Expected]
) -> None:
    path = broken(tmp_path, find("profile", shipped), swaps)
    with pytest.raises(SettingsError) as told:
        read_profile(path)
    assert_lines(str(told.value), path.name, expected)
    assert told.value.exit_code == 78


def test_a_key_with_a_line_break_in_it_is_told_on_one_line(tmp_path: Path) -> None:
    path = broken(tmp_path, find("chamber", BOX), [("drying =", '"dry\\ning" =')])
    with pytest.raises(SettingsError) as told:
        read_chamber(path, TODAY)
    assert str(told.value).startswith('insulated-box.toml: "dry\\ning" = "none": no such key')
    assert len(str(told.value).splitlines()) == 1


def test_what_is_no_toml_is_told_with_its_line(tmp_path: Path) -> None:
    path = broken(tmp_path, find("chamber", BOX), [('"solid-state"', "solid-state")])
    number = path.read_text(encoding="utf-8").splitlines().index("switch = solid-state") + 1
    with pytest.raises(SettingsError) as told:
        read_chamber(path, TODAY)
    assert str(told.value).startswith(f"insulated-box.toml: line {number}: `switch = solid-state` cannot be read")
    assert len(str(told.value).splitlines()) == 1


def test_a_file_that_ends_in_the_middle_is_told_with_its_last_line(tmp_path: Path) -> None:
    path = tmp_path / "half.toml"
    path.write_text('name = "half"\nroom_temp_c = [16.0,', encoding="utf-8")
    with pytest.raises(SettingsError, match=r"^half\.toml: line 2: `room_temp_c = \[16\.0,` cannot be read"):
        read_chamber(path, TODAY)


def test_a_file_in_another_encoding_is_told_with_its_line(tmp_path: Path) -> None:
    path = tmp_path / "latin.toml"
    path.write_bytes('name = "box"\ntitle = "Kühl"\n'.encode("latin-1"))
    with pytest.raises(SettingsError, match=r"^latin\.toml: line 2: is not UTF-8 text"):
        read_profile(path)


def test_a_file_that_is_not_there_is_no_settings_problem(tmp_path: Path) -> None:
    for path in (tmp_path / "none.toml", tmp_path):
        with pytest.raises(NoInputError, match=str(path)) as told:
            read_chamber(path, TODAY)
        assert told.value.exit_code == 66


def test_a_file_that_may_not_be_read_names_itself(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # Root may read everything, so the refusal is put in the kernel's place.
    def refuse(path: Path, mode: str) -> None:
        raise PermissionError(13, f"Permission denied ({mode})", str(path))

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(AccessError, match=r"mine\.toml: may not be read"):
        read_chamber(tmp_path / "mine.toml", TODAY)


def test_an_empty_file_lacks_everything_that_has_no_default(tmp_path: Path) -> None:
    path = tmp_path / "empty.toml"
    path.write_text("", encoding="utf-8")
    with pytest.raises(SettingsError) as told:
        read_chamber(path, TODAY)
    assert [line.split(": ")[1] for line in str(told.value).splitlines()] == ["name", "sensor", "output", "model"]


def test_where_the_clock_is_not_trusted_the_day_of_the_test_may_lie_ahead(tmp_path: Path) -> None:
    path = broken(tmp_path, find("chamber", BOX), [("2026-01-02", "2999-01-02")])
    assert read_chamber(path, dt.date.max).cutout_tested_on == dt.date(2999, 1, 2)
