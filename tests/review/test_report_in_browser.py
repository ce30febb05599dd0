"""The report in a real browser: axe finds nothing, a phone scrolls down only, no words lie on each other."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import pytest

from controller.cli.local import in_local_words
from controller.review.report import report
from tests.helpers.in_browser import NEEDS_BROWSER, ON_EACH_OTHER, RULES
from tests.helpers.sheets import sheet_of
from tests.review.test_report import MADE_S, a_batch, written

PHONE: Final = {"width": 360, "height": 740}
DESK: Final = {"width": 1000, "height": 900}
pytestmark = NEEDS_BROWSER


@pytest.fixture(scope="module")
def page_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write a report of a batch with all that a page can have: gaps, alarms close together, corrections."""
    log = a_batch()
    for number, (at_h, lasts_h) in enumerate(((3.0, 1.0), (3.5, 0.2), (4.0, 60.0), (50.0, 2.0), (279.0, 0.5)), start=1):
        log.event(at_h, "alarm", f"P4-{number}", "1" if number == 2 else "2")
        log.event(at_h + lasts_h, "returned", f"P4-{number}", "2")
    log.events.sort(key=lambda row: row["time"])
    log.climate = [row for row in log.climate if not "2026-01-08T00:00:00Z" < row["time"] <= "2026-01-09T12:00:00Z"]
    log.reading(200.0, "weight", 999.0, piece="A", instrument="scale", unit="g", actor="Ann")
    log.reading(
        200.0, "weight", 333.0, piece="A", instrument="scale", unit="g", actor="Ben", replaces=log.readings[-1]["id"]
    )
    folder = written(tmp_path_factory.mktemp("report"), log, sheet_of())
    path = folder / "report.html"
    path.write_text(report(folder, made_s=MADE_S, version="1.2.3", say=in_local_words, out=path), "utf-8")
    return path


@pytest.fixture(params=[DESK, PHONE], ids=["desk", "phone"])
def page(request: pytest.FixtureRequest, browser: Any, page_file: Path) -> Iterator[Any]:  # noqa: ANN401 - a page
    shown = browser.new_page(viewport=request.param)
    shown.goto(page_file.as_uri())
    yield shown
    shown.close()


def test_axe_finds_nothing(page: Any) -> None:  # noqa: ANN401 - a page
    from axe_playwright_python.sync_playwright import Axe

    result = Axe().run(page, options={"runOnly": RULES}).response
    assert len(result["passes"]) > 30, "it has looked"
    told = [(each["id"], each["impact"], each["nodes"][0]["html"]) for each in result["violations"]]
    assert told == []


def test_axe_would_find_something(browser: Any, page_file: Path) -> None:  # noqa: ANN401 - a browser
    from axe_playwright_python.sync_playwright import Axe

    page = browser.new_page(viewport=DESK)
    page.goto(page_file.as_uri())
    page.evaluate("document.documentElement.removeAttribute('lang')")
    page.evaluate("document.querySelector('figcaption').style.color = '#bbb'")
    result = Axe().run(page, options={"runOnly": ["html-has-lang", "color-contrast"]}).response
    assert {"html-has-lang", "color-contrast"} == {each["id"] for each in result["violations"]}


def test_nothing_but_a_table_in_its_box_has_to_be_scrolled_to_the_side(page: Any) -> None:  # noqa: ANN401 - a page
    wide, seen = page.evaluate("[document.documentElement.scrollWidth, document.documentElement.clientWidth]")
    assert wide <= seen
    boxes = page.evaluate(
        "[...document.querySelectorAll('main *')].filter(e => e.scrollWidth > e.clientWidth + 1 && "
        "getComputedStyle(e).overflowX === 'auto').map(e => e.className + ' ' + e.tabIndex)"
    )
    assert set(boxes) <= {"box wide 0"}, "and who has no mouse gets into it"


def test_no_words_of_a_picture_lie_on_each_other_or_are_cut_off(page: Any) -> None:  # noqa: ANN401 - a page
    assert page.evaluate("document.querySelectorAll('svg text').length") > 60
    assert page.evaluate(ON_EACH_OTHER) == []
    page.evaluate(
        "(() => { document.querySelectorAll('svg').forEach(e => { const [a, b] = e.querySelectorAll('text'); "
        "b.setAttribute('x', a.getAttribute('x')); b.setAttribute('y', a.getAttribute('y')); }); })()"
    )
    assert len(page.evaluate(ON_EACH_OTHER)) >= 4, "it would have been seen"


def test_a_screen_has_the_drawings_made_for_its_width(page: Any) -> None:  # noqa: ANN401 - a page
    shown = page.evaluate(
        "[...document.querySelectorAll('svg')].filter(e => e.getBoundingClientRect().width).map(e => e.classList[0])"
    )
    expected = "narrow" if page.viewport_size == PHONE else "wide"
    assert shown == [expected] * 4
    small = page.evaluate(
        "Math.min(...[...document.querySelectorAll('svg text')].filter(e => e.getBoundingClientRect().width)"
        ".map(e => 11 * e.ownerSVGElement.getBoundingClientRect().width / e.ownerSVGElement.viewBox.baseVal.width))"
    )
    assert small >= 10.0, "as high as small print, in pixels"


def test_on_paper_all_is_open_and_the_pictures_are_the_wide_ones(page: Any) -> None:  # noqa: ANN401 - a page
    page.evaluate("document.querySelectorAll('details').forEach(e => e.open = false)")
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 680, "height": 960})
    tables, shown = page.evaluate(
        "[[...document.querySelectorAll('details table')].filter(e => e.checkVisibility({contentVisibilityAuto: true}))"
        ".length, document.querySelectorAll('details table').length]"
    )
    assert tables == shown == 4
    assert page.evaluate("getComputedStyle(document.querySelector('svg.narrow')).display") == "none"
    assert page.evaluate("getComputedStyle(document.querySelector('nav')).display") == "none"
    data = page.pdf(prefer_css_page_size=True)
    assert data.startswith(b"%PDF")
    assert b"/MediaBox [0 0 594.95996 841.91998]" in data or b"/MediaBox [0 0 595" in data, "A4"
