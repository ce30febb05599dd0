"""A batch's first minutes on the machine: the lamp warms the modelled box, and the record says so."""

import csv
import io

import pytest

from tests.rig.guest_chamber import ROOM_C, Chamber

pytestmark = pytest.mark.rig


def test_the_box_warms_and_the_record_follows(chamber: Chamber) -> None:
    chamber.pass_(120.0)
    before_c = chamber.probe_c
    chamber.pass_(120.0)
    text = chamber.guest.sh("cat /var/lib/hangroom/batches/*/climate-*.csv")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert len(rows) >= 4, "a row a minute"
    air_c = [float(row["air_temp_c"]) for row in rows if row["air_temp_c"]]
    assert air_c == sorted(air_c), "nothing but warming"
    assert air_c[-1] > ROOM_C + 2.0
    assert before_c - 0.1 <= air_c[-1] <= chamber.probe_c + 0.1, "of the last two minutes, as the probe had it"
    assert float(rows[-1]["heater_pct"]) == 100.0
    assert {row["stage"] for row in rows} == {"warm-up"}
    assert chamber.model.air_c > chamber.probe_c, "the sleeve lags the air"
    assert chamber.show("NRestarts") == "0"
