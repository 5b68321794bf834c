"""The slide-position table and its card."""

import pytest
from pypdf import PdfReader

import drift
from drift.instruments import find
from drift.sheets.card import card, save_card
from drift.slides.correction import correct
from drift.slides.positions import positions
from tests.slides.test_correction import HOT, Told

PHYSICS = drift.physics()
AT = {"main": 12.0, "F": 8.0}


def test_a_row_for_every_five_degrees_in_both_scales():
    frame = positions(PHYSICS, "Bb trumpet", at={"main": 12.0}).to_frame()
    assert list(frame["celsius"]) == [0, 5, 10, 15, 20, 25, 30, 35, 40]
    assert list(frame["fahrenheit"]) == [32, 41, 50, 59, 68, 77, 86, 95, 104]


def test_rows_are_the_corrections():
    frame = positions(PHYSICS, "double horn", at=AT, travel={"main": 35.0}).to_frame()
    correction = correct(PHYSICS, "double horn", 30.0, at=AT, travel={"main": 35.0})
    row = frame[frame["celsius"] == 30.0].iloc[0]
    assert row["main_to_mm"] == correction.moves[0].to_mm
    assert row["F_move_mm"] == correction.moves[1].move_mm
    assert row["left_over_F_cents"] == correction.left_over_cents["F"]
    assert row["expected_cents"] == correction.expected_cents["F"].estimate


def test_where_it_was_tuned_the_marks_stay():
    frame = positions(PHYSICS, "double horn", at=AT).to_frame().set_index("celsius")
    assert frame.loc[20, ["main_to_mm", "F_to_mm"]].tolist() == [12.0, 8.0]


def test_hotter_is_further_out():
    frame = positions(PHYSICS, "Bb trumpet", at={"main": 20.0}).to_frame()
    assert frame["main_to_mm"].is_monotonic_increasing
    assert frame["main_to_mm"].iloc[0] < 20.0 < frame["main_to_mm"].iloc[-1]


def test_marks_beyond_the_temperatures_seen_and_the_travel():
    told = Told(22.1, 19.8, 24.3, seen=(12.0, 31.0))
    table = positions(told, "Bb trumpet", at={"main": 12.0}, travel={"main": 15.0})
    assert table.beyond_seen == (True, True, True, False, False, False, False, True, True)
    assert table.to_frame()["main_limited"].all()
    text = table.summary()
    assert "15.0|" in text
    assert " 0*  " in text
    assert "* beyond the temperatures measured so far" in text
    assert "| at the end of its travel, or stuck" in text


def test_without_positions_the_table_gives_signed_moves():
    table = positions(HOT, "double horn")
    assert table.cell(0, "main") == "+19.0"
    assert table.cell(0, "Bb") == "stay"
    assert "\nMoves, millimetres; tuned at" in table.summary()
    assert "(move): how far from where it was tuned" in table.summary()
    assert "(move)" not in positions(HOT, "Bb trumpet", at={"main": 5.0}).summary()


def test_the_head_tells_positions_from_moves():
    table = positions(PHYSICS, "double horn", at={"main": 12.0})
    assert "main  F (move)  B♭ (move)" in " ".join(table.summary().splitlines()[1].split("°F")[1:])
    assert {"main_to_mm", "main_move_mm", "F_move_mm"} <= set(table.to_frame())
    assert "F_to_mm" not in table.to_frame()
    heads = [t.get_text() for t in every_text_of(card(table))]
    assert {"main", "F\n(move)"} <= set(heads)


def test_inches():
    table = positions(HOT, "Bb trumpet", at={"main": 12.7})
    assert table.cell(0, "main", inches=True) == "7/8"
    assert "inches" in table.summary(inches=True)


def test_bars_show_what_is_left():
    text = positions(PHYSICS, "vibraphone").summary()
    assert "Nothing on it can be moved" in text
    assert "+13" in text


def every_text_of(figure):
    figure.canvas.draw()
    return [t for t in figure.axes[0].texts if t.get_text().strip()]


@pytest.mark.parametrize("known", [False, True])
@pytest.mark.parametrize("inches", [False, True])
@pytest.mark.parametrize("name", ["double horn", "BBb tuba", "baritone saxophone"])
def test_nothing_on_a_card_overlaps_or_leaves_the_page(name, inches, known):
    horn = find(name)
    at = {slide.name: 9.7 for slide in horn.slides} if known else {}
    travel = {slide.name: 23.3 for slide in horn.slides}
    table = positions(PHYSICS, horn, player="Rowan", at=at, travel=travel)
    figure = card(table, inches=inches)
    texts = every_text_of(figure)
    page = figure.bbox
    boxes = [(t.get_text(), t.get_window_extent()) for t in texts]
    for text, box in boxes:
        assert page.x0 <= box.x0, text
        assert box.x1 <= page.x1, text
    for number, (text, box) in enumerate(boxes):
        for other, other_box in boxes[number + 1 :]:
            assert not box.shrunk(0.94, 0.94).overlaps(other_box), (text, other)


def test_the_card_is_one_page_in_large_type(tmp_path):
    table = positions(PHYSICS, "double horn", player="Rowan", at=AT, travel={"main": 35.0})
    path = tmp_path / "card.pdf"
    save_card(table, path)
    pages = PdfReader(path).pages
    assert len(pages) == 1
    text = pages[0].extract_text()
    assert "double horn" in text
    assert "Rowan" in text
    assert table.cell(6, "main") in text
    sizes = [t.get_size() for t in every_text_of(card(table)) if t.get_weight() == "bold"]
    assert max(sizes) >= 15


def test_the_same_table_gives_the_same_file(tmp_path):
    table = positions(PHYSICS, "Bb trumpet", at={"main": 12.0})
    first, second = tmp_path / "a.pdf", tmp_path / "b.pdf"
    save_card(table, first)
    save_card(table, second)
    assert first.read_bytes() == second.read_bytes()
