"""The fault table as data: what can go wrong, how it is noticed, what is done about it, and what a person does first.

The identifiers group the rows: S sensors, A actuators, P process, C computer and supply, H human. Alarms, states, the
documentation and the tests read this table; the detection rules stand in the rooms `chamber` and `watch`, their
figures in `thresholds`. Priority 1 means act within half an hour (fire, injury, loss of a batch's safety), 2 within
hours, 3 within a day; E is told and calls nobody. A row that latches keeps its effect until a person clears it after
its cause has gone.
"""

from typing import Final, Literal

from msgspec import Struct

from controller.core.values import Channel, Role

How = Literal["alarm", "event", "asked", "start", "unseen"]
"""An alarm; told only; asked back when it is typed; refused before anything runs; or not to be seen by this program."""

Effect = Literal["", "suspended", "held"]
"""What becomes of the leading batch: nothing, it waits by itself, or it waits for a person."""

Part = Channel | Role
"""What of a chamber a rule needs: a sensor's channel or an output's role."""


class Row(Struct, frozen=True, kw_only=True):
    """Hold one row.

    Attributes:
        id: as `A3`.
        title: what is wrong, in a few words.
        priority: 1, 2, 3 or E; a condition may give another one.
        first: the first thing that a person does.
        detects: the rule, in words.
        within: how long it takes to be noticed, in words.
        does: what the program does by itself, in words.
        clears: when it is over, in words.
        how: whether it is an alarm at all.
        latches: it stays until a person clears it.
        locks_heat: while it is latched, no heat.
        off: outputs that may not be on while it is there.
        fan: the air is stirred meanwhile.
        effect: what becomes of the leading batch.
        on_delay_s: so long its cause must be there before it is an alarm, beyond what its rule waits.
        off_delay_s: so long its cause must have been gone before it is over.
        notice_s: so long its rule may take to notice it; what it silences and came up meanwhile followed from it, and
            after a restart it is not over before its rule could have noticed it again.
        until_seen: it tells of something that has happened, and is there until somebody has seen it.
        did: what a message says of what the program did; empty where its condition says it, or nothing was done.
        needs: groups of parts; of each group the chamber must have one, else the row is not monitored.
        better_with: parts without which a part of the rule is not monitored, and what that part is.
        silences: rows that are mere consequences of this one.
    """

    id: str
    title: str
    priority: Literal["1", "2", "3", "E"]
    first: str
    detects: str
    within: str
    does: str
    clears: str
    how: How = "alarm"
    latches: bool = False
    locks_heat: bool = False
    off: tuple[Role, ...] = ()
    fan: bool = False
    effect: Effect = ""
    on_delay_s: float = 0.0
    off_delay_s: float = 0.0
    notice_s: float = 60.0
    until_seen: bool = False
    did: str = ""
    needs: tuple[tuple[Part, ...], ...] = ()
    better_with: tuple[tuple[Part, str], ...] = ()
    silences: tuple[str, ...] = ()


CLIMATE: Final[tuple[Role, ...]] = ("heater", "master", "humidifier", "cooler", "dehumidifier")
HEAT: Final[tuple[Role, ...]] = ("heater", "master")
BLIND: Final = ("P2", "P4", "P6", "A2", "A3", "A5", "A6", "A7", "A8", "A9", "S11")
"""What follows from a lost sensor and is no news of its own."""
BACK: Final = "three good readings in a row"

S_ROWS: Final = (
    Row(
        id="S1",
        title="sensor missing",
        priority="1",
        first="Check plug and cable; measure by hand now.",
        detects="its file or its number on the bus is gone",
        within="20 s",
        does="heat ends 12 s after the last good reading; humidity and cold too; the air is stirred",
        did="What depends on it is off.",
        clears=f"{BACK}; the third time in 24 h waits for a person",
        fan=True,
        effect="suspended",
        silences=BLIND,
    ),
    Row(
        id="S2",
        title="reading damaged",
        priority="1",
        first="Check cable, pull-up resistor and the distance to the mains.",
        detects="three readings in a row, or more than 20 of the last 100, are damaged",
        within="20 s; the share, 100 readings",
        does="a damaged reading renews nothing; else as S1; many single ones are told (priority 3)",
        did="What depends on it is off.",
        clears=f"{BACK}; the share below 5 % for an hour",
        notice_s=500.0,
        fan=True,
        effect="suspended",
        silences=BLIND,
    ),
    Row(
        id="S3",
        title="no new reading",
        priority="1",
        first="Check the sensor; measure by hand now.",
        detects="the newest reading is older than a minute",
        within="12 s at the lamp, 60 s as an alarm",
        does="as S1",
        did="What depends on it is off.",
        clears=BACK,
        fan=True,
        effect="suspended",
        silences=BLIND,
    ),
    Row(
        id="S4",
        title="reading hangs",
        priority="1",
        first="Unplug the sensor and plug it in again.",
        detects="the call that reads it has not come back for 5 s",
        within="5 s, priority 3; priority 1 after a minute",
        does="its thread is left and begun anew; nothing waits for it; as S3 after 60 s",
        did="What depends on it is off.",
        clears=BACK,
        fan=True,
        effect="suspended",
        silences=BLIND,
    ),
    Row(
        id="S5",
        title="sensor was reset",
        priority="1",
        first="Check the sensor's supply wire.",
        detects="85.000, 127.94 or an empty memory, the codes of a DS18B20",
        within="one reading",
        does="the reading is thrown away and counts as damaged (S2)",
        did="What depends on it is off.",
        clears=BACK,
        fan=True,
        effect="suspended",
        silences=BLIND,
    ),
    Row(
        id="S6",
        title="sensor frozen",
        priority="1",
        first="Replace the sensor, then clear the alarm.",
        detects="the same number for 30 min while another thermometer moved by 0.5 K (the same %RH for 60 min: "
        "priority 2), or while the lamp's switching should have moved it; with no other thermometer the lamp is "
        "switched once for the purpose",
        within="30 min, humidity 60 min; by the lamp 2 h 12 min",
        does="heat off, the batch waits",
        did="Heat is off; the batch is paused.",
        clears="a person, after the change of the sensor",
        notice_s=7920.0,
        latches=True,
        locks_heat=True,
        off=HEAT,
        fan=True,
        effect="held",
        silences=(*BLIND, "S9"),
    ),
    Row(
        id="S7",
        title="reading jumps",
        priority="3",
        first="Check that the sensor hangs still and dry.",
        detects="more than 5 K from one reading to the next, or more than 2 K/min, or 20 %RH in 30 s, door shut; not "
        "where two fall together, or rise together below the warmest room",
        within="10 to 20 s; priority 1 after a minute",
        does="not believed; three that agree within 1 K (5 %RH) are a new level; else as S1",
        did="It is not believed.",
        clears="three consistent readings",
        fan=True,
        effect="suspended",
        silences=BLIND,
    ),
    Row(
        id="S8",
        title="reading impossible",
        priority="1",
        first="Check the sensor and its cable.",
        detects="below −10 or above 60 °C, below 1 or above 100.5 %RH, or no number",
        within="20 s",
        does="as S1",
        did="What depends on it is off.",
        clears=BACK,
        fan=True,
        effect="suspended",
        silences=BLIND,
    ),
    Row(
        id="S9",
        title="temperatures disagree",
        priority="1",
        first="Find out with a thermometer which one is right, then clear this alarm and resume the batch.",
        detects="more than 1.5 K apart for 10 min (priority 3; not while the air climbs so fast that a slower probe "
        "would lag so), more than 3 K for 5 min",
        within="heat at once, the alarm 5 to 10 min",
        does="more than 3 K: heat off until they agree; after 5 min it stays off though they agree again, and the "
        "batch waits for a person; less: the heat goes by the higher one",
        did="Heat is off; the batch is paused. Agreement alone does not end this.",
        clears="agreement, and a person where it was more than 3 K for 5 min",
        notice_s=600.0,
        latches=True,
        locks_heat=True,
        off=HEAT,
        fan=True,
        effect="held",
        needs=(("air_temp_2", "rh_temp"),),
        silences=("A2", "A3", "A9", "P2", "P4", "P6"),
    ),
    Row(
        id="S10",
        title="humidity sensors disagree",
        priority="2",
        first="Check both over a salt solution: hangroom calibrate.",
        detects="more than 5 %RH apart for 30 min (priority 3), more than 10 %RH for 30 min",
        within="30 min",
        does="more than 10 %RH: no mist and no drying",
        did="No mist and no drying.",
        clears="agreement",
        notice_s=1800.0,
        off=("humidifier", "dehumidifier"),
        off_delay_s=300.0,
        needs=(("rh_2",),),
        silences=("P4", "P7", "P8"),
    ),
    Row(
        id="S11",
        title="humidity sensor wet",
        priority="2",
        first="Dry the humidity sensor or wait an hour.",
        detects="99 %RH or more for 30 min with no mist for 15 min, outside a ferment; or, in an empty chamber without "
        "mist, and 6 h after a compressor ran, above 97 %RH, no fall of 1 %RH within 15 min of a rise by 1 K",
        within="30 min",
        does="no mist; the air is stirred",
        did="The humidifier is off.",
        clears="below 97 %RH for 10 min",
        notice_s=1800.0,
        off=("humidifier",),
        fan=True,
        off_delay_s=600.0,
        needs=(("rh",),),
        silences=("P4", "P7"),
    ),
    Row(
        id="S12",
        title="humidity sensor due for a check",
        priority="E",
        first="Check it over a salt solution: hangroom calibrate.",
        detects="72 h above 85 %RH since it was last checked; asked at the next change of stage",
        within="at the change of stage",
        does="nothing: such sensors creep upwards in wet air; each mild batch brings it, so it is asked and no alarm",
        clears="a check of the sensor",
        how="event",
        needs=(("rh",),),
    ),
    Row(
        id="S13",
        title="unknown sensor on the bus",
        priority="3",
        first="Write its number into the chamber file, or take it off.",
        detects="a number on the 1-wire bus that the chamber file does not name",
        within="2 min",
        does="it is not read",
        did="It is not read.",
        clears="it is gone or named",
        on_delay_s=60.0,
        off_delay_s=60.0,
    ),
    Row(
        id="S14",
        title="instrument due for a check",
        priority="3",
        first="Check it: hangroom calibrate.",
        detects="its last good check is older than the chamber file allows ([checks]), by a clock that is known; a pH "
        "meter where a pH is called for; one that was never checked is told every day and is no alarm",
        within="10 min",
        does="nothing",
        clears="a check",
    ),
    Row(
        id="S15",
        title="a sensor that no control depends on is lost",
        priority="3",
        first="Check its cable.",
        detects="as S1, for a sensor that nothing depends on",
        within="20 s",
        does="the rules that need it rest, and say so",
        did="The rules that need it rest.",
        clears=BACK,
        off_delay_s=60.0,
        needs=(("door", "ambient_temp", "core_temp", "evaporator_temp", "rh_2", "cutout", "heater_live",
                "heater_current", "cooler_current", "fan_turns"),),
    ),
)  # fmt: skip

A_ROWS: Final = (
    Row(
        id="A1",
        title="warming without heating",
        priority="1",
        first="Unplug the lamp now. The relay may be stuck.",
        detects="off for 10 min and still warming by 0.3 K, 2 K above what is wanted and above the room, with a "
        "quarter of the lamp's power flowing in by the chamber's figures (half of it where no room thermometer tells "
        "how warm the room is); or, in a ferment whose room is colder, the compressor had to cool three times in an "
        "hour; with load feedback: voltage or current at the lamp 5 s after it was switched off",
        within="10 to 20 min, one to two hours where a compressor hides it; with feedback 10 s",
        does="heat, mist and the master contactor off, air stirred, cold on if there is any",
        did="Heat and mist are off; the batch is paused.",
        clears="a person, after the repair",
        notice_s=1200.0,
        latches=True,
        locks_heat=True,
        off=(*HEAT, "humidifier"),
        fan=True,
        effect="held",
        needs=(("heater",),),
        better_with=(
            ("heater_live", "a welded relay is seen by its warmth, after 10 min, and not by its voltage, after 10 s"),
            (
                "ambient_temp",
                "a room much warmer than room_temp_c may be taken for a stuck relay, and a weak one missed",
            ),
        ),
        silences=("A2", "P4", "P2"),
    ),
    Row(
        id="A2",
        title="too hot",
        priority="1",
        first="Look at the chamber now; unplug the lamp if it still burns.",
        detects="any thermometer at the trip in two readings; 3 K above what is wanted for 5 min (priority 2), once "
        "the air was as low as wanted, and while no other rule still looks for the cause (A1, A8)",
        within="20 s; the warning 5 to 12 min",
        does="at the trip: heat, mist and the master contactor off, the batch waits",
        did="Heat and mist are off; the batch is paused.",
        clears="a person; the warning by itself",
        notice_s=720.0,
        latches=True,
        locks_heat=True,
        off=(*HEAT, "humidifier"),
        fan=True,
        effect="held",
        silences=("P4", "P2"),
    ),
    Row(
        id="A3",
        title="heating without warming",
        priority="1",
        first="Check lamp, plug and thermal cut-out.",
        detects="20 min at full power, or as long as a strong lamp should need for 12 K, 2 K and more below what is "
        "wanted, and less than 0.5 K gained where figures and load lead one to expect 3 K, while nothing cools the "
        "air, cold meat just hung included; with current sensing: switched on for 10 s and no current; priority 2 "
        "outside ferment and warm-up",
        within="20 min, sooner with a strong lamp; with current sensing 10 s",
        does="heat only in trials of at most 5 min each half hour",
        did="Heat only in trials of at most 5 min each half hour.",
        clears="a rise of 0.5 K, or current while it is switched on",
        notice_s=1200.0,
        off_delay_s=60.0,
        effect="suspended",
        needs=(("heater",),),
        better_with=(("heater_current", "a dead lamp is seen by the cold, after 20 min, and not at once"),),
        silences=("P2", "P4", "P6"),
    ),
    Row(
        id="A4",
        title="thermal cut-out open",
        priority="1",
        first="Find out why it opened before you reset it.",
        detects="the contact of the cut-out says that it has opened; or no voltage at the lamp 10 s after it was "
        "switched on",
        within="10 to 15 s",
        does="heat off, the batch waits",
        did="Heat is off; the batch is paused.",
        clears="a person",
        latches=True,
        locks_heat=True,
        off=HEAT,
        fan=True,
        effect="held",
        needs=(("heater",), ("cutout", "heater_live")),
        silences=("A3", "P2", "P4", "P6"),
    ),
    Row(
        id="A5",
        title="humidifier gives nothing",
        priority="2",
        first="Fill the humidifier.",
        detects="half an hour at 5 %RH and more below what is wanted, mist given for more than 100 %RH, and less than "
        "1 %RH gained",
        within="30 min",
        does="mist only in trials of 5 min each half hour",
        did="Mist only in trials of 5 min each half hour.",
        clears="a rise of 1 %RH in a trial",
        notice_s=1800.0,
        off_delay_s=60.0,
        needs=(("humidifier",), ("rh",)),
        silences=("P4", "P2", "P8"),
    ),
    Row(
        id="A6",
        title="humidifier does not stop",
        priority="2",
        first="Unplug the humidifier; look for a leak.",
        detects="no mist asked for 15 min, and vapour for 5 %RH more than wanted that has risen by 2 %RH in 15 min or "
        "fills the air; in the empty box, and from 24 h after hanging on where neither fresh meat nor a cold plate "
        "(for 6 h after it ran), nor a humid room that is warmer, wets the air",
        within="15 min",
        does="mist off, a dehumidifier or vent on, air stirred",
        did="The humidifier is off.",
        clears="a person",
        notice_s=900.0,
        latches=True,
        off=("humidifier",),
        fan=True,
        needs=(("humidifier",), ("rh",)),
        silences=("P4", "P7", "S11"),
    ),
    Row(
        id="A7",
        title="cold without effect",
        priority="2",
        first="Is the evaporator iced, is the door tight?",
        detects="cooling for 2 h at 90 % and more, 1 K too warm and less than 0.3 K gained in an hour; or an "
        "evaporator below −15 °C with no fall of the air",
        within="1 to 2 h",
        does="the compressor rests 30 min so that ice melts, air is stirred; the second time in 12 h the batch waits",
        did="The compressor rests.",
        clears="a fall of 0.5 K, or no longer too warm",
        notice_s=10800.0,
        off=("cooler",),
        fan=True,
        needs=(("cooler",),),
        better_with=(("evaporator_temp", "ice on the evaporator is seen by the warmth only"),),
        silences=("A2", "P2", "P4", "S11", "A6", "P7"),
    ),
    Row(
        id="A8",
        title="compressor does not start",
        priority="2",
        first="Listen whether it runs; check its plug and the fridge's own thermostat.",
        detects="20 min of running and the air, a kelvin too warm, has not fallen by 0.3 K; with current sensing: no "
        "current for 10 s",
        within="20 to 50 min; with current sensing 10 to 15 s",
        does="it rests 10 min and is tried again; after three times in 2 h it rests until the first is 2 h old",
        did="The compressor rests and is tried again.",
        clears="a fall of 0.3 K, current, or no longer too warm",
        notice_s=3600.0,
        off=("cooler",),
        fan=True,
        needs=(("cooler",),),
        better_with=(("cooler_current", "that it draws no current is not seen at once, and ice may be taken for it"),),
        silences=("A2", "P2", "P4", "A7", "S11", "A6", "P7"),
    ),
    Row(
        id="A9",
        title="circulation fan stands",
        priority="2",
        first="Check the fan and its plug.",
        detects="its contact shows no turns for 30 s while it is switched on; or two air thermometers are 2 K further "
        "apart than usual, for 10 min of stirring (priority 3)",
        within="30 s of stirring; by the thermometers 10 min of stirring",
        does="heat at half power at most, no mist",
        did="Heat at half power, no mist.",
        clears="it turns, or the thermometers agree again",
        notice_s=1800.0,
        off=("humidifier",),
        off_delay_s=60.0,
        needs=(("fan",), ("fan_turns", "air_temp_2")),
    ),
    Row(
        id="A10",
        title="an output does not follow",
        priority="1",
        first="Switch the chamber's mains off; check the relay board.",
        detects="an output's own level, read back, is not the one that was set, at two looks",
        within="two decisions",
        does="all heat off at the first look, the pins are set anew; the second time, or after a minute, heat stays "
        "locked",
        did="All heat is off; the pins are set anew.",
        clears="the level follows; after the second time a person",
        off=HEAT,
        fan=True,
        effect="suspended",
    ),
    Row(
        id="A11",
        title="too much switching",
        priority="3",
        first="Give it longer windows (window_s), or a solid-state relay.",
        detects="more than 15 closings in an hour of the lamp's mechanical relay, more than 8 starts of a compressor",
        within="an hour",
        does="nothing",
        clears="less in an hour",
        notice_s=3600.0,
        off_delay_s=3600.0,
        needs=(("heater", "cooler", "dehumidifier"),),
    ),
    Row(
        id="A12",
        title="relay's life used up",
        priority="3",
        first="Change the relay before the next batch and write the day as fitted_on at this output in the chamber "
        "file.",
        detects="80 % of 100,000 operations of a mechanical relay, or of what the chamber file says (rated_operations)",
        within="an hour",
        does="nothing",
        clears="the chamber file names another day on which the relay was fitted (fitted_on)",
        notice_s=3600.0,
    ),
)

P_ROWS: Final = (
    Row(
        id="P1",
        title="door open",
        priority="2",
        first="Close the door.",
        detects="its contact; without one a temperature that falls by more than 3 K a minute while humidity changes by "
        "more than 3 %RH and its own mist does not explain it, or, where nothing dries the air, 20 % of the vapour "
        "gone in two minutes while it gets colder (in a chamber colder than its room only the contact tells; what "
        "falls back there after it warmed as fast without the lamp is a door that was shut); not while the meat is "
        "being hung, unless it is open for half an hour. A warning where it is opened over and over, never shut for 20 "
        "min, for 2 h",
        within="at once by its contact, else 1 to 2 min; an alarm after 10 min, priority 1 after 30 min",
        does="mist and cold off, what the loops remember is frozen; slow rules rest, and 20 min after, but no longer "
        "than those 2 h",
        did="Mist and cold are off.",
        clears="it is shut",
        notice_s=600.0,
        off=("humidifier", "cooler", "dehumidifier"),
        needs=(("door", "rh_temp"),),
        better_with=(
            (
                "door",
                "only that a door opens is guessed, in a chamber warmer than its room; a forgotten one calls nobody",
            ),
        ),
        silences=("P2", "P4", "P6", "A3", "A5", "A7", "A8", "A9"),
    ),
    Row(
        id="P2",
        title="climate out of reach",
        priority="2",
        first="Warm or cool the room, or move the chamber.",
        detects="full power for an hour, still more than 2 K (or 5 %RH, too dry) away, and more than 16 h to go at the "
        "pace of that hour, and meat that may still be cold does not take it all; or a room, measured, in which the "
        "lamp can never get there by the chamber's figures",
        within="60 min",
        does="goes on; hours at the right climate do not count",
        did="It goes on trying; these hours do not count.",
        clears="within 1 K (or 2.5 %RH)",
        notice_s=3600.0,
        off_delay_s=300.0,
        silences=("P4",),
    ),
    Row(
        id="P3",
        title="room outside what the chamber can do",
        priority="2",
        first="Move the chamber, or wait for another day.",
        detects="cold is wanted, there is none, and the room is no more than 1 K below it",
        within="at the start",
        does="a start is asked back, and done if a person insists",
        clears="a person",
        how="asked",
        better_with=(("ambient_temp", "the room's limits of the chamber file are believed"),),
    ),
    Row(
        id="P4",
        title="climate off what is wanted",
        priority="2",
        first="Look at door, lamp, water and room.",
        detects="more than 2 K off for 15 min, or the humidity's mean of an hour more than 5 % for 30 min (in a "
        "ferment only below), once it was reached after hanging, after a ramp from 1.5 times its hours on, and while "
        "no other rule still looks for the cause, or has looked for 45 min in which the air made up less "
        "than a kelvin or a third of what was missing; priority 3 while drying",
        within="15 to 50 min; humidity about an hour",
        does="goes on; hours at the right climate do not count",
        did="These hours do not count.",
        clears="back within 1.5 K or 3 %RH",
        notice_s=3600.0,
        off_delay_s=60.0,
    ),
    Row(
        id="P5",
        title="running away upwards",
        priority="1",
        first="Look at the chamber now.",
        detects="this is what A1 and A2 watch for",
        within="see A1 and A2",
        does="see A1 and A2",
        clears="see A1 and A2",
        how="unseen",
    ),
    Row(
        id="P6",
        title="far too cold",
        priority="1",
        first="Is the cooling stuck on? Unplug it; look at the meat.",
        detects="4 K below what is wanted (where less than 5 °C is wanted: below 1 °C; where less than 3 °C: 2 K "
        "below) for 10 min, once it has been reached after hanging, and while A3 does not look at the lamp, or has "
        "looked for 45 min in which the air made up less than a kelvin or a third of what was missing",
        within="10 to 50 min",
        does="cold and drying off; heat stays allowed",
        did="Cold and drying are off.",
        clears="within 2 K",
        notice_s=600.0,
        off=("cooler", "dehumidifier"),
        off_delay_s=60.0,
        silences=("P2", "P4"),
    ),
    Row(
        id="P7",
        title="too damp for too long",
        priority="2",
        first="Mould likes this: more fan or fresh air, wipe what grows, look daily.",
        detects="drying, and the humidity's mean of an hour 10 % above what is wanted for 6 h, or above 90 % for 12 h",
        within="6 to 12 h",
        does="dries as hard as the chamber can",
        did="It dries as hard as it can.",
        clears="5 %RH nearer for half an hour",
        notice_s=21600.0,
        off=("humidifier",),
        off_delay_s=1800.0,
        needs=(("rh",),),
        silences=("P4",),
    ),
    Row(
        id="P8",
        title="drying too fast",
        priority="2",
        first='Make the air damper by 2 or 3 points and the fan weaker: hangroom set --rh 78 --because "too fast"',
        detects="the humidity's mean of an hour 10 % below what is wanted for 6 h; or the weighings show it",
        within="6 h, or at the weighing",
        does="goes on",
        clears="5 %RH nearer for half an hour; a slower weighing",
        notice_s=21600.0,
        off_delay_s=1800.0,
        better_with=(("rh", "air that is too dry is seen by the weighings only"),),
        silences=("P4",),
    ),
    Row(
        id="P9",
        title="degree-hours",
        priority="1",
        first="Measure the pH now.",
        detects="70 and 90 % of the limit without a pH of 5.3, and over it",
        within="at once",
        does="over: heat and mist off in the whole chamber, the batch waits; no stage ends by itself",
        did="No stage ends by itself.",
        clears="a pH of 5.3 before the limit; over it never",
        latches=True,
        off=(),
        silences=("H2",),
    ),
    Row(
        id="P10",
        title="stage longer than planned",
        priority="3",
        first="Look at the meat and decide.",
        detects="longer than the profile's at_most_h; without one, longer than 1.5 times its hours",
        within="at once",
        does="nothing: no stage ends by the clock",
        did="No stage ends by the clock.",
        clears="the stage ends",
    ),
    Row(
        id="P11",
        title="batch waits for a person",
        priority="1",
        first="Look at the meat, then: hangroom resume.",
        detects="the program has paused a batch and no other alarm says so",
        within="at once",
        does="heat and mist off",
        did="Heat and mist are off.",
        clears="a person",
    ),
    Row(
        id="P12",
        title="two batches want the chamber",
        priority="3",
        first="Move one of them, or let it hang along.",
        detects="a second open batch in the chamber",
        within="at once",
        does="the first one leads the climate",
        clears="one of them is elsewhere",
    ),
    Row(
        id="P13",
        title="drying stands still",
        priority="3",
        first="Cut one open: is the rim hard? Even out, or dry more.",
        detects="two weighings with almost no loss between them",
        within="at the weighing",
        does="nothing",
        clears="the next weighing",
    ),
)

C_ROWS: Final = (
    Row(
        id="C1",
        title="program too slow",
        priority="2",
        first="Read the journal of the service; is the card worn out?",
        detects="a decision more than three periods (15 s) after the last one; one that does not come for 30 s ends "
        "the program",
        within="30 s",
        does="each output ends by its own timer; then the service is killed, all relays off, and begun anew",
        did="Each output ended by its own timer.",
        clears="an hour without",
        off_delay_s=3600.0,
    ),
    Row(
        id="C2",
        title="program crashes",
        priority="1",
        first="Read the journal of the service, then clear the alarm.",
        detects="three ends without a stop in ten minutes",
        within="at the third start",
        does="heat is locked",
        did="Heat is locked.",
        clears="a person",
        latches=True,
        locks_heat=True,
        off=HEAT,
        effect="held",
    ),
    Row(
        id="C3",
        title="computer had stopped",
        priority="2",
        first="Look at supply, cooling and card of the computer.",
        detects="the machine's own watchdog says that it has reset it",
        within="at the next start",
        does="as after a power cut",
        did="It went on as after a power cut.",
        clears="somebody has seen it",
        until_seen=True,
    ),
    Row(
        id="C4",
        title="clock stepped",
        priority="3",
        first="Compare the clock; correct what was typed in with a wrong time.",
        detects="the clock on the wall moved by more than 2 s against the one that only counts; an alarm where by more "
        "than a minute, or back",
        within="one decision",
        does="nothing stops: stages and counts have a clock of their own",
        did="Stages and counts go on by a clock of their own.",
        clears="somebody has seen it",
        until_seen=True,
    ),
    Row(
        id="C5",
        title="clock not set",
        priority="2",
        first="Give it network, or a clock with a battery; see `date`.",
        detects="neither network time nor a clock battery since the start",
        within="at once",
        does="goes on; rows are marked; how long a cut was is bounded by the cooling only",
        did="Rows are marked.",
        clears="the clock is set",
        on_delay_s=120.0,
    ),
    Row(
        id="C6",
        title="records cannot be written",
        priority="1",
        first="Make room on the card or replace it.",
        detects="less than 200 MB or 5 % free (priority 3); writing fails",
        within="a minute",
        does="goes on; a day of records waits in memory and is written late, with a mark; nothing is deleted",
        did="Control goes on; records wait in memory.",
        clears="all is written",
        silences=("C8",),
    ),
    Row(
        id="C7",
        title="card has become read-only",
        priority="1",
        first="Copy the card and replace it: it is dying.",
        detects="writing fails for that reason, or the mount says so",
        within="a minute",
        does="as C6; no new batch may start",
        did="Control goes on; records wait in memory, and no batch may start.",
        clears="a person, with another card",
        latches=True,
        silences=("C6", "C8"),
    ),
    Row(
        id="C8",
        title="card is slow",
        priority="3",
        first="Replace the card soon.",
        detects="forcing a record to the card took more than 5 s",
        within="at once",
        does="nothing waits for it",
        did="Nothing waits for it.",
        clears="an hour without",
        off_delay_s=3600.0,
    ),
    Row(
        id="C9",
        title="supply too weak",
        priority="3",
        first="Use a stronger supply and a shorter cable for the computer.",
        detects="the kernel's alarm of low voltage; more than ten in an hour are priority 2",
        within="2 to 10 s",
        does="no output changes for 2 s but to off",
        did="No output changes for 2 s but to off.",
        clears="ten minutes without",
        off_delay_s=600.0,
    ),
    Row(
        id="C10",
        title="computer too hot",
        priority="3",
        first="Give the computer air; keep it outside the chamber.",
        detects="its processor is above 80 °C",
        within="a minute",
        does="nothing",
        clears="below 75 °C",
        on_delay_s=45.0,
        off_delay_s=60.0,
    ),
    Row(
        id="C11",
        title="network lost",
        priority="3",
        first="Look at the router.",
        detects="the daemon has no network on purpose; notices are another process",
        within="never",
        does="the sounder needs no network",
        clears="",
        how="unseen",
    ),
    Row(
        id="C12",
        title="notices do not arrive",
        priority="3",
        first="Test the sounder: hangroom alarms --test.",
        detects="the daemon sends none; it reminds of testing the sounder instead",
        within="never",
        does="the sounder needs no network",
        clears="",
        how="unseen",
    ),
    Row(
        id="C13",
        title="settings or memory damaged",
        priority="1",
        first="Compare the open batches with what hangs; start them anew if they are forgotten.",
        detects="a chamber file that is wrong ends the start (exit 78); a checkpoint that is damaged is told",
        within="at the start",
        does="the copy before is taken; without one batches are forgotten, their folders are not",
        did="The copy before was taken.",
        clears="somebody has seen it",
        until_seen=True,
    ),
    Row(
        id="C14",
        title="supply comes and goes",
        priority="2",
        first="Look at mains, plug and fuse.",
        detects="more than three starts of the machine, or bursts of low voltage, in an hour",
        within="an hour",
        does="no heat until it has been quiet for ten minutes; compressors rest in full after each start",
        did="No heat until it has been quiet for 10 min.",
        clears="ten minutes of quiet",
        notice_s=3600.0,
        off=HEAT,
        effect="suspended",
    ),
    Row(
        id="C15",
        title="a second program",
        priority="E",
        first="Stop one of them.",
        detects="the lock of the run directory or the relays' lines are taken",
        within="at the start",
        does="it ends and touches nothing (exit 69)",
        clears="at once",
        how="start",
    ),
    Row(
        id="C16",
        title="program was not running",
        priority="2",
        first="Measure pH and look at the meat.",
        detects="a gap of more than 15 min between two runs, or of unknown length; priority 1 in a ferment",
        within="at the start",
        does="up to 8 h goes on; longer or unknown: no heat, the batch waits; degree-hours count the gap warmest",
        clears="somebody has seen it",
        until_seen=True,
        silences=("H2",),
    ),
)

H_ROWS: Final = (
    Row(
        id="H1",
        title="wrong profile chosen",
        priority="E",
        first="Read what is shown before the start.",
        detects="what the first stage needs is compared with sensors, outputs and the plan",
        within="at the start",
        does="shows climate and product; refuses what cannot be",
        clears="at once",
        how="asked",
    ),
    Row(
        id="H2",
        title="pH not entered",
        priority="3",
        first="Measure the pH and type it in.",
        detects="two hours after it was due; priority by the degree-hours used",
        within="2 h",
        does="the stage waits",
        did="The stage waits.",
        clears="a pH",
    ),
    Row(
        id="H3",
        title="°F taken for °C",
        priority="E",
        first="Type the unit: 98F, 37C.",
        detects="a bare number where the unit could be mistaken",
        within="when it is typed",
        does="asks back",
        clears="at once",
        how="asked",
    ),
    Row(
        id="H4",
        title="pH mistyped",
        priority="E",
        first="Read the meter again.",
        detects="outside 4.2 to 6.5 (refused outside 3 to 8), the value of a buffer, a rise of more than 0.15, or a "
        "fall faster than any culture",
        within="when it is typed",
        does="asks back; keeps what was insisted on",
        clears="at once",
        how="asked",
    ),
    Row(
        id="H5",
        title="weight mistyped",
        priority="E",
        first="Weigh again.",
        detects="more than before, too much lost, or a ratio of two units",
        within="when it is typed",
        does="asks back and names the likely slip",
        clears="at once",
        how="asked",
    ),
    Row(
        id="H6",
        title="cure or salt mistyped",
        priority="E",
        first="Read the bag, weigh again.",
        detects="the amounts against the legal limits",
        within="when it is planned",
        does="refuses what is over",
        clears="at once",
        how="asked",
    ),
    Row(
        id="H7",
        title="quieted and forgotten",
        priority="E",
        first="Nothing: it comes back by itself.",
        detects="quieting an alarm always ends",
        within="8 h at most",
        does="the alarm calls again; one of priority 1 can be quieted for an hour only, and only after it was seen",
        clears="at once",
        how="event",
    ),
    Row(
        id="H8",
        title="left switched by hand",
        priority="E",
        first="Nothing.",
        detects="there is no switching by hand: no verb turns an output on",
        within="never",
        does="a wish (hangroom set) ends with its stage",
        clears="",
        how="unseen",
    ),
    Row(
        id="H9",
        title="air probe outside",
        priority="1",
        first="Put the probe back into the chamber's air.",
        detects="it is 3 K colder than the other thermometer for a minute; or, alone, as warm as the room for 30 min "
        "of heat; or, alone, much colder after a silence of a minute with the door shut",
        within="heat at once, the alarm 1 to 30 min",
        does="heat off, the batch waits",
        did="Heat is off; the batch is paused.",
        clears="a person, after both agree",
        notice_s=1800.0,
        latches=True,
        locks_heat=True,
        off=HEAT,
        fan=True,
        effect="held",
        needs=(("air_temp_2", "rh_temp", "ambient_temp"),),
        silences=("S7", "S9", "A2", "A3", "A7", "A8", "P2", "P4", "P6"),
    ),
    Row(
        id="H10",
        title="wrong person",
        priority="E",
        first="Take who may not out of the group hangroom.",
        detects="the files' own rights: only members of the group can ask for anything",
        within="when it is asked",
        does="refused by the kernel (exit 77)",
        clears="at once",
        how="start",
    ),
    Row(
        id="H11",
        title="no tested thermal cut-out",
        priority="E",
        first="Fit and test a thermal cut-out, then write it down.",
        detects="the chamber file names none, or no day of its test",
        within="at the start",
        does="no heat, and no start on real hardware (exit 78)",
        did="No heat is given.",
        clears="the chamber file",
        how="start",
    ),
)

ROWS: Final[dict[str, Row]] = {row.id: row for row in (*S_ROWS, *A_ROWS, *P_ROWS, *C_ROWS, *H_ROWS)}
"""Every row by its id, in the order of the table."""


def lacking(row: Row, parts: frozenset[Part]) -> tuple[Part, ...]:
    """Return what the chamber would need for this row to be monitored at all; empty where it is."""
    for group in row.needs:
        if not parts.intersection(group):
            return group
    return ()
