"""The card of slide positions: one page, large type, nothing cut off."""

import io
from datetime import UTC, date, datetime

import pytest
from pypdf import PdfReader

import drift
from drift.instruments import find
from drift.sheets import card as module
from drift.sheets.card import card_pdf, save_card
from drift.slides.positions import positions
from drift.slides.reference import Reference
from drift.words import room_card
from drift.words.remaining_error import what_remains
from drift.words.slide_table import cell_interval, figure
from drift.words.slides import steps
from drift.words.warming import warm_up
from tests.slides.test_correction import Told

PHYSICS = drift.physics()
AT = {"main": 12.0, "F": 8.0}
START = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)


def pieces(pdf):
    """Each text of the first page: (x, y, size, text)."""
    found = []

    def visit(text, page, matrix, font, size):
        if text.strip():
            found.append((page[4] + matrix[4], page[5] + matrix[5], size, text.strip()))

    pages = PdfReader(io.BytesIO(pdf)).pages
    pages[0].extract_text(visitor_text=visit)
    return pages, found


@pytest.mark.slow
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
    grid = module._grid(table, inches, 363.0, 1000.0)
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
    assert {"double horn, A4 = 440 Hz", "Rowan"} <= set(texts)
    assert texts[figure(table, 5, "main")] >= 13
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
    assert "30.0" in text
    assert "|" not in text
    assert "“end”: the end of its travel." in " ".join(text.split())


def test_an_interval_is_left_out_where_it_says_nothing():
    table = positions(PHYSICS, "double horn", celsius=[20.0, 40.0], at=AT, travel={"main": 30.0})
    assert cell_interval(table, 0, "main") == ""  # nothing moves at 20 °C
    low = cell_interval(table, 1, "main").removesuffix(" to 30")  # it may not need to go to the end
    assert 12.0 < float(low) < 30.0
    unknown = positions(PHYSICS, "Bb trumpet", celsius=[30.0])
    move = unknown.move(0, "main")
    low, high = (round(2 * end) / 2 for end in (move.low_mm, move.high_mm))
    assert cell_interval(unknown, 0, "main") == f"+{low:g} to +{high:g}"


def one_line(pdf):
    return " ".join(PdfReader(io.BytesIO(pdf)).pages[0].extract_text().split())


HORN_AT = {"main": 14.0, "F": 14.5, "Bb": 2.0}


def test_a_card_says_what_for_from_when_and_where_it_starts():
    table = positions(PHYSICS, "double horn", player="Rowan", at=HORN_AT)
    text = one_line(card_pdf(table, title="Autumn parade", printed=date(2026, 10, 5)))
    assert "Rowan, Autumn parade, printed 2026-10-05" in text
    assert "with main 14 mm, F 14.5 mm, B♭ 2 mm." in text
    assert "Warm up first: 18 minutes are usual; yours: 6 to 59 minutes." in text
    assert "Set slides on open notes, no valve pressed." in text
    assert "Keep the right hand in the bell as usual." in text
    assert "tell the director before the band tunes" in text
    assert "*" not in text
    assert "fully in" in text


def test_a_trombone_has_no_valve_to_leave_alone():
    text = one_line(card_pdf(positions(PHYSICS, "tenor trombone"), title="Parade"))
    assert "Keep the hand slide fully in while tuning." in text
    assert "valve" not in text


@pytest.mark.parametrize("celsius", [5.0, 24.0, 35.0])
def test_one_room_fills_the_card_in_large_type(celsius):
    cold = Told(-37.0, -54.0, -20.0) if celsius < 20 else Told(9.0, 7.0, 12.0)
    table = positions(cold, "double horn", celsius=[celsius], at=HORN_AT)
    pages, found = pieces(card_pdf(table))
    assert len(pages) == 1
    sizes = {text: size for _, _, size, text in found}
    assert sizes[room_card.order(table, "main")] >= 20
    assert min(sizes.values()) >= 9
    lowest = min(y for _, y, _, _ in found)
    assert lowest < 0.45 * float(pages[0].mediabox.height)
    text = one_line(card_pdf(table))
    for line in what_remains(table.corrections[0]):
        assert line in text
    assert warm_up(table.corrections[0]) in text


def test_where_a_slide_is_now_stands_beside_where_it_goes():
    tuned = Reference("home", START, 20.0, 30.0, True, {"main": 14.0, "F": 14.5}, {"F": 8.0})
    cold = Told(-37.0, -54.0, -20.0)
    table = positions(cold, "double horn", celsius=[5.0], at=HORN_AT, reference=tuned)
    assert (room_card.order(table, "F"), room_card.order(table, "main")) == ("fully in",) * 2
    assert room_card.known(table, "F").endswith("push in 8 mm from 8 mm")
    assert room_card.known(table, "main").endswith("push in 14 mm from 14 mm")
    assert "was at 14.5 mm when tuned and is logged at 8 mm now" in one_line(card_pdf(table))
    several = positions(cold, "double horn", celsius=[5.0, 10.0], at=HORN_AT, reference=tuned)
    assert "logged at 8 mm now: set it as the table says." in one_line(card_pdf(several))


COLD = Told(-26.0, -31.0, -21.0)


@pytest.mark.parametrize(("inches", "order", "move"), [
    (False, "set to 2 mm", "push in 10 mm from 12 mm"),
    (True, "set to 1/16 inch", "push in 3/8 inch from 1/2 inch"),
])  # fmt: skip
def test_the_largest_letters_are_the_place_and_below_it_stands_the_move(inches, order, move):
    table = positions(COLD, "Bb trumpet", celsius=[6.1], at={"main": 12.0}, travel={"main": 30.0})
    sizes = {text: size for _, _, size, text in pieces(card_pdf(table, inches=inches))[1]}
    assert sizes[order] == max(sizes.values())
    assert sizes["from fully in"] >= 16
    assert move in one_line(card_pdf(table, inches=inches))


@pytest.mark.parametrize("celsius", [5.0, 20.0])
def test_the_card_of_one_room_moves_the_valve_slides_as_the_answer_does(celsius):
    table = positions(PHYSICS, "double horn", celsius=(celsius,), player="Rowan", at=AT)
    pages, _ = pieces(card_pdf(table))
    text = " ".join(pages[0].extract_text().split())
    told = [one for one in steps(table.corrections[0]) if one.startswith("Valve slides")]
    assert bool(told) is (celsius == 5.0)
    assert ("Valve slides" in text) is bool(told)
    assert all(one in text for one in told)


def test_a_move_from_nobody_knows_where_is_told_from_the_tuning():
    text = one_line(card_pdf(positions(COLD, "Bb trumpet", celsius=[6.1])))
    assert "push in 10 mm from where it was tuned most likely 7.5 to 12.5 mm in" in text


def test_a_slide_at_its_end_or_stuck_says_so_on_the_card_of_one_room():
    warm = Told(22.0, 17.0, 28.0)
    table = positions(
        warm, "double horn", celsius=[33.0], at=HORN_AT, travel={"main": 25.0}, stuck=["Bb"]
    )
    text = one_line(card_pdf(table))
    assert "set to 25 mm the end of its travel" in text
    assert "pull out 11 mm from 14 mm" in text
    assert "leave it stuck now at 2 mm" in text


@pytest.mark.parametrize("celsius", [[6.1], [0.0, 10.0]])
def test_every_card_names_its_pitch_and_what_its_figures_are(celsius):
    table = positions(COLD, "Bb trumpet", celsius=celsius, at={"main": 12.0}, a4_hz=437.5)
    text = one_line(card_pdf(table))
    assert text.startswith("B♭ trumpet, A4 = 437.5 Hz")
    assert "tuned to A4 = 440 Hz at 20 °C" in text
    assert "from fully in" in text.split("remaining")[0]


def test_a_card_of_an_instrument_that_is_left_alone():
    table = positions(Told(3.0, 2.0, 4.0), "Bb trumpet", celsius=[22.0])
    assert "Leave the slides where they are: 3 cents are hardly noticed." in one_line(
        card_pdf(table)
    )
    bars = positions(PHYSICS, "vibraphone", celsius=[5.0])
    assert "Nothing on it can be moved" in one_line(card_pdf(bars))
    assert "Warm up" not in one_line(card_pdf(bars))


def test_cards_of_many_slides_and_in_inches_stay_on_a_page():
    for name, at in (("BBb tuba", {"main": 20.0}), ("double horn", HORN_AT)):
        for inches in (False, True):
            table = positions(PHYSICS, name, celsius=[-10.0], at=at)
            assert len(PdfReader(io.BytesIO(card_pdf(table, inches=inches))).pages) == 1
