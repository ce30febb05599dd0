"""The drawing of the wires in a real browser: nothing lies on anything, nothing is cut off, one page of A4."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import pytest

from controller.cli.wires.picture import draw
from controller.settings.chamber_file import ChamberFile
from tests.helpers.odd_chambers import odd_chambers
from tests.review.test_report_in_browser import CHROMIUM, FLAGS, RULES

CHAMBERS: Final = odd_chambers()
FACES: Final = (
    "Helvetica,Arial,sans-serif",
    "DejaVu Sans",
)  # Narrow, and about the widest that a system falls back to.
A4_POINTS: Final = (841.89, 595.28)
"""297 x 210 mm: ISO 216; a point is 1/72 in."""
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine: apt-get install chromium")

FOUND: Final = """() => {
  const found = [], all = document.documentElement.getBoundingClientRect();
  const boxes = [...document.querySelectorAll('text')].map(word => [word.textContent, word.getBoundingClientRect()]);
  const frames = [...document.querySelectorAll('rect')].map(one => one.getBoundingClientRect());
  for (const [said, box] of boxes) {
    if (box.left < all.left || box.right > all.right || box.top < all.top || box.bottom > all.bottom)
      found.push(['cut off', said]);
    for (const frame of frames) {
      const inside = (box.left + box.right) / 2 > frame.left && (box.left + box.right) / 2 < frame.right
        && (box.top + box.bottom) / 2 > frame.top && (box.top + box.bottom) / 2 < frame.bottom;
      if (inside && (box.left < frame.left || box.right > frame.right)) found.push(['out of its box', said]);
    }
  }
  boxes.forEach(([said, one], place) => boxes.slice(place + 1).forEach(([other, two]) => {
    const wide = Math.min(one.right, two.right) - Math.max(one.left, two.left);
    const high = Math.min(one.bottom, two.bottom) - Math.max(one.top, two.top);
    if (wide > 1 && high > 4) found.push([said, other]);
  }));
  return found;
}"""
"""Two lines of words above each other may share 4 px of empty height, as in the report."""


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        running = driver.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        yield running
        running.close()


def shown(browser: Any, folder: Path, chamber: ChamberFile) -> Any:  # noqa: ANN401 - a page
    path = folder / "wiring.svg"
    path.write_text(draw(chamber), "utf-8")
    page = browser.new_page(viewport={"width": 1400, "height": 1000})
    page.goto(path.as_uri())
    return page


@pytest.mark.parametrize("name", CHAMBERS)
def test_no_words_lie_on_others_or_leave_their_box_and_all_prints_on_one_page_of_a4(
    browser: Any,  # noqa: ANN401 - a browser
    tmp_path: Path,
    name: str,
) -> None:
    page = shown(browser, tmp_path, CHAMBERS[name])
    assert page.evaluate("document.querySelectorAll('text').length") > 90
    for face in FACES:
        page.evaluate(
            "face => document.querySelectorAll('text').forEach(e => e.setAttribute('font-family', face))", face
        )
        assert page.evaluate(FOUND) == []
    pdf = page.pdf(prefer_css_page_size=True, print_background=True)
    page.close()
    assert pdf.count(b"/Type /Page\n") == 1
    (wide, high) = map(float, pdf.split(b"/MediaBox [0 0 ")[1].split(b"]")[0].split())
    assert (wide, high) == pytest.approx(A4_POINTS, abs=1.0)


def test_it_would_have_been_seen(browser: Any, tmp_path: Path) -> None:  # noqa: ANN401 - a browser
    page = shown(browser, tmp_path, CHAMBERS["old-fridge"])
    page.evaluate(
        "document.querySelectorAll('text').forEach((e, at) => { if (at % 9 === 0) e.textContent += 'w'.repeat(99); })"
    )
    found = page.evaluate(FOUND)
    assert {"cut off", "out of its box"} <= {kind for kind, _ in found}
    assert len(found) > 20
    page.close()


def test_axe_finds_nothing(browser: Any) -> None:  # noqa: ANN401 - a browser
    """In a page, as a browser shows it; axe needs a document of HTML."""
    from axe_playwright_python.sync_playwright import Axe

    drawing = draw(CHAMBERS["all there is"]).split("-->", 1)[1]
    page = browser.new_page(viewport={"width": 1400, "height": 1000})
    page.set_content(f"<!DOCTYPE html><html lang='en'><title>a</title><main><h1>a</h1>{drawing}</main></html>")
    result = Axe().run(page, options={"runOnly": RULES}).response
    assert any(each["id"] == "svg-img-alt" for each in result["passes"]), "it has looked at the drawing"
    assert [(each["id"], each["nodes"][0]["html"]) for each in result["violations"]] == []
    page.close()
