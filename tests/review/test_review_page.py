"""The page as a maker reads it, 80 columns and plain: of a running batch, an empty one, a damaged and a long one."""

import tomllib
from pathlib import Path

import tomli_w

from controller.review.figures import review
from controller.review.page import page
from tests.helpers.batch_logs import Log

HEADINGS = (
    "What matters first", "Stages, planned and real", "Climate", "pH", "Weight", "Alarms", "Pauses", "Gaps",
    "Switched on", "Readings entered", "Corrections", "Checks of instruments", "Notes",
    "Forecasts", "Look at next time",
)  # fmt: skip


def ferment(hours: float = 30.0) -> Log:
    """Return a ferment on its way, hung and weighed, with a pH every six hours."""
    log = Log().event(0.0, "start").event(0.0, "hang").event(0.05, "stage", "hang")
    log.minutes(0.05, hours, 36.0, set_c=36.0, heater_closings="4")
    for number in range(round(hours / 6.0)):
        log.reading(6.0 * number + 1.0, "ph", round(5.8 - 0.15 * number, 2))
    return log.reading(0.0, "weight", 400, piece="A").reading(0.0, "weight", 500, piece="B")


def lines_of(log: Log, tmp_path: Path) -> list[str]:
    return page(log.write(tmp_path / "b"))


def part(lines: list[str], heading: str) -> list[str]:
    """Return the lines below a heading, up to the next empty one."""
    begin = next(place for place, line in enumerate(lines) if line.startswith(heading))
    end = next((place for place in range(begin, len(lines)) if not lines[place]), len(lines))
    return lines[begin:end]


def joined(lines: list[str]) -> str:
    return " ".join(" ".join(lines).split())


def require_plain(lines: list[str]) -> None:
    """Require what a pipe and a terminal of 80 columns can show, and that nothing is promised."""
    assert max(map(len, lines)) <= 80
    assert all(line == line.rstrip() and line.isprintable() for line in lines)
    assert "safe" not in " ".join(lines).lower()


def test_a_running_batch_has_every_part_in_the_order_in_which_a_maker_asks(tmp_path: Path) -> None:
    lines = lines_of(ferment(), tmp_path)
    require_plain(lines)
    places = [next(at for at, line in enumerate(lines) if line.startswith(heading)) for heading in HEADINGS]
    assert places == sorted(places)
    assert lines[1] == "State: running. Times are local (UTC)."
    first = joined(part(lines, "What matters first"))
    assert "4.5 kg of meat, casing 55 mm; now in ferment, for 29.9 h so far" in first
    assert "pH 5.3 after 25.0 h from hanging, 2026-01-06 07:00; first 5.80, last 5.20, lowest 5.20" in first
    assert "Weight loss not known" in first  # Weighed once only.
    assert "ferment 100 %" in first
    stages = part(lines, "Stages")
    assert any(line.split()[:4] == ["ferment", "5", "Jan", "06:03"] and line.endswith("goes on") for line in stages)
    assert any(line.startswith("  dry") and line.endswith("not reached") and "35 % loss" in line for line in stages)


def test_a_batch_of_which_nothing_was_measured_says_so_in_a_line_for_each_thing(tmp_path: Path) -> None:
    log = Log().event(0.0, "start").minutes(0.0, 2.0, 36.0, stage="warm", set_c=36.0)
    lines = lines_of(log, tmp_path)
    require_plain(lines)
    for said in (
        "pH: not measured", "Weight: not weighed", "Alarms: 0", "Pauses: none", "Gaps: none",
        "Readings: none were entered", "Corrections: none", "Notes: none",
        "Switching, energy and water: none is on record",
    ):  # fmt: skip
        assert said in lines, said
    first = joined(part(lines, "What matters first"))
    assert "pH not measured with a meter" in first
    assert "Degree-hours nothing to count yet" in first
    assert "Weight loss not weighed" in first
    assert "Alarms none" in first


def test_an_empty_folder_has_a_page_too(tmp_path: Path) -> None:
    lines = lines_of(Log(), tmp_path)
    require_plain(lines)
    assert "Climate: none is on record" in lines


def test_a_damaged_file_is_named_at_the_top_and_again_at_the_end(tmp_path: Path) -> None:
    folder = ferment().write(tmp_path / "b")
    path = folder / "climate-2026-01-05.csv"
    path.write_bytes(path.read_bytes().replace(b",36.000,36.000,36.000,", b",3x.000,36.000,36.000,", 1))
    lines = page(folder)
    require_plain(lines)
    assert lines[2].startswith("RECORD: ")
    assert "climate-2026-01-05.csv" in joined(lines[2:4])
    assert "the record is damaged or has holes (said above)" in joined(part(lines, "Look at next time"))


def test_lines_of_other_files_are_not_told_as_rows_of_climate(tmp_path: Path) -> None:
    folder = ferment().write(tmp_path / "b")
    with (folder / "events.csv").open("ab") as file:
        file.write(b"rubbish\r\n")
    text = joined(part(page(folder), "Gaps"))
    assert "Rows of climate: 1797; of the whole record 1 line cannot be read not read: events.csv, line" in text
    assert "1 field where the header has 6 (1)" in text


def test_a_changed_climate_is_told_beside_what_the_card_wanted(tmp_path: Path) -> None:
    lines = lines_of(ferment().event(9.0, "set", "set"), tmp_path)
    said = "ferment: what is wanted was changed meanwhile (below); each minute counts by its own"
    assert said in joined(part(lines, "Climate"))
    assert "changed meanwhile" not in joined(lines_of(ferment(), tmp_path / "other"))


def test_a_long_batch_with_very_many_alarms_and_readings_stays_readable(tmp_path: Path) -> None:
    log = Log(every_s=600.0).event(0.0, "start").event(0.0, "hang")
    log.minutes(0.0, 900.0, 13.0, stage="dry", set_c=13.0, every_min=10.0, cooler_closings="9")
    for number in range(60):
        log.reading(10.0 * number, "ph", round(5.8 - 0.01 * number, 2), actor="a maker with a very long name " * 3)
        for piece in range(12):
            log.reading(10.0 * number, "weight", 400 - number - piece, piece=f"P{piece}")
        log.event(10.0 * number + 1.0, "alarm", f"P4-{number}", "1" if number in {17, 40} else "3")
        log.event(10.0 * number + 2.0, "returned", f"P4-{number}")
        log.event(10.0 * number + 3.0, "note")
        log.events[-1]["text"] = "mould, [red] and white " * 9
    lines = lines_of(log, tmp_path)
    require_plain(lines)
    assert len(lines) < 170
    alarms = "\n".join(part(lines, "Alarms"))
    assert "P4-17" in alarms
    assert "P4-40" in alarms  # The most urgent ones are shown.
    assert "48 more, none of them more urgent: --csv has all" in alarms
    assert "4 more in --csv" in joined(part(lines, "Weight loss"))
    assert "14 of 60 weighings; all are in --csv" in part(lines, "Weight loss")[0]
    assert "[red]" in joined(part(lines, "Notes"))  # What people write is no mark-up.


def test_the_ph_is_drawn_to_the_left_of_the_mark_once_it_is_below_5_3(tmp_path: Path) -> None:
    rows = [line for line in part(lines_of(ferment(), tmp_path), "pH,") if "meter" in line]
    assert len(rows) == 5
    for line in rows:
        value, mark, dot = float(line.split()[2]), line.find("|"), line.find("o")
        assert (dot < mark) == (value < 5.3)
        assert mark >= 0


def test_a_ferment_is_judged_by_at_least_its_humidity(tmp_path: Path) -> None:
    log = Log().event(0.0, "hang").minutes(0.0, 6.0, 36.0, set_c=36.0, rh_pct=97.0)  # 85 % were wanted.
    lines = lines_of(log, tmp_path)
    assert any(line.startswith("  ferment") and line.endswith("100 %*") for line in part(lines, "Climate"))
    assert "humidity" not in joined(part(lines, "Look at next time"))


def test_what_to_look_at_next_time_names_the_figure(tmp_path: Path) -> None:
    log = Log().event(0.0, "start").event(0.0, "hang").minutes(0.0, 10.0, 36.0, set_c=36.0, rh_pct=70.0)
    log.minutes(10.0, 20.0, 33.0, set_c=36.0, rh_pct=70.0).reading(1.0, "ph", 5.7).reading(13.0, "ph", 5.2)
    log.readings[-1]["entered_at"] = "2026-01-05T23:30:00Z"
    log.event(2.0, "alarm", "A3-1", "1").event(4.0, "seen", "A3-1").event(4.5, "returned", "A3-1")
    for grams, piece in ((300, "A"), (340, "B")):
        log.reading(0.0, "weight", 400, piece=piece).reading(19.0, "weight", grams, piece=piece)
    said = joined(part(lines_of(log, tmp_path), "Look at next time"))
    for words in (
        "between the last pH above 5.3 and the first below it lay 12.0 h",
        "the air of ferment was within 0.5 K for 50 % of the minutes only",
        "the humidity of ferment was more than 4 % below what was wanted for 100 % of the minutes",
        "alarms to act on now were seen late or by nobody (A3-1)",
        "slowest and fastest piece lie 10.0 % apart",
        "a reading was typed 4.5 h after it was measured",
    ):
        assert words in said, words


def test_a_steady_batch_has_nothing_for_next_time(tmp_path: Path) -> None:
    log = Log().event(0.0, "hang").minutes(0.0, 8.0, 36.0, set_c=36.0)
    assert "Look at next time: nothing stood out" in lines_of(log, tmp_path)


def test_over_the_limit_no_margin_is_told_and_what_to_do_is(tmp_path: Path) -> None:
    near = lines_of(Log().event(0.0, "hang").minutes(0.0, 10.0, 30.0).reading(10.0, "ph", 5.2), tmp_path)
    used_f = 10.0 * (30.5 * 1.8 + 32.0 - 70.0) + 100.0  # Above 60 °F, with half a kelvin added.
    assert f"margin {1200.0 - used_f:.0f} °F·h" in joined(near)
    over = page(Log().event(0.0, "hang").minutes(0.0, 90.0, 36.0).reading(90.0, "ph", 5.0).write(tmp_path / "over"))
    assert "margin" not in joined(over)
    assert "OVER the limit: do not taste" in joined(over)


def test_a_chamber_of_fahrenheit_reads_so_throughout(tmp_path: Path) -> None:
    folder = ferment().write(tmp_path / "b")
    card = tomllib.loads((folder / "recipe.toml").read_text("utf-8"))
    card["chamber"]["units"] = "F"
    (folder / "recipe.toml").write_text(tomli_w.dumps(card), "utf-8")
    lines = page(folder)
    require_plain(lines)
    text = "\n".join(lines)
    assert " °C" not in text.replace(" °C·h", "")  # Each rule counts in its own unit.
    assert "0.5 K" not in text
    climate = part(lines, "Climate")
    assert "air °F" in climate[1]
    assert "±0.9 °F" in climate[1]
    assert any(line.split()[:3] == ["ferment", "96.8", "96.8"] for line in climate)
    assert review(folder)["stages"][-1]["air_temp_c"]["mean"] == 36.0
