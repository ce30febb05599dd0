"""How much room words take in a drawing, reckoned without a font, and words made to fit into it.

The widths are those of a wide sans-serif face or a little more, so that words fit whatever face the viewer has.
"""

import re
import textwrap
import unicodedata
from typing import Final

NARROW: Final = frozenset(" \xa0iljI.,:;'|!()[]/-ft")
WIDE: Final = frozenset("mwMW@%")
ELLIPSIS: Final = "…"
_NOT_DRAWN: Final = re.compile(
    "[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]|[\u007f-\u009f\u200e\u200f\u202a-\u202e\u2066-\u2069]"
)
"""What no XML file may hold, not even escaped (XML 1.0, section 2.2); and marks that turn the order of words around
(Unicode Standard Annex 9)."""


_BLANKS: Final = re.compile(r"[ \t\r\n]+")
"""Not the blank that ties a figure to its unit."""


def clean(words: str) -> str:
    """Return words on one line, with a mark in the place of every character that no SVG file may hold."""
    return _BLANKS.sub(" ", _NOT_DRAWN.sub("\ufffd", words)).strip()


def width_of(words: str, size: float) -> float:
    """Return how wide words are at most, in the units of the drawing."""
    return size * sum(_share(letter) for letter in words)


def _share(letter: str) -> float:
    if unicodedata.combining(letter):
        return 0.0
    if letter in NARROW:
        return 0.42
    if letter in WIDE or not letter.isascii():
        return 1.05
    return 0.78 if letter.isupper() else 0.64


def fitted(words: str, size: float, width: float) -> str:
    """Return words that are no wider than this, the end left out where it must be."""
    words = clean(words)
    if width_of(words, size) <= width:
        return words
    while words and width_of(words + ELLIPSIS, size) > width:
        words = words[:-1]
    return words.rstrip() + ELLIPSIS


def lines_of(words: str, size: float, width: float) -> list[str]:
    """Return words as lines that are no wider than this; a word that is wider by itself is cut."""
    letters = max(1, int(width / (0.58 * size)))
    while True:
        lines = textwrap.wrap(clean(words), letters, break_long_words=False, break_on_hyphens=False)
        if letters <= 1 or all(width_of(line, size) <= width for line in lines if " " in line):
            return [fitted(line, size, width) for line in lines]
        letters -= 1
