"""Where the slides go at each temperature, and what to mind in heat and cold."""

from __future__ import annotations

from drift.degrees import fahrenheit_of_celsius
from drift.report.document import Block, Items, Section, Table, Words
from drift.report.material import Material
from drift.slides.positions import PositionTable
from drift.words import report_slides as words
from drift.words import slide_table
from drift.words.numbers import interval, number

__all__ = ["care", "slide_tables"]


def slide_tables(material: Material) -> Section | None:
    """Give slide positions at 0 to 40 °C, of players or of kinds; None where nothing can move."""
    tables = [_table(table) for table in material.tables]
    if not tables:
        return None
    pooled = any(not table.player for table in material.tables)
    blocks: list[Block] = [Words(words.HOW_TO_READ)]
    blocks += [Words(words.MANY_PLAYERS), *tables] if pooled else tables
    return Section(words.WHERE, tuple(blocks))


def _table(table: PositionTable) -> Table:
    rows = []
    for row, correction in enumerate(table.corrections):
        expected = next(iter(correction.expected_cents.values()))
        rows.append(
            (
                f"{correction.celsius:g}{'*' if table.extrapolated[row] else ''}",
                f"{fahrenheit_of_celsius(correction.celsius):.0f}",
                number(expected.estimate, sign=True),
                interval(expected, sign=True),
                *(slide_table.cell(table, row, slide).replace("-", "−") for slide in table.slides),
                slide_table.remaining(table, row).replace("-", "−") or "–",
            )
        )
    return Table(words.caption(table), words.header(table), tuple(rows), texts=0)


def care(material: Material) -> Section:
    """Repeat the usual cautions for slides, heat and cold, deferring to those in charge."""
    wooden = [name for name in material.instruments if material.catalogue.find(name).wooden]
    return Section(words.WITH_CARE, (Items(tuple(words.care(wooden))),))
