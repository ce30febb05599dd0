"""Read a page of HTML as a browser does, and find things in it."""

from collections.abc import Iterator
from typing import Any, cast
from xml.etree import ElementTree as ET

import html5lib


def parsed(text: str) -> ET.Element:
    """Return the page, parsed by the rules of the HTML standard; an error of the standard is an error here."""
    parser = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False)
    return cast("ET.Element", parser.parse(text))


def words_of(element: ET.Element) -> str:
    """Return all words in an element, each space as one."""
    return " ".join("".join(element.itertext()).split())


def rows_of(page: ET.Element, caption: str) -> list[list[str]]:
    """Return the cells of the one table whose caption begins with these words, row by row, without its head."""
    found = [table for table in page.iter("table") if words_of(_one(table, "caption")).startswith(caption)]
    (table,) = found
    return [[words_of(cell) for cell in row] for row in _one(table, "tbody").iter("tr")]


def _one(element: ET.Element, name: str) -> ET.Element:
    found = element.find(name)
    assert found is not None, f"no {name}"
    return found


def drawings(page: ET.Element, paper: str) -> Iterator[ET.Element]:
    """Yield the drawings for this paper."""
    for element in page.iter():
        if isinstance(element.tag, str) and element.tag.endswith("svg") and element.get("class") == paper:
            yield element


def every(page: ET.Element, name: str) -> list[ET.Element]:
    """Return all elements of this name, in whatever namespace."""
    return [element for element in page.iter() if isinstance(element.tag, str) and _bare(element.tag) == name]


def _bare(tag: Any) -> str:  # noqa: ANN401 - a comment's tag is a function
    return str(tag).rpartition("}")[2]
