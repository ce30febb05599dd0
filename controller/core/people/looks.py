"""What a piece looks, feels and smells like: one plain word of a fixed choice for each, and what to do about it.

The words are for people of one trade who read one page. What is said to each is common practice without a source,
except where it is named beside the sentence. A word never moves a stage.
"""

from collections.abc import Mapping
from typing import Final

from controller.core.values import LookKind

CHOICES: Final[dict[LookKind, tuple[str, ...]]] = {
    "look": (
        "good", "dry", "tacky", "wet", "greasy", "white-mould", "green-mould", "black-mould", "yellow-mould", "slime",
        "hard-rim", "cracks", "bloated", "grey-inside",
    ),
    "firmness": ("soft", "springy", "firm", "hard"),
    "smell": ("fresh", "sour", "yeast", "smoky", "ripe", "ammonia", "rancid", "putrid"),
}  # fmt: skip
"""From what is as it should be to what is not; common practice, no source."""

_BRUSH: Final = (
    "take the piece away from the others, brush the mould off and wash the casing with salt water or vinegar; where it "
    "has gone through the casing, throw the piece away. Dry it a little drier and move the air"
)
_SPOILED: Final = "do not taste; throw the piece away and look at all the others"

WHAT_TO_DO: Final[dict[tuple[LookKind, str], str]] = {
    ("look", "wet"): "Wet: let the surface dry before smoke or mould culture; more air, or some % RH less.",
    ("look", "greasy"): "Greasy: too warm for the fat, or smeared in the grinder; wipe it, or it will not dry.",
    ("look", "white-mould"): (
        "White mould is wanted only where you put a known culture on; where you did not, brush it off. White and "
        "powdery may stay, fluffy or coloured may not."
    ),
    ("look", "green-mould"): f"Green mould: {_BRUSH}.",
    ("look", "black-mould"): f"Black mould: {_BRUSH}. Do not breathe the dust.",
    ("look", "yellow-mould"): f"Yellow mould: {_BRUSH}.",
    ("look", "slime"): (
        "Slime: yeasts or bacteria on a surface that stays wet; wipe it off with salt water, lower the humidity, move "
        "the air. With a bad smell too: do not taste, throw the piece away."
    ),
    (
        "look",
        "hard-rim",
    ): "A hard rim: it dries too fast outside; more humidity and less air, or seal it cold to even out.",
    ("look", "cracks"): "Cracks: dried too fast or stuffed too loosely; look for mould in them, and for air pockets.",
    ("look", "bloated"): f"Bloated: gas is being made inside, by the wrong bacteria or yeasts; {_SPOILED}.",
    ("look", "grey-inside"): (
        "Grey inside: too little cure, air in the stuffing, or acid that came too fast. Was the cure weighed in? "
        "If you are not certain: do not taste; hold the batch."
    ),
    ("firmness", "soft"): "Soft: usual until the pH falls; still soft below pH 5.3, something else is wrong.",
    ("firmness", "hard"): "Hard: done or overdone, or a rim only: cut one open.",
    ("smell", "yeast"): "Yeast: a surface that stays wet; wipe it off and lower the humidity.",
    (
        "smell",
        "ammonia",
    ): "Ammonia: much mould, or old; brush it off and air it. If it does not go, throw the piece away.",
    ("smell", "rancid"): "Rancid: the fat is spoiled by light, warmth or age; it will not get better.",
    ("smell", "putrid"): f"Putrid: this is no ferment; {_SPOILED}.",
}
"""What to do where something is to be done. Mould: only known white starter moulds belong on sausage (common practice,
no source)."""

NO_PROOF: Final = "Looks, firmness and smell prove nothing about germs or their toxins."


def refuse_looks(looks: Mapping[LookKind, str]) -> str:
    """Return why these words are none of the choices, in words for the person; empty when all of them are."""
    for kind, word in looks.items():
        if kind not in CHOICES:
            return f"{kind}: say one of {', '.join(CHOICES)}"
        if word not in CHOICES[kind]:
            return f"--{kind} {word}: choose one of {', '.join(CHOICES[kind])}"
    return ""


def what_to_do(looks: Mapping[LookKind, str]) -> tuple[str, ...]:
    """Return a sentence for each of these words that asks for something to be done."""
    return tuple(WHAT_TO_DO[kind, word] for kind, word in looks.items() if (kind, word) in WHAT_TO_DO)
