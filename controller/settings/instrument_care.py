"""From a chamber file to the care of its instruments: the sensors, their offsets, and how often each is checked."""

from controller.core.plan import Care
from controller.core.values import Channel
from controller.settings.chamber_tables import ChamberFile, SensorEntry


def care_of(chamber: ChamberFile) -> Care:
    """Return what is to be cared for; a contact is not, and a humidity sensor once for both its values."""
    checks = chamber.checks
    return Care(
        sensors=tuple(entry.channel for entry in chamber.sensor if entry.kind != "contact"),
        offsets={channel: offset for entry in chamber.sensor for channel, offset in offsets_of(entry).items()},
        thermometer_days=checks.thermometer_days,
        humidity_days=checks.humidity_days,
        humidity_wet_h=chamber.faults.wet_hours,
        meter_days=checks.ph_meter_days,
    )


def offsets_of(entry: SensorEntry) -> dict[Channel, float]:
    """Return what is added to each value of a sensor before anything else is done with it, in K or %RH."""
    if entry.kind == "contact":
        return {}
    if entry.channel == "rh":
        return {"rh": entry.offset_pct, "rh_temp": entry.offset_k}
    if entry.channel == "rh_2":
        return {"rh_2": entry.offset_pct}
    return {entry.channel: entry.offset_k}
