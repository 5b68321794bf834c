"""The card of slide positions: one page, large type, nothing cut off."""

import io

import pytest
from pypdf import PdfReader

import drift
from drift.instruments import find
from drift.sheets import card as module
from drift.sheets.card import card_pdf, save_card
from drift.slides.positions import positions
from drift.words.slide_table import cell, cell_interval

PHYSICS = drift.physics()
AT = {"main": 12.0, "F": 8.0}


def pieces(pdf):
    """Each text of the first page: (x, y, size, text)."""
    found = []

    def visit(text, page, matrix, font, size):
        if text.strip():
            found.append((page[4] + matrix[4], page[5] + matrix[5], size, text.strip()))

    pages = PdfReader(io.BytesIO(pdf)).pages
    pages[0].extract_text(visitor_text=visit)
    return pages, found


@pytest.mark.parametrize("known", [False, True])
@pytest.mark.parametrize("inches", [False, True])
@pytest.mark.parametrize("name", ["double horn", "BBb tuba", "baritone saxophone"])
def test_the_columns_are_as_wide_as_their_texts(name, inches, known):
    kind = find(name)
    at = {slide.name: 9.7 for slide in kind.slides} if known else {}
    travel = {slide.name: 23.3 for slide in kind.slides}
    table = positions(PHYSICS, kind, player="Rowan", at=at, travel=travel)
    head, rows = module._texts(table, inches)
    places = range(2, 2 + len(table.slides))
    grid = module._grid(table, inches, 363.0)
    style = module._style(places, module.LARGEST, len(rows))
    size = next(c[4] for c in style if c[0] == "FONT" and c[3] == module.BOLD)
    assert sum(grid._colWidths) == pytest.approx(363.0, abs=0.5)
    needed = module._widths(head, rows, places, module.SMALLEST)
    assert all(has >= wants - 1e-6 for has, wants in zip(grid._colWidths, needed, strict=True))
    assert size == module.LARGEST


def test_the_card_is_one_page_in_large_type(tmp_path):
    table = positions(PHYSICS, "double horn", player="Rowan", at=AT, travel={"main": 35.0})
    path = tmp_path / "card.pdf"
    save_card(table, path)
    pages, found = pieces(path.read_bytes())
    assert len(pages) == 1
    texts = {text: size for _, _, size, text in found}
    assert {"double horn", "Rowan"} <= set(texts)
    assert texts[cell(table, 6, "main")] >= 15
    assert min(texts.values()) >= 9
    width = float(pages[0].mediabox.width)
    assert all(0 < x < width for x, _, _, _ in found)


def test_a_name_of_any_letters_is_written_as_it_is():
    table = positions(PHYSICS, "Bb trumpet", player="<b>A & B</b>")
    assert "<b>A & B</b>" in PdfReader(io.BytesIO(card_pdf(table))).pages[0].extract_text()


def test_the_same_table_gives_the_same_file():
    table = positions(PHYSICS, "Bb trumpet", at={"main": 12.0})
    assert card_pdf(table) == card_pdf(table)


def test_each_position_has_its_interval_and_an_end_is_a_word():
    table = positions(PHYSICS, "double horn", at=AT, travel={"main": 30.0})
    text = PdfReader(io.BytesIO(card_pdf(table))).pages[0].extract_text()
    warm = next(n for n, one in enumerate(table.corrections) if one.celsius == 25.0)
    move = table.move(warm, "main")
    low, high = (round(2 * (12.0 + end)) / 2 for end in (move.low_mm, move.high_mm))
    assert f"{low:g} to {high:g}" in text
    assert "30.0 end" in text
    assert "|" not in text
    assert "end: at the end of its travel, or stuck." in text


def test_an_interval_is_left_out_where_it_says_nothing():
    table = positions(PHYSICS, "double horn", celsius=[20.0, 40.0], at=AT, travel={"main": 30.0})
    assert cell_interval(table, 0, "main") == ""  # nothing moves at 20 °C
    low = cell_interval(table, 1, "main").removesuffix(" to 30")  # it may not need to go to the end
    assert 12.0 < float(low) < 30.0
    unknown = positions(PHYSICS, "Bb trumpet", celsius=[30.0])
    move = unknown.move(0, "main")
    low, high = (round(2 * end) / 2 for end in (move.low_mm, move.high_mm))
    assert cell_interval(unknown, 0, "main") == f"+{low:g} to +{high:g}"
