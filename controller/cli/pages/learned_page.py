"""What was learned of a chamber, on the screen: what is used, a table of figures, and what is asked before a test."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from controller.cli.say import fold
from controller.core.learn.course import RISE_K, highest_c, left_s, longest_s
from controller.core.learn.memory import Learning
from controller.core.plan import Chamber
from controller.settings.learned_file import FIGURES, Figure, Learned, Use
from controller.settings.units import Units, show_temp

if TYPE_CHECKING:  # It needs numpy, and most of what is shown here does not.
    from controller.review.learning.batches import Adapted

NAMES: dict[str, tuple[str, str]] = {
    "dead_s": ("dead time of the lamp", "s"),
    "slope_k_per_min": ("steepest rise", "K/min"),
    "probe_s": ("thermometer answers in", "s"),
    "fast_lag_s": ("lamp, air, thermometer", "s"),
    "slow_lag_s": ("follows its room in", "s"),
    "after_heat_k": ("after-heat", "K"),
    "after_heat_s": ("after-heat lasts", "s"),
    "ua_w_per_k": ("holds one kelvin with", "W"),
    "air_wall_w_per_k": ("air to wall", "W/K"),
    "wall_j_per_k": ("walls hold", "J/K"),
    "lamp_s": ("lamp's own lag", "s"),
    "noise_k": ("thermometer scatters", "K"),
    "offset_k": ("second thermometer", "K"),
    "mist_pct_per_s": ("a second of mist, 20 °C", "%RH"),
    "mist_delay_s": ("mist is seen after", "s"),
    "mist_falls_s": ("humidity falls back in", "s"),
    "cool_dead_s": ("dead time of the cold", "s"),
    "cool_slope_k_per_min": ("steepest fall", "K/min"),
    "after_cool_k": ("still falls by", "K"),
}


def tell_use(use: Use) -> Iterator[str]:
    """Yield which figures of the chamber were learned, and when; nothing where there is no learned file."""
    if use.why_not:
        yield ""
        yield from fold(f"{use.why_not[0].upper()}{use.why_not[1:]}.")
    learned = use.learned
    if learned is None:
        return
    known = [NAMES[name][0] for name in FIGURES if getattr(learned, name).value is not None]
    made = learned.made
    yield ""
    yield "Learned"
    load = f"{made.loaded_kg:g} kg in it" if made.loaded_kg else "the chamber empty"
    yield from fold(f"By step test {made.test} ({made.on}, {load}): {', '.join(known)}.", "  ")
    lacking = [NAMES[name][0] for name in ("ua_w_per_k", "mist_pct_per_s") if getattr(learned, name).value is None]
    if lacking:
        yield from fold(f"Not known, so the chamber file's own figures are used: {', '.join(lacking)}.", "  ")
    gains = learned.gains
    yield from fold(
        f"The lamp is given {100 * gains.heat_per_k:.0f} % more for each kelvin that is missing, and what is missing "
        f"for long is made good in {gains.heat_ti_s / 60:.0f} min; robustness Ms {gains.ms:.2f} (usual: 1.2 to 2).",
        "  ",
    )


def tell_learned(learned: Learned) -> Iterator[str]:
    """Yield the figures as a table, at most 80 columns wide; what could not be found says why."""
    made = learned.made
    load = f"{made.loaded_kg:g} kg in it" if made.loaded_kg else "empty"
    yield from fold(
        f"{made.chamber}, {load}, lamp {made.lamp_w:g} W ({made.switch}), room {made.room_c:.1f} °C ({made.room_is})."
    )
    yield ""
    yield f"{'':<26}{'found':>14}  {'± error':>8}  {'chamber file':>14}"
    for name in FIGURES:
        figure: Figure = getattr(learned, name)
        words, unit = NAMES[name]
        if figure.value is None:
            yield from fold(f"{words:<26}{'not known':>14}: {figure.because}", " " * 42, "")
            continue
        beside = "" if figure.in_file is None else f"{figure.in_file:g} {unit}"
        error = "" if figure.error is None else f"{figure.error:g}"
        yield f"{words:<26}{f'{figure.value:g} {unit}':>14}  {error:>8}  {beside:>14}".rstrip()
    yield ""
    gains = learned.gains
    yield f"Gains, window {gains.window_s:g} s{'':<6}{'per kelvin':>14}{'integral':>12}{'Ms':>8}"
    for words, per_k, ti_s, ms in (
        ("used", gains.heat_per_k, gains.heat_ti_s, gains.ms),
        ("SIMC rule", gains.simc_per_k, gains.simc_ti_s, gains.simc_ms),
        ("AMIGO rule", gains.amigo_per_k, gains.amigo_ti_s, gains.amigo_ms),
    ):
        yield f"{words:<26}{f'{100 * per_k:.1f} %':>12}{f'{ti_s:.0f} s':>12}{ms:>8.2f}"


def tell_adapted(found: "Adapted", used: Learned | None) -> Iterator[str]:
    """Yield what finished batches tell: old, new, and how sure."""
    yield f"{'':<34}{'W per kelvin':>18}{'steepest rise':>16}{'hours':>8}"
    for one in found.shown:
        ua = "-" if one.ua_w_per_k is None else f"{one.ua_w_per_k:.2f} ± {one.ua_error:.2f}"
        slope = "-" if one.slope_k_per_min is None else f"{one.slope_k_per_min:.3f}"
        yield f"{one.batch[:33]:<34}{ua:>18}{slope:>16}{one.hours:>8}"
    yield ""
    yield f"{'':<26}{'now':>12}{'would be':>12}{'± error':>10}"
    for name in ("ua_w_per_k", "slope_k_per_min"):
        old, new = None if used is None else getattr(used, name), getattr(found.learned, name)
        was = new.in_file if old is None or old.value is None else old.value
        shown = "not known" if was is None else f"{was:g}"
        yield f"{NAMES[name][0]:<26}{shown:>12}{f'{new.value:g}':>12}{f'{new.error:g}' if new.error else '':>10}"
    count = f"{len(found.shown)} batch" + ("es" if len(found.shown) > 1 else "")
    yield from fold(f"From {count}, {found.hours} hours of holding. No figure moves by more than a fifth at a time.")


def tell_what_comes(plan: Chamber, units: Units, loaded_kg: float) -> Iterator[str]:
    """Yield what a step test does, before anybody says yes."""
    load = f"with {loaded_kg:g} kg in it" if loaded_kg else "empty"
    cold = ", then the cooling for 20 min" if plan.output("cooler") is not None else ""
    test = Learning(name="", began_s=0.0, began_wall_s=0.0, phase_began_s=0.0, loaded_kg=loaded_kg)
    yield from fold(
        f"A step test gets to know {plan.name}, {load}: everything rests for 10 min, then the lamp is on until the air "
        f"is {RISE_K:g} K warmer (30 min at most, never above {show_temp(highest_c(plan), units)}), everything is off "
        f"for {longest_s('off', test) / 60:.0f} min, then four short pulses of mist{cold}. It takes "
        f"{left_s(test, plan, 0.0)[1] / 60:.0f} min at most."
    )
    yield from fold(
        "The same limits hold as in a batch, and whatever forbids heat ends it. Stay within earshot, shut the door and "
        "leave it shut. No batch can begin meanwhile. Nothing is changed before you say so."
    )
    if loaded_kg:
        yield from fold(
            "What it takes to hold the temperature cannot be learned from a loaded chamber: three hours cannot show "
            "it. Put bottles of water in, no meat that somebody will eat."
        )
