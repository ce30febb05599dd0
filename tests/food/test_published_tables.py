"""The tables that the tests compare with: each names the document it comes from, and no page of the web."""

import re
from pathlib import Path

import pytest

TABLES = sorted((Path(__file__).parents[1] / "data").glob("*.csv"))
WEB = re.compile(
    r"https?:|www\.|\b[\w-]+\.(com|net|org|info|jp|ru|cn|edu|gov|it|de|ca|uk|eu)\b|\bcop(y|ies) \(page", re.IGNORECASE
)


def test_there_are_tables() -> None:
    assert len(TABLES) > 20


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_a_table_names_a_document_and_no_page_of_the_web(table: Path) -> None:
    text = table.read_text(encoding="utf-8")
    assert "source" in text.splitlines()[0].lower()
    assert WEB.search(text) is None
