"""The plan at the kitchen table: typed as options, asked for at a terminal, refused with reasons, taken by start."""

import json
import re
import shlex
import time
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner

from controller.cli.tree import hangroom
from controller.errors import HangroomError
from controller.records.batch_folder import read_card
from controller.settings.shipped import find_profile
from tests.cli.conftest import Typed

TANGY = (
    "plan", "tangy", "--meat", "4.5kg", "--casing", "natural 55mm", "--starter", "culture A", "--starter-range",
    "26C-43C", "--starter-left", "20g", "--cure-strength", "6.25%",
)  # fmt: skip
MILD = (
    "plan", "mild", "--meat", "pork shoulder 4kg 25%, certified", "--meat", "pork back fat 500g 90%, certified",
    "--casing", "55mm", "--starter", "culture B", "--starter-range", "18C-32C", "--cure-strength", "6.25%+4%",
)  # fmt: skip

pytestmark = pytest.mark.usefixtures("chamber")


def test_a_tangy_is_planned_in_one_line(typed: Typed) -> None:
    code, out, err = typed(*TANGY)
    assert code == 0, err
    assert "cure no. 1 (6.25 % nitrite)" in out
    assert "L A T E S T   H O U R" in out
    assert max(map(len, (out + err).splitlines())) <= 80
    assert "safe" not in out + err


def test_a_mild_of_two_meats_gives_one_object(typed: Typed) -> None:
    code, out, _ = typed(*MILD, "--json")
    said = json.loads(out)
    assert code == 0
    assert said["cure"] == "2"
    assert said["meat_kg"] == pytest.approx(4.5)
    # 11.2 g of cure, 6.25 % of it nitrite and 4 % nitrate, on 4.5 kg of green meat.
    assert said["ingoing"]["nitrite_ppm_us"] == pytest.approx(11.2 * 0.0625 / 4500.0 * 1e6)
    assert said["ingoing"]["nitrate_ppm"] == pytest.approx(11.2 * 0.04 / 4500.0 * 1e6)
    assert {"rule", "limit_ppm", "value_ppm", "verdict"} <= set(said["limits"][0])
    dextrose = next(line for line in said["ingredients"] if line["name"] == "dextrose")
    assert 0.3 <= dextrose["pct"] <= 0.4


def test_without_a_terminal_all_that_is_missing_is_named_at_once(typed: Typed) -> None:
    code, out, err = typed("plan", "mild", "--meat", "4.5kg")
    assert (code, out) == (64, "")
    for option in ("--casing", "--starter ", "--starter-range", "--cure-strength"):
        assert option in err
    assert "--meat" not in err.replace("hangroom plan", "")


def test_pounds_are_pounds_and_a_bare_number_is_asked_back(typed: Typed) -> None:
    code, out, _ = typed(*(word if word != "4.5kg" else "10lb" for word in TANGY), "--json")
    assert code == 0
    assert json.loads(out)["meat_kg"] == pytest.approx(4.5359237)
    code, _, err = typed(*(word if word != "4.5kg" else "10" for word in TANGY))
    assert code == 64
    assert "10kg or 10lb" in err


def test_75_in_a_field_for_degrees_is_asked_back(typed: Typed) -> None:
    assert "75C or 75F" in typed(*TANGY, "--room", "75")[2]
    code, _, err = typed(*TANGY, "--room", "75C")
    assert code == 65
    assert "is it in °F" in err
    assert typed(*TANGY, "--room", "75F")[0] == 0


def test_a_nitrite_salt_of_half_a_per_cent_typed_as_a_strong_cure_is_refused(typed: Typed, tmp_path: Path) -> None:
    kept = tmp_path / "tangy.plan"
    code, out, err = typed(*TANGY, "--cure-pct", "2.5%", "--keep", str(kept))
    assert (code, out) == (65, "")
    assert "No plan was made." in err
    assert "156" in err
    assert not kept.exists()


def test_a_cure_that_is_weak_on_its_pack_needs_the_makers_word(typed: Typed) -> None:
    weak = [word if word != "6.25%" else "0.5%" for word in TANGY]
    code, out, err = typed(*weak)
    assert (code, out) == (65, "")
    words = err.rpartition('--accept "')[2].partition('"')[0]
    assert "0.5 % nitrite" in words
    code, out, err = typed(*weak, "--accept", words)
    assert code == 0, err
    assert "Typed out by the maker" in out


def test_raw_pork_without_a_word_on_trichinae_is_asked_before_the_grinder(typed: Typed) -> None:
    untreated = [word.replace(", certified", "") for word in MILD]
    code, _, err = typed(*untreated)
    assert code == 65
    assert "trichinae" in err
    code, out, err = typed(*untreated, "--trichinae", "certified")
    assert code == 0, err
    assert "trichinae option certified" in " ".join(out.split())


def test_mould_and_smoke_do_not_go_together(typed: Typed) -> None:
    assert "smoke keeps mould from growing" in typed(*TANGY, "--mould")[2]
    code, out, _ = typed(*MILD, "--mould")
    assert code == 0
    assert "white mould" in out


def test_a_starter_for_the_cool_is_refused_in_a_warm_ferment(typed: Typed) -> None:
    code, _, err = typed(*(word if word != "26C-43C" else "18C-32C" for word in TANGY))
    assert code == 65
    assert "36.0 °C" in err


def test_a_profile_that_is_not_there_is_no_traceback(typed: Typed) -> None:
    assert typed("plan", "tangi")[0] == 66


def test_the_page_goes_into_a_file_for_the_printer(typed: Typed, tmp_path: Path) -> None:
    page = tmp_path / "wall.txt"
    code, out, err = typed(*TANGY, "--out", str(page))
    assert (code, out) == (0, "")
    assert str(page) in err
    assert "T A N G Y" in page.read_text("utf-8")


@pytest.fixture
def at_the_table(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("controller.cli.verbs.planning.at_terminal", lambda: True)


ANSWERS = [
    "pork shoulder 4",  # No unit: asked again.
    "pork shoulder 4kg 25%", "pork back fat 500g 90%", "",  # Two meats, and no third.
    "natural 55mm", "culture B", "0.25g/kg", "18-32C", "20g", "new", "2099-01-30",
    "",  # Cure no. 2, as the profile has it.
    "6.25", "6.25%+4%",  # The strength has no default, and no unit is asked back.
    "0.1g", "black pepper=3g/kg", "", "19C", "cool cellar",
    "certified",  # For raw pork.
    "7:00-22:00", "us", "auto",
]  # fmt: skip


@pytest.mark.usefixtures("at_the_table")
def test_a_maker_at_the_table_is_asked_for_everything_and_again_where_a_unit_lacks() -> None:
    told = CliRunner().invoke(hangroom, ["plan", "mild"], input="\n".join(ANSWERS) + "\n")
    assert told.exception is None, told.output
    assert "4 of what? 4kg or 4lb?" in told.stderr
    assert "look at the pack" in told.stderr
    assert re.search(r"  certified +pork found free of trichinae", told.stderr)
    assert "M I L D" in told.stdout
    assert "black pepper" in told.stdout
    assert "4.5 kg of meat, natural 55 mm" in told.stdout


@pytest.mark.usefixtures("at_the_table")
def test_who_wants_no_cure_has_to_type_it_out_in_full() -> None:
    answers = [
        "certified pork 4kg 25%, certified", "", "55mm", "culture B", "", "18C-32C", "", "", "", "none", "", "", "", "",
        "", "", "",
    ]  # fmt: skip
    told = CliRunner().invoke(hangroom, ["plan", "mild"], input="\n".join([*answers, "yes"]) + "\n")
    assert isinstance(told.exception, HangroomError), told.output
    assert "No plan was made." in str(told.exception)
    words = str(told.exception).rpartition('--accept "')[2].partition('"')[0]

    told = CliRunner().invoke(hangroom, ["plan", "mild"], input="\n".join([*answers, words]) + "\n")
    assert told.exception is None, told.output
    assert "Typed out by the maker" in told.stdout
    assert "otulism" in told.stderr


def test_start_takes_the_plan_into_the_batch(typed: Typed, daemon: Path, tmp_path: Path) -> None:
    kept = tmp_path / "tangy.plan"
    code, _, err = typed(*TANGY, "--keep", str(kept))
    assert code == 0, err
    assert f"hangroom start tangy --plan {kept}" in err.replace("\n", " ")
    code, out, err = typed("start", "tangy", "--plan", str(kept))
    assert code == 0, err
    batch = out.partition(" started")[0]
    assert "4.5 kg" in out

    folder = daemon / "batches" / batch
    card = tomllib.loads((folder / "recipe.toml").read_text("utf-8"))
    assert card["sheet"]["formula"]["cure"] == "1"
    assert card["formulation"]["cure_g"] == 11.2
    assert card["formulation"]["starter_g"] == 1.2
    assert card["formulation"]["salt_g"] == 107.0
    sheet = read_card(folder).sheet
    assert sheet is not None
    assert sheet.starter is not None
    assert sheet.starter.grams_left == 20.0
    assert sheet.steps


@pytest.mark.usefixtures("daemon")
def test_start_takes_no_plan_that_is_for_something_else(typed: Typed, tmp_path: Path) -> None:
    kept = tmp_path / "mild.plan"
    assert typed(*MILD, "--keep", str(kept))[0] == 0
    code, _, err = typed("start", "tangy", "--plan", str(kept))
    assert code == 65
    assert "a plan for mild, not for tangy" in err
    plan = json.loads(kept.read_text("utf-8"))
    plan["stuffed_wall_s"] = time.time() - 5.0 * 86_400.0
    kept.write_text(json.dumps(plan), "utf-8")
    assert "its hours are over" in typed("start", "mild", "--plan", str(kept))[2]
    assert typed("start", "mild", "--plan", str(kept), "--meat", "4kg")[0] == 64
    assert typed("start", "mild", "--plan", str(tmp_path / "none"))[0] == 66
    code, _, err = typed("start", "mild")
    assert code == 64
    assert "--meat 4.5kg, or --plan FILE" in err


def test_a_note_on_cleaning_stands_under_its_topic(typed: Typed, daemon: Path) -> None:
    assert typed("note", "--topic", "cleaning", "box, mister, probe")[0] == 0
    assert typed("note", "--topic", "gossip", "nothing")[0] == 64
    assert typed("start", "tangy", "--meat", "4.5kg")[0] == 0
    assert typed("note", "--topic", "starter", "culture A, 18.8 g left, frozen")[0] == 0
    rows = [
        row.split(",") for path in sorted(daemon.rglob("events.csv")) for row in path.read_text("utf-8").splitlines()
    ]
    assert ["note", "starter"] in [row[1:3] for row in rows]


def test_a_profile_that_only_dries_has_no_bowl_to_plan(typed: Typed) -> None:
    code, _, err = typed("plan", "dry-only", "--meat", "4kg")
    assert code == 65, err
    assert "there is nothing to plan" in err


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("slow-cool", ("--starter-range", "10C-32C", "--cure-strength", "6.25%+4%", "--trichinae", "certified")),
        ("cooked-semi-dry", ("--starter-range", "26C-43C", "--cure-strength", "6.25%")),
    ],
)
def test_the_rest_of_the_shelf_can_be_planned(typed: Typed, name: str, words: tuple[str, ...]) -> None:
    code, out, err = typed("plan", name, "--meat", "4kg", "--casing", "55mm", "--starter", "culture C", *words)
    assert code == 0, err
    assert "F O R   p H   5 . 3" in out or "this rule protects nothing here" in out


# A second try, and what is asked at the table.


@pytest.mark.usefixtures("at_the_table")
def test_a_refused_answer_is_told_at_its_question_and_the_same_again_ends_with_the_whole_command() -> None:
    answers = ["pork 4kg 25%, certified", "", "natural 55mm", "culture B", "", "18-32C", "", "", "", "2", "6.25%"]
    better = ["6.25%+4%", "", "", "", "", "7am-10pm", "us", "auto"]
    told = CliRunner().invoke(hangroom, ["plan", "mild"], input="\n".join([*answers, *better]) + "\n")
    assert told.exception is None, told.output
    assert "holds nitrate beside nitrite" in told.stderr
    assert "The same one again ends it here" in told.stderr

    told = CliRunner().invoke(hangroom, ["plan", "mild"], input="\n".join([*answers, "6.25%"]) + "\n")
    assert isinstance(told.exception, HangroomError), told.output
    again = str(told.exception).partition("For another try")[2]
    for words in ('--meat "pork 4kg 25%, certified"', '--casing "natural 55mm"', '--starter "culture B"',
                  "--starter-range 18-32C", "--cure 2", "--cure-strength 6.25%"):  # fmt: skip
        assert words in again


@pytest.mark.usefixtures("at_the_table")
def test_the_command_for_another_try_makes_the_plan_when_its_slip_is_mended(typed: Typed) -> None:
    line = ["plan", "mild", "--cure-pct", "2.5%"]
    told = CliRunner().invoke(hangroom, line, input="\n".join(ANSWERS) + "\n")
    assert isinstance(told.exception, HangroomError), told.output
    again = str(told.exception).partition("hangroom plan")[2].replace("\\\n", " ")
    words = shlex.split(again)
    words[words.index("--cure-pct") + 1] = "0.25%"
    code, out, err = typed("plan", *words)
    assert code == 0, err
    assert "black pepper" in out


@pytest.mark.usefixtures("at_the_table")
def test_fat_and_an_unknown_animal_are_asked_at_the_table() -> None:
    answers = ["prok 2kg", "pork 2kg", "", "30", "30%", *ANSWERS[4:]]
    told = CliRunner().invoke(hangroom, ["plan", "mild"], input="\n".join(answers) + "\n")
    assert told.exception is None, told.output
    assert 'prok": which animal' in " ".join(told.stderr.split())
    assert "how fat, in per cent" in told.stderr
    assert "pork, 30 % fat" in told.stdout
    answers = ["pork 2kg", "", "", *ANSWERS[4:]]
    told = CliRunner().invoke(hangroom, ["plan", "mild"], input="\n".join(answers) + "\n")
    assert "pork, 25 % fat, assumed" in told.stdout


@pytest.mark.usefixtures("at_the_table")
def test_help_at_a_question_reads_the_names_with_their_words_again() -> None:
    answers = [*ANSWERS[:-4], "help", *ANSWERS[-4:]]
    told = CliRunner().invoke(hangroom, ["plan", "mild"], input="\n".join(answers) + "\n")
    assert told.exception is None, told.output
    assert told.stderr.count("pork found free of trichinae") == 2
    assert max(map(len, told.stderr.splitlines())) <= 160  # A prompt and what follows it stand on one line here.
    listed = [line for line in told.stderr.splitlines() if line.startswith("  ")]
    assert max(map(len, listed)) <= 80


@pytest.mark.usefixtures("at_the_table")
def test_beef_in_a_raw_profile_is_told_after_the_meat() -> None:
    told = CliRunner().invoke(hangroom, ["plan", "mild"], input="ground chuck 4kg 20%\n\n")
    assert "no listed one fits mild" in " ".join(str(told.exception).split())


def test_what_nobody_knows_is_refused_without_a_terminal_with_the_list_of_animals(typed: Typed) -> None:
    code, out, err = typed(*(word if word != "4.5kg" else "prok 4.5kg" for word in TANGY))
    assert (code, out) == (64, "")
    assert "venison or other game, wild boar, bear, poultry" in " ".join(err.split())


def test_a_bare_mass_is_pork_and_the_sheet_says_that_nothing_else_was_said(typed: Typed) -> None:
    _, out, _ = typed(*TANGY)
    assert "pork (nothing else was said), 25 % fat, assumed" in out
    assert "assumed by the animal: common practice, no source" in out
    assert json.loads(typed(*TANGY, "--json")[1])["meats"][0]["fat_assumed"] is True


def test_the_sheet_names_the_animal_of_each_meat(typed: Typed) -> None:
    _, out, _ = typed(*(word if word != "4.5kg" else "moose 4.5kg" for word in TANGY))
    assert "moose (game), 5 % fat, assumed" in out


def test_smoking_in_the_chamber_that_does_not_smoke_is_said_and_another_place_stands_on_the_sheet(typed: Typed) -> None:
    _, out, _ = typed(*TANGY, "--smokes", "chamber")
    assert "smoke of tangy is not carried out by this chamber" in " ".join(out.split())
    assert "smoke elsewhere (typed was: chamber)" in out
    assert "smoke in: Toni's barn," in typed(*TANGY, "--smokes", "Toni's barn")[1]


def test_another_place_for_the_drying_stands_on_the_sheet_with_what_the_chamber_does(typed: Typed) -> None:
    _, out, err = typed(*MILD, "--dries", "cool cellar")
    assert "Typed for the drying was: cool cellar." in " ".join(out.split())
    assert "the chamber goes on with that climate" in " ".join((out + err).split())
    assert "Typed for the drying" not in typed(*MILD)[1]


def test_the_sheet_names_the_file_of_the_plan_only_where_it_is_kept(typed: Typed, tmp_path: Path) -> None:
    assert "plan with --keep FILE" in " ".join(typed(*TANGY)[1].split())
    _, out, _ = typed(*TANGY, "--keep", str(tmp_path / "tangy.plan"))
    assert "--plan tangy.plan" in " ".join(out.split())
    assert "FILE" not in out


def test_a_chamber_in_fahrenheit_gets_a_page_in_fahrenheit_and_pounds_with_grams(typed: Typed, chamber: Path) -> None:
    text = chamber.read_text("utf-8")
    chamber.write_text(text.replace('units = "C"', 'units = "F"'), "utf-8")
    code, out, err = typed(*(word if word != "4.5kg" else "turkey 10lb" for word in TANGY))
    assert code == 0, err
    assert "10.0 lb (4536 g) of meat" in out
    assert "°C" not in out + err
    assert max(map(len, (out + err).splitlines())) <= 80
    code, _, err = typed("plan", "tangy")
    assert "10lb 25%" in err
    assert "64F-90F" in err


def test_a_start_without_a_plan_is_warned_where_a_plan_would_be_refused(
    typed: Typed, daemon: Path, tmp_path: Path
) -> None:
    assert daemon.is_dir()
    weak = tmp_path / "weak.toml"
    text = find_profile("tangy").read_text("utf-8")
    weak.write_text(re.sub(r"dextrose_pct = [\d.]+", "dextrose_pct = 0.0", text), "utf-8")
    code, _, err = typed("start", str(weak), "--meat", "10lb")
    assert code == 0, err
    plain = " ".join(err.split())
    assert "does not reach 5.3" in plain
    assert f"Make a plan: hangroom plan {weak}" in plain


@pytest.mark.usefixtures("daemon")
def test_a_start_with_a_shipped_profile_is_not_warned(typed: Typed) -> None:
    assert "Make a plan" not in typed("start", "tangy", "--meat", "10lb")[2]


def test_what_stands_on_the_page_is_not_said_once_more_beside_it(typed: Typed, tmp_path: Path) -> None:
    _, out, err = typed(*TANGY)
    cautions = [text.split("\n")[0] for text in out.split("\n! ")[1:]]
    assert cautions
    assert not any(caution in err for caution in cautions)
    assert (out + err).count("poison") == 1
    _, _, err = typed(*TANGY, "--out", str(tmp_path / "page.txt"))  # Then nobody has seen them yet.
    assert all(caution in err for caution in cautions)


def test_what_the_page_has_no_room_for_is_said_in_full_beside_it(typed: Typed) -> None:
    many = [word for number in range(12) for word in ("--meat", f"beef cut{number} 0.4kg 20%")]
    warnings = json.loads(typed(*TANGY, *many, "--json")[1])["warnings"]
    _, out, err = typed(*TANGY, *many)
    shown, said = " ".join(out.split()), " ".join(err.split())
    told = [text for text in warnings if not text.startswith("Nitrite is poisonous")]  # It ends the page.
    assert any(text not in shown for text in told)
    assert [text for text in told if text not in shown and text not in said] == []
