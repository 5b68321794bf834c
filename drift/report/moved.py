"""Where the slides go at each temperature, and what to mind in heat and cold."""

from __future__ import annotations

from drift.degrees import fahrenheit_of_celsius
from drift.notes import shown
from drift.report.document import Block, Items, Section, Table, Words
from drift.report.material import Material, interval, number
from drift.slides.positions import PositionTable
from drift.words import slide_table as words
from drift.words.gig_cautions import DEFER

__all__ = ["care", "slide_tables"]


def slide_tables(material: Material) -> Section | None:
    """Give the slide positions of every player at 0 to 40 °C; None where nothing can move."""
    tables = [_table(table) for table in material.tables]
    if not tables:
        return None
    first = Words(
        "For an instrument warmed up by 30 minutes of playing, from where it stood right at 20 °C "
        "after as long. The last logged positions are taken as those; without any, moves are "
        "given instead of positions. Millimetres from fully in; a move out has a plus."
    )
    blocks: list[Block] = [first, *tables]
    return Section("Where the slides go", tuple(blocks))


def _table(table: PositionTable) -> Table:
    header = (
        *("°C", "°F", "drift (cents)", "95 % interval"),
        *(words.head(table, slide, "mm") for slide in table.slides),
        "remaining (cents)",
    )
    rows = []
    for row, correction in enumerate(table.corrections):
        expected = next(iter(correction.expected_cents.values()))
        rows.append(
            (
                f"{correction.celsius:g}{'*' if table.extrapolated[row] else ''}",
                f"{fahrenheit_of_celsius(correction.celsius):.0f}",
                number(expected.estimate, sign=True),
                interval(expected, sign=True),
                *(words.cell(table, row, slide).replace("-", "−") for slide in table.slides),
                words.remaining(table, row).replace("-", "−") or "–",
            )
        )
    started = ", ".join(
        f"{shown(slide)} {mm:g} mm" for slide, mm in table.corrections[0].at.items()
    )
    notes = [f"tuned with {started}" if started else "no positions logged"]
    if any(table.extrapolated):
        notes.append("* outside the temperatures measured so far: extrapolated")
    if any(move.at_end_of_travel for each in table.corrections for move in each.moves):
        notes.append("end: at the end of its travel")
    caption = f"{table.player}, {shown(table.instrument.name)}: {'; '.join(notes)}"
    return Table(caption, header, tuple(rows), texts=0)


def care(material: Material) -> Section:
    """Repeat the usual cautions for slides, heat and cold, deferring to those in charge."""
    said = [
        "Warm up before tuning, and move slides by ear at the end: the tables give where to begin.",
        "Never force a slide that is stuck, least of all when the metal is cold; a repair "
        "technician frees it (common practice).",
        "In the cold, metal can hurt lips: keep mouthpieces warm until the last moment (common "
        "practice).",
        "In heat and in cold, breaks, water, layers and when to stop are not for this report to "
        f"say. {DEFER}",
    ]
    wooden = [shown(name) for name in material.instruments if material.catalogue.find(name).wooden]
    if wooden:
        said.insert(
            3,
            f"{', '.join(wooden)}: a wooden instrument can crack in the cold or when blown warm in "
            "haste (common practice).",
        )
    return Section("With care", (Items(tuple(said)),))
