"""A comparison on the screen: what was meant, curves on one axis, figures side by side, and what stands out."""

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

from controller.cli.say import STATE_WORDS, WIDTH, fold, show_time
from controller.settings.units import to_f

if TYPE_CHECKING:
    from controller.review.compare.chart import Curve

GROUPS: Final = {
    "acid": "Acid",
    "drying": "Drying, from hanging on",
    "stages": "Length of the stages",
    "climate": "Climate of like stages",
    "alarms": "Alarms",
}
MARK, SO_FAR, UNKNOWN = "*", "~", "-"
LIMIT: Final = 9
WIDEST: Final = 10
APART_H: Final = 2.0
"""Hourly means that lie further apart are a gap, over which no line is drawn."""


def tell_comparison(told: Mapping[str, Any]) -> Iterator[str]:
    """Yield the page, at most 80 columns wide."""
    yield from _heads(told)
    yield from _recipe(told)
    yield from _charts(told)
    yield from _figures(told)
    yield ""
    yield from _outcome(told)


def _heads(told: Mapping[str, Any]) -> Iterator[str]:
    for one in told["batches"]:
        from_what = "hung" if one["counted_from"] == "hang" else "hanging is on no record; first row of its ferment"
        began = show_time(_instant(one["axis_begins"]), told["timezone"])
        state = STATE_WORDS.get(one["state"], one["state"])
        yield from fold(f"{one['letter']}  {one['batch']}: {one['title']}", "   ", "")
        yield from fold(f"{from_what} {began}, {state}", "   ")
        for said in one["damage"]:
            yield from fold(f"RECORD: {said}.", "   ")
    yield from fold(f"Times are local ({told['timezone']}); hours and days are counted from hanging.")
    if not all(told["same_family"]):
        yield ""
        yield from fold("These are different kinds of sausage, so much is meant to differ, and no scatter is applied:")
        for one, words in zip(told["batches"], told["families"], strict=True):
            yield from fold(f"{one['letter']}  {words}", "     ", "  ")


def _instant(text: str) -> float:
    import datetime as dt

    return dt.datetime.fromisoformat(text).timestamp()


def _recipe(told: Mapping[str, Any]) -> Iterator[str]:
    yield ""
    rows = told["recipe"]
    yield "Meant to differ (recipe, profile, chamber)" if rows else "Recipe, profile and chamber are the same."
    for row in rows:
        values = [_value(row["key"], value, told["units"]) for value in row["values"]]
        said = "   ".join(f"{one['letter']} {value}" for one, value in zip(told["batches"], values, strict=True))
        yield from fold(f"{_key(row['key'], told['units'])}:  {said}", "      ", "  ")


def _key(key: str, units: str) -> str:
    return f"{key[:-2]}_f" if units == "F" and key.endswith("_c") else key


def _value(key: str, value: Any, units: str) -> str:  # noqa: ANN401 - whatever a card holds
    if value is None:
        return UNKNOWN
    if isinstance(value, list):
        return ", ".join(_value(key, one, units) for one in value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)):
        return f"{to_f(value) if units == 'F' and key.endswith('_c') else value:.6g}"
    return str(value)


def _charts(told: Mapping[str, Any]) -> Iterator[str]:
    from controller.food.degree_hours import TARGET_PH
    from controller.review.compare.chart import Curve, chart

    letters = [one["letter"] for one in told["batches"]]

    def curves(
        name: str, *, apart: float = float("inf"), dots: bool = True, until: float = float("inf")
    ) -> "list[Curve]":
        return [
            Curve(
                letter, [(at, _temp(value, name, told["units"])) for at, value in one[name] if at <= until], apart, dots
            )
            for letter, one in zip(letters, told["curves"], strict=True)
        ]

    until_h = _acid_until_h(told)
    degrees = f"°{told['units']}"
    drawings = (
        (f"pH by hours (dots: {TARGET_PH:g})", chart(curves("ph", until=until_h), "h", TARGET_PH)),
        (
            f"air in {degrees} by hours, hourly means",
            chart(curves("air_temp_c", apart=APART_H, dots=False, until=until_h), "h"),
        ),
        ("loss in % by days", chart(curves("loss"), "d")),
    )
    for title, lines in drawings:
        if lines:
            yield ""
            yield f"{title}; capitals: measured" if "means" not in title else title
            yield from lines


def _temp(value: float, name: str, units: str) -> float:
    return to_f(value) if units == "F" and name == "air_temp_c" else value


def _acid_until_h(told: Mapping[str, Any]) -> float:
    """Return up to which hour the ferments are drawn: a tenth more than the longest."""
    lengths = [
        value
        for row in told["figures"]
        if row["key"] == "ferment_hours"
        for value in row["values"]
        if value is not None
    ]
    return 1.1 * max(lengths) if lengths else float("inf")


def _figures(told: Mapping[str, Any]) -> Iterator[str]:
    count = len(told["batches"])
    width = min(WIDEST, (WIDTH - 26 - LIMIT) // count)
    first = WIDTH - LIMIT - count * width
    group = ""
    for row in told["figures"]:
        if row["group"] != group:
            group = row["group"]
            yield ""
            heads = "".join(f"{one['letter']:>{width - 1}} " for one in told["batches"])
            yield f"{GROUPS[group]:<{first}}{heads}{'scatter':>{LIMIT}}".rstrip()
        yield _row(row, told["units"], first, width)


def _row(row: Mapping[str, Any], units: str, first: int, width: int) -> str:
    words, cells = row["words"], ""
    if units == "F":
        words = words.replace("0.5 K", "0.9 °F")
    unit = "°F" if units == "F" and row["unit"] == "°C" else row["unit"]
    label = f"  {words}{f', {unit}' if unit and unit not in {'%', 'h', 'd', '%/d'} else ''}"
    for value, so_far, larger in zip(row["values"], row["so_far"], row["larger"], strict=True):
        sign = SO_FAR if so_far else MARK if larger else " "
        cells += f"{_number(value, row, units):>{width - 1}}{sign}"
    limit = row["earlier"]["limit"]
    shown = "" if limit is None else f"±{_spread(limit, row, units)}"
    return f"{label[:first]:<{first}}{cells}{shown:>{LIMIT}}".rstrip()


def _number(value: float | None, row: Mapping[str, Any], units: str) -> str:
    if value is None:
        return UNKNOWN
    return f"{to_f(value) if units == 'F' and row['unit'] == '°C' else value:.{row['decimals']}f}"


def _spread(limit: float, row: Mapping[str, Any], units: str) -> str:
    factor = 1.8 if units == "F" and row["unit"] == "°C" else 1.0
    return f"{factor * limit:.{max(row['decimals'], 1)}f}"


def _outcome(told: Mapping[str, Any]) -> Iterator[str]:
    """Say which differences are larger than the scatter of earlier batches, and how many would be by chance."""
    earlier = told["earlier"]
    if any(any(row["so_far"]) for row in told["figures"]):
        yield from fold(f"{SO_FAR} may still change, and is not judged.")
    if not any(told["same_family"][1:]):
        return
    count, fewest = len(earlier["batches"]), earlier["fewest"]
    yield from _who_counts(earlier)
    if count < fewest:
        batches = f"{count} earlier batch{'' if count == 1 else 'es'} of this kind"
        yield from fold(
            f"{batches}: with fewer than {fewest} nothing can be said of scatter, and no difference is judged."
        )
        return
    yield from fold(
        "Scatter: two batches of yours lie no further apart in 95 of 100 cases where nothing was done otherwise; "
        f"from the standard deviation of {count} earlier ones, by Student's t."
    )
    if any(row["earlier"]["limit"] is None for row in told["figures"]):
        yield from fold(
            "Where no scatter stands, the earlier ones did not differ, or fewer than three have the figure."
        )
    yield from _standing_out(told)


def _standing_out(told: Mapping[str, Any]) -> Iterator[str]:
    chance = told["chance"]
    rows = [
        (other, row, place)
        for place, other in enumerate(told["batches"][1:], 1)
        for row in told["figures"]
        if row["larger"][place]
    ]
    do = f"{chance['larger']} do{'es' if chance['larger'] == 1 else ''}{':' if rows else '.'}"
    by_chance = f"{chance['expected_by_chance']:.1f} would stand out by chance alone"
    yield from fold(f"{chance['judged']} differences were judged; {by_chance}, {do}")
    for other, row, place in rows:
        yield from fold(_sentence(told, other, row, place), "    ", f"  {MARK} ")
    if rows:
        yield from fold(
            "Many hang together and stand out together. That one is larger than the scatter is no reason yet: what "
            "caused it, people find out."
        )


def _who_counts(earlier: Mapping[str, Any]) -> Iterator[str]:
    for one in earlier["left_out"]:
        yield from fold(f"Not counted as earlier: {one['batch']}: {one['why']}.", "  ", "")
    if earlier["older_not_read"]:
        yield from fold(f"{earlier['older_not_read']} older batches of this kind were not read.")


def _sentence(told: Mapping[str, Any], other: Mapping[str, Any], row: Mapping[str, Any], place: int) -> str:
    difference = row["differences"][place]
    units = told["units"]
    unit = "°F" if units == "F" and row["unit"] == "°C" else row["unit"]
    size = f"{_spread(abs(difference), {**row, 'decimals': row['decimals']}, units)} {unit}".strip()
    words = row["words"].replace("0.5 K", "0.9 °F") if units == "F" else row["words"]
    return (
        f"{words}: {other['letter']} is {size} {'higher' if difference > 0.0 else 'lower'} than A (scatter "
        f"±{_spread(row['earlier']['limit'], row, units)}; {row['earlier']['batches']} earlier)."
    )


def csv_rows(told: Mapping[str, Any]) -> tuple[Sequence[Sequence[str]], Sequence[Sequence[str]]]:
    """Return the rows of figures.csv and of curves.csv, heads first; °C, hours and days from hanging."""
    names = [one["batch"] for one in told["batches"]]
    figures = [["key", "unit", *names, "earlier_batches", "earlier_mean", "earlier_sd", "limit", "larger"]]
    for row in told["figures"]:
        scatter = row["earlier"]
        numbers = [scatter["batches"], scatter["mean"], scatter["sd"], scatter["limit"]]
        larger = " ".join(name for name, is_so in zip(names, row["larger"], strict=True) if is_so)
        figures.append([row["key"], row["unit"], *map(_plain, row["values"]), *map(_plain, numbers), larger])
    curves = [["batch", "curve", "unit_of_time", "since_hanging", "value"]]
    for name, one in zip(names, told["curves"], strict=True):
        for curve, points in one.items():
            unit = "d" if curve == "loss" else "h"
            curves += [[name, curve, unit, _plain(at), _plain(value)] for at, value in points]
    return figures, curves


def _plain(value: float | None) -> str:
    return "" if value is None else f"{value:g}"
