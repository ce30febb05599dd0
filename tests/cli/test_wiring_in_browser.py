"""The drawing of the wires in a real browser: nothing lies on anything, nothing is cut off, one page of A4."""

from pathlib import Path
from typing import Any, Final

import pytest

from controller.cli.wires.picture import draw
from controller.settings.chamber_file import ChamberFile
from tests.helpers.in_browser import NEEDS_BROWSER, ON_EACH_OTHER, RULES
from tests.helpers.odd_chambers import odd_chambers

CHAMBERS: Final = odd_chambers()
FACES: Final = (
    "Helvetica,Arial,sans-serif",
    "DejaVu Sans",
)  # Narrow, and about the widest that a system falls back to.
A4_POINTS: Final = (841.89, 595.28)
"""297 x 210 mm: ISO 216; a point is 1/72 in."""
pytestmark = NEEDS_BROWSER

OUT_OF_ITS_BOX: Final = """() => {
  const found = [], frames = [...document.querySelectorAll('rect')].map(one => one.getBoundingClientRect());
  for (const word of document.querySelectorAll('text')) {
    const box = word.getBoundingClientRect(), x = (box.left + box.right) / 2, y = (box.top + box.bottom) / 2;
    for (const frame of frames) {
      const inside = x > frame.left && x < frame.right && y > frame.top && y < frame.bottom;
      const sticks_out = box.left < frame.left || box.right > frame.right;
      if (inside && sticks_out) found.push(['out of its box', word.textContent]);
    }
  }
  return found;
}"""


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
        assert page.evaluate(ON_EACH_OTHER) == []
        assert page.evaluate(OUT_OF_ITS_BOX) == []
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
    found = page.evaluate(ON_EACH_OTHER) + page.evaluate(OUT_OF_ITS_BOX)
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
