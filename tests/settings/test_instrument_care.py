"""How often instruments are to be checked stands in the chamber file, and what it adds to their values is known."""

from pathlib import Path

import pytest

from controller.core.plan import Care
from controller.errors import SettingsError
from controller.settings.chamber_file import find_chamber, plan_of, read_chamber


def chamber_with(tmp_path: Path, more: str, *swaps: tuple[str, str]) -> Path:
    """Return the fridge's file without its table of checks, which is the last but the model's."""
    text = find_chamber("old-fridge").read_text("utf-8")
    head, _, rest = text.partition("[checks]")
    text = f"{head}[model]{rest.partition('[model]')[2]}"
    for before, after in swaps:
        assert before in text
        text = text.replace(before, after, 1)
    path = tmp_path / "chamber.toml"
    path.write_text(f"{text}\n{more}", "utf-8")
    return path


def test_what_the_file_leaves_out_is_yearly_half_yearly_and_daily(tmp_path: Path) -> None:
    care = plan_of(read_chamber(chamber_with(tmp_path, ""))).care
    # CFIA, Annex B: thermometers before first use and once a year; the others are common practice, no source.
    assert (care.thermometer_days, care.humidity_days, care.meter_days) == (365.0, 180.0, 1.0)
    assert (care.thermometer_days, care.humidity_days, care.meter_days) == (
        Care().thermometer_days,
        Care().humidity_days,
        Care().meter_days,
    )
    assert care.sensors == ("air_temp", "rh", "ambient_temp")


def test_offsets_and_days_of_the_file_reach_the_deciding_part(tmp_path: Path) -> None:
    offsets = [("offset_k = 0.0", "offset_k = -0.3"), ("offset_pct = 0.0", "offset_pct = 2.4")]
    path = chamber_with(tmp_path, "[checks]\nthermometer_days = 180\nph_meter_days = 2\n", *offsets)
    care = plan_of(read_chamber(path)).care
    assert care.offsets == {"air_temp": -0.3, "rh": 2.4, "rh_temp": 0.0, "ambient_temp": 0.0}
    assert (care.thermometer_days, care.humidity_days, care.meter_days) == (180.0, 180.0, 2.0)


def test_all_that_is_wrong_with_the_days_is_told_at_once(tmp_path: Path) -> None:
    path = chamber_with(tmp_path, "[checks]\nthermometer_days = 0\nhumidity_day = 90\nph_meter_days = 365\n")
    with pytest.raises(SettingsError) as told:
        read_chamber(path)
    assert "checks.thermometer_days = 0" in str(told.value)
    assert "humidity_day = 90: no such key; did you mean humidity_days?" in str(told.value)
    assert "checks.ph_meter_days = 365" in str(told.value)
