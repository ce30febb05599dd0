"""A real browser for what people look at in one: where it is, how it starts, and whether words lie on each other."""

import shutil
from typing import Final

import pytest

CHROMIUM: Final = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
FLAGS: Final = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
RULES: Final = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
NEEDS_BROWSER: Final = pytest.mark.skipif(
    CHROMIUM is None, reason="no Chromium on this machine: apt-get install chromium"
)

ON_EACH_OTHER: Final = """() => {
  const found = [];
  for (const drawing of document.querySelectorAll('svg')) {
    const all = drawing.getBoundingClientRect();
    if (!all.width) continue;
    const boxes = [...drawing.querySelectorAll('text')].map(word => [word.textContent, word.getBoundingClientRect()]);
    for (const [said, box] of boxes) {
      if (box.left < all.left - 1 || box.right > all.right + 1 || box.top < all.top - 1 || box.bottom > all.bottom + 1)
        found.push(['cut off', said]);
    }
    boxes.forEach(([said, one], place) => boxes.slice(place + 1).forEach(([other, two]) => {
      const wide = Math.min(one.right, two.right) - Math.max(one.left, two.left);
      const high = Math.min(one.bottom, two.bottom) - Math.max(one.top, two.top);
      if (wide > 1 && high > 4) found.push([said, other]);
    }));
  }
  return found;
}"""
"""Of each drawing in a page: words that are cut off, and pairs that lie on each other beyond their empty height."""
