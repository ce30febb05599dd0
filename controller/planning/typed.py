"""How the answers of the interview are read from what was typed: with their units, or with the question back."""

import datetime as dt
import re
from difflib import get_close_matches
from typing import Final, Literal, get_args
from zoneinfo import ZoneInfo

from controller.core.sheet import Authority, Criterion
from controller.errors import DataError, UsageError
from controller.food.bowl.cure import Strength
from controller.food.degree_hours import TARGET_PH
from controller.food.germs.kill_steps import KILL_STEPS
from controller.food.germs.trichinae import OPTION_IDS
from controller.planning.answers import Spice
from controller.planning.volumes import refuse_volume
from controller.settings.clock import NOON, parse_clock, time_of_day
from controller.settings.units import parse_duration_s, parse_length_mm, parse_mass_g, parse_temp_c, to_c, to_f

THINNEST_MM, THICKEST_MM = 10.0, 200.0
COLDEST_ROOM_C, HOTTEST_ROOM_C = -10.0, 45.0
COLDEST_STARTER_C, HOTTEST_STARTER_C = -5.0, 60.0
COLDEST_MEAT_C, HOTTEST_MEAT_C = -10.0, 15.0
MOST_STARTER_G_PER_KG: Final = 20.0
"""Beyond these somebody took a wrong unit; common sense, no source."""
LOWEST_AIM_PH, HIGHEST_AIM_PH = 4.4, TARGET_PH

_SHARE: Final = re.compile(r"(?<![\w.])(\d+(?:\.\d+)?|\.\d+)\s*%")
LEAST_AWAKE_H: Final = 8.0
"""Who is awake for less has probably meant 7 to 10 in the evening; common sense, no source."""


def casing(text: str) -> tuple[str, float]:
    """Return the kind and the mm of a casing from `natural 55mm`. Raises UsageError, DataError."""
    parts = re.match(r"(.*?)\s*((?:\d+(?:\.\d*)?|\.\d+)\s*(?:mm|cm|in|\")?)(.*)", text.strip(), re.IGNORECASE)
    if parts is None:
        raise UsageError(f'--casing {text}: how wide? Write it as "natural 55mm".')
    diameter_mm = parse_length_mm(parts[2], "--casing")
    if not THINNEST_MM <= diameter_mm <= THICKEST_MM:
        raise DataError(f"--casing {text}: a casing has {THINNEST_MM:g} to {THICKEST_MM:g} mm, e.g. 55mm.")
    return " ".join((parts[1] + " " + parts[3]).split()) or "casing", diameter_mm


def words(text: str) -> str:
    """Return words on one line. Raises UsageError where there are none."""
    said = " ".join(text.split())
    if not said:
        raise UsageError("say something in words.")
    return said


def place(text: str) -> str:
    """Return a place in words; no and none are nowhere."""
    said = " ".join(text.split())
    return "" if said.lower() in {"no", "none", "nowhere"} else said


def grams(text: str, what: str = "the grams") -> float:
    """Return the grams of a mass. Raises UsageError: for a bare number with the grams it may mean."""
    refuse_volume(text, what, "60g")
    if re.fullmatch(r"\s*(\d+(\.\d*)?|\.\d+)\s*", text):
        raise UsageError(f"{what} {text}: in which unit? Write {text.strip()}g.")
    return parse_mass_g(text, what)


def scale(text: str) -> float:
    """Return the grams that a scale shows at best. Raises UsageError."""
    return grams(text, "--scale")


def grams_or_unknown(text: str) -> float | None:
    """Return the grams that are left; None where unknown. Raises UsageError."""
    if text.strip().lower() in {"unknown", "?"}:
        return None
    return 0.0 if re.fullmatch(r"0(\.0*)?\s*g", text.strip()) else grams(text, "--starter-left")


def grams_per_kg(text: str) -> float:
    """Return grams for each kg of meat from `0.25g/kg`, `25g per 50lb` or `0.1g/lb`. Raises UsageError, DataError."""
    refuse_volume(text, "--starter-dose", "0.25g/kg or 25g per 50lb")
    dose, slash, per = re.sub(r"\s+(per|for|to)\s+", "/", text.strip(), flags=re.IGNORECASE).partition("/")
    if not slash:
        raise UsageError(f"--starter-dose {text}: for how much meat? Write it as 0.25g/kg or 25g per 50lb.")
    per = per.strip()
    per_kg = parse_mass_g(per if per[:1].isdigit() else f"1{per}", "--starter-dose") / 1000.0
    g_per_kg = parse_mass_g(dose, "--starter-dose") / per_kg
    if g_per_kg > MOST_STARTER_G_PER_KG:
        raise DataError(f"--starter-dose {text}: {g_per_kg:g} g for each kg is no dose of a starter, e.g. 0.25g/kg.")
    return g_per_kg


def fat_pct(text: str) -> float:
    """Return the fat of a meat in % of its mass. Raises UsageError."""
    found = _SHARE.fullmatch(text.strip())
    if found is None or float(found[1]) > 100.0:  # noqa: PLR2004 - per cent
        raise UsageError(f"{text}: how fat, in per cent of its weight? Write it as 25%.")
    return float(found[1])


def spice(text: str) -> Spice:
    """Return a spice from `black pepper=3g/kg` or `garlic=0.2%`. Raises UsageError."""
    name, equals, amount = text.partition("=")
    if not (equals and name.strip() and amount.strip()):
        raise UsageError(f'--spice {text}: how much for each kg of meat? Write it as "black pepper=3g/kg".')
    return Spice(" ".join(name.split()), share_pct(amount, f"--spice {name.strip()}") * 10.0)


def share_pct(text: str, what: str) -> float:
    """Return per cent of the meat from `0.25%` or `2.5g/kg`. Raises UsageError for a bare number."""
    refuse_volume(text, what, "0.25% or 2.5g/kg")
    found = _SHARE.fullmatch(text.strip())
    if found is not None:
        return float(found[1])
    amount, slash, per = text.partition("/")
    if slash and per.strip().lower() == "kg":
        none = re.fullmatch(r"0+(\.0*)?\s*g?", amount.strip())
        return 0.0 if none else parse_mass_g(amount, what) / 10.0
    number = text.strip()
    if not re.fullmatch(r"\d+(\.\d*)?|\.\d+", number):
        raise UsageError(f"{what} {text}: per cent of the meat, or grams for each kg? Write 0.25% or 2.5g/kg.")
    raise UsageError(f"{what} {text}: per cent of the meat, or grams for each kg? Write {number}% or {number}g/kg.")


def strength(text: str) -> Strength:
    """Return the strength of a cure from `6.25%`, `6.25%+4%` or `6.25%+4% potassium`. Raises UsageError.

    It is never assumed: 25 g of a 0.5 % salt in a kilogram are 125 ppm of nitrite, of a 6.25 % cure 1562 ppm.
    """
    lower = text.lower()
    potassium = "potassium" in lower or "kno3" in lower
    shares = _SHARE.findall(lower)
    rest = _SHARE.sub("", lower)
    for word in ("potassium", "sodium", "nitrite", "nitrate", "kno3", "nano2", "nano3", "+", "and", " "):
        rest = rest.replace(word, "")
    if rest or len(shares) not in {1, 2}:
        raise UsageError(
            f"--cure-strength {text}: look at the pack: nitrite as 6.25%, or 0.5%; with nitrate as 6.25%+4%."
        )
    nitrite, nitrate = float(shares[0]), float(shares[1]) if len(shares) == 2 else 0.0  # noqa: PLR2004 - two shares
    if not 0.0 <= nitrite + nitrate <= 100.0:  # noqa: PLR2004 - per cent
        raise UsageError(f"--cure-strength {text}: more than all of it; look at the pack.")
    return Strength(nitrite, nitrate, potassium=potassium)


def cure(text: str) -> Literal["1", "2", "other", "none"]:
    """Return the kind of cure. Raises UsageError."""
    said = text.strip().lower().removeprefix("no. ").removeprefix("no.").removeprefix("#")
    for kind in ("1", "2", "other", "none"):
        if said == kind:
            return kind
    raise UsageError(f"--cure {text}: 1 (nitrite), 2 (nitrite and nitrate), other, or none.")


def authority(text: str) -> Authority:
    """Return whose rules. Raises UsageError."""
    said = text.strip().lower()
    for known in get_args(Authority):
        if said == known:
            return known  # type: ignore[no-any-return]
    raise UsageError(f"--authority {text}: us, canada, eu or uk.")


def criteria(text: str) -> tuple[Criterion, ...]:
    """Return what is to be met before release, from words with commas. Raises UsageError."""
    known = get_args(Criterion)
    said = [word.strip().lower() for word in text.split(",") if word.strip()]
    wrong = [word for word in said if word not in known]
    if wrong or not said:
        raise UsageError(f"--criteria {text}: take of {', '.join(known)}.")
    return tuple(known[known.index(word)] for word in said)


def trichinae(text: str) -> str:
    """Return the name of an option against trichinae; empty for none. Raises UsageError."""
    return _named(text, "--trichinae", OPTION_IDS)


def kill_step(text: str) -> str:
    """Return the name of a process that kills E. coli; empty for none. Raises UsageError."""
    return _named(text, "--kill-step", tuple(step.id for step in KILL_STEPS))


def _named(text: str, option: str, known: tuple[str, ...]) -> str:
    said = text.strip().lower()
    if said in {"", "none", "no"}:
        return ""
    if said not in known:
        near = get_close_matches(said, known, n=3, cutoff=0.5)
        meant = f"did you mean {' or '.join(near)}? " if near else ""
        raise UsageError(f"{option} {text}: there is no such one; {meant}{option} help lists them with their words.")
    return said


def hours(text: str) -> float:
    """Return the hours of a length of time; 0h is none. Raises UsageError."""
    if re.fullmatch(r"0\s*(h|min)?", text.strip()):
        return 0.0
    return parse_duration_s(text, "the time") / 3600.0


def temp_range_c(text: str) -> tuple[float, float]:
    """Return a range of temperatures from `18C-32C`, `18-32C` or `64F to 90F`. Raises UsageError, DataError."""
    parts = re.fullmatch(r"\s*(-?[\d.]+\s*°?\s*[CFcf]?)\s*(?:-|–|to|\.\.)\s*(-?[\d.]+\s*°?\s*[CFcf]?)\s*", text)
    if parts is None:
        raise UsageError(f"--starter-range {text}: from which to which temperature? Write it as 18C-32C or 64F-90F.")
    low, high = parts[1].strip(), parts[2].strip()
    if low[-1].upper() not in "CF" and high[-1].upper() in "CF":
        low += high[-1]
    low_c, high_c = parse_temp_c(low, "--starter-range"), parse_temp_c(high, "--starter-range")
    if not COLDEST_STARTER_C <= low_c < high_c <= HOTTEST_STARTER_C:
        raise DataError(
            f"--starter-range {text}: from the lower to the higher, within {COLDEST_STARTER_C:g} to "
            f"{HOTTEST_STARTER_C:g} °C, e.g. 18C-32C; look at the label."
        )
    return round(low_c, 2), round(high_c, 2)


def room_c(text: str) -> float:
    """Return the °C of a room. Raises UsageError, DataError."""
    temp_c = parse_temp_c(text, "--room")
    if not COLDEST_ROOM_C <= temp_c <= HOTTEST_ROOM_C:
        hint = _meant_f(text, COLDEST_ROOM_C, HOTTEST_ROOM_C)
        raise DataError(f"--room {text}: a room has {_both(COLDEST_ROOM_C, HOTTEST_ROOM_C)}{hint}.")
    return temp_c


def meat_c(text: str) -> float:
    """Return the °C of meat that is mixed. Raises UsageError, DataError."""
    temp_c = parse_temp_c(text, "--meat-temp")
    if not COLDEST_MEAT_C <= temp_c <= HOTTEST_MEAT_C:
        hint = _meant_f(text, COLDEST_MEAT_C, HOTTEST_MEAT_C)
        raise DataError(f"--meat-temp {text}: meat is mixed cold, at {_both(COLDEST_MEAT_C, HOTTEST_MEAT_C)}{hint}.")
    return temp_c


def _both(low_c: float, high_c: float) -> str:
    return f"{low_c:g} to {high_c:g} °C ({to_f(low_c):g} to {to_f(high_c):g} °F)"


def _meant_f(text: str, low_c: float, high_c: float) -> str:
    """Ask for °F where the same number in °F would be right; empty where it would not."""
    number = text.strip().rstrip("cCfF° ")
    if text.strip()[-1:] in "cC" and low_c <= to_c(float(number)) <= high_c:
        return f"; is it in °F? Then write {number}F"
    return ""


def aim_ph(text: str) -> float:
    """Return the pH aimed at. Raises DataError with what was probably meant."""
    try:
        ph = float(text)
    except ValueError:
        raise DataError(f"--aim-ph {text}: not a number; e.g. 4.9.") from None
    if LOWEST_AIM_PH < ph <= HIGHEST_AIM_PH:
        return ph
    meant = next((ph / ten for ten in (10.0, 100.0) if LOWEST_AIM_PH < ph / ten <= HIGHEST_AIM_PH), None)
    if meant is not None:
        raise DataError(f"--aim-ph {text}: did you mean {meant:g}?")
    raise DataError(
        f"--aim-ph {text}: above {LOWEST_AIM_PH:g}, where cultures stop by themselves, to {HIGHEST_AIM_PH:g}."
    )


def awake(text: str) -> tuple[float, float]:
    """Return from and to which hour somebody is awake, from `7:00-22:00` or `7am-10pm`.

    Raises:
        UsageError: it cannot be understood, or it is so short that the evening may be meant.
    """
    begins, _, ends = text.replace("–", "-").replace(" to ", "-").partition("-")
    one, other = parse_clock(begins), parse_clock(ends)
    if one is None or other is None or one.hour == other.hour:
        raise UsageError(f"--awake {text}: from when to when can you measure? Write it as 7:00-22:00 or 7am-10pm.")
    first, last = one.hour, other.hour
    is_plain = (one.is_half and other.is_half) or max(first, last) > NOON
    if (last - first) % 24.0 < LEAST_AWAKE_H and not is_plain:
        raise UsageError(
            f"--awake {text}: that would be {(last - first) % 24.0:g} h. In the evening? Write {begins.strip()}am-"
            f"{ends.strip()}pm. If it is meant so, write {begins.strip()}am-{ends.strip()}am."
        )
    return first, last


def day_or_new(text: str) -> str:
    """Return a day as YYYY-MM-DD; empty for a packet that is new. Raises UsageError."""
    return _date(text, "--starter-opened", "new")


def packet_day(text: str) -> str:
    """Return the day that a packet says, as YYYY-MM-DD; empty where it says none. Raises UsageError."""
    return _date(text, "--starter-expires", "none")


def _date(text: str, option: str, without: str) -> str:
    said = text.strip()
    if said.lower() == without:
        return ""
    try:
        return dt.date.fromisoformat(said).isoformat()
    except ValueError:
        raise UsageError(f"{option} {text}: which day? Write it as 2026-01-30, or {without}.") from None


def zone(name: str) -> ZoneInfo:
    """Return the zone of this name."""
    return ZoneInfo(name)


def coming_s(text: str, zone: ZoneInfo, now_s: float) -> float:
    """Return the wall second of a time that is to come: `14:30` or `2:30pm` is the next one, or with its day.

    Raises:
        UsageError: it is no time.
    """
    now = dt.datetime.fromtimestamp(now_s, zone)
    clock = time_of_day(text)
    if clock is not None:
        said = now.replace(hour=clock.minutes // 60, minute=clock.minutes % 60, second=0, microsecond=0)
        return (said if said > now else said + dt.timedelta(days=1)).timestamp()
    if re.match(r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}", text.strip()):
        try:
            whole = dt.datetime.fromisoformat(text.strip())
        except ValueError:
            whole = None
        if whole is not None:
            return (whole if whole.tzinfo is not None else whole.replace(tzinfo=zone)).timestamp()
    raise UsageError(f"--stuffing {text}: not a time; write 14:30, 2:30pm or 2026-01-05T14:30, or auto.")
