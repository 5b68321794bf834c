"""A report in a browser: its tables are whole in a window and on paper."""

from __future__ import annotations

from typing import Any

import pytest

import drift
from drift.report import Made, compose, to_html
from drift.study import Study

pytestmark = pytest.mark.slow

A4_LESS_ITS_MARGINS = 658
"""174 mm in CSS pixels."""

CUT = """() => [...document.querySelectorAll(".wide")]
  .filter(table => table.scrollWidth > table.clientWidth).map(table => table.innerText)"""


@pytest.mark.parametrize(("media", "width"), [("screen", 1366), ("print", A4_LESS_ITS_MARGINS)])
def test_no_table_is_cut(chromium: Any, media: str, width: int) -> None:
    season = drift.load(drift.shipped.folder("datasets/cold-hall-season"))
    few = season.only(rehearsals=season.names[:3])
    page = chromium.new_page(viewport={"width": width, "height": 900})
    page.emulate_media(media=media)
    page.set_content(to_html(compose(Study.open(few).report(), made=Made("", {}))))
    assert page.evaluate(CUT) == []
    page.close()
