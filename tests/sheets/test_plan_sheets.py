"""The sheets: paper, pages, everything inside the margins, nothing told by colour."""

import itertools

import matplotlib.colors as mcolors
import pytest
from matplotlib.text import Text
from pypdf import PdfReader

from drift.charts.style import png
from drift.errors import InputError
from drift.gig.plan import Assumptions
from drift.gig.planning import plan
from drift.sheets.plan_figure import courses_figure
from drift.sheets.plan_sheets import PAPERS, card_sheets, clipboard_page, save_pdf
from tests.gigs import bells, horns, schedule, steady, trumpets, tuba

TUNES = schedule(("tune", 0, 10), ("play", 10, 40), ("tune", 80, 90), ("play", 90, 120))
TAKE = Assumptions(draws=200)


def band(count):
    makers = itertools.cycle([trumpets, horns, tuba, bells])
    return [next(makers)(name=f"section {number + 1}") for number in range(count)]


@pytest.fixture(scope="module")
def found():
    return plan(steady(3), [*band(4), tuba(name="old", stuck=("main",))], TUNES, assumptions=TAKE)


def boxes(figure):
    """Where every text of a sheet lies, in fractions of the sheet."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    renderer = FigureCanvasAgg(figure).get_renderer()
    whole = figure.bbox
    for text in figure.findobj(Text):
        if text.get_text().strip() and text.get_visible():
            box = text.get_window_extent(renderer)
            ends = box.x0 / whole.width, box.x1 / whole.width
            yield text.get_text(), (*ends, box.y0 / whole.height, box.y1 / whole.height)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("count", [1, 12, 40])
@pytest.mark.parametrize("tunes", [1, 4])
def test_the_clipboard_is_one_page_and_stays_on_it(tmp_path, paper, count, tunes):
    rows = [row for n in range(tunes) for row in (("tune", 60 * n, 60 * n + 10),
                                                  ("play", 60 * n + 10, 60 * n + 40))]  # fmt: skip
    found = plan(steady(3), band(count), schedule(*rows), assumptions=TAKE)
    page = clipboard_page(found, paper=paper)
    for text, (left, right, bottom, top) in boxes(page):
        assert left > 0.02, text
        assert right < 0.98, text
        assert bottom > 0.01, text
        assert top < 0.99, text
    save_pdf([page], tmp_path / "page.pdf")
    (sheet,) = PdfReader(tmp_path / "page.pdf").pages
    width, height = PAPERS[paper]
    assert float(sheet.mediabox.width) / 72 * 2.54 == pytest.approx(width, abs=0.01)
    assert float(sheet.mediabox.height) / 72 * 2.54 == pytest.approx(height, abs=0.01)
    words = sheet.extract_text()
    assert f"section {count}" in words
    assert "the tuner has the last word" in words


@pytest.mark.parametrize("tunes", [1, 2, 3, 4])
def test_no_two_texts_of_the_clipboard_collide(tunes):
    rows = [row for n in range(tunes) for row in (("tune", 60 * n, 60 * n + 10),
                                                  ("play", 60 * n + 10, 60 * n + 40))]  # fmt: skip
    sections = [*band(9), tuba(name="sousaphones", at_mm={"main": 62.0}, travel_mm={"main": 110.0})]
    lying = list(
        boxes(clipboard_page(plan(steady(1), sections, schedule(*rows), assumptions=TAKE)))
    )
    for (text, one), (other, two) in itertools.combinations(lying, 2):
        beside = one[1] <= two[0] or two[1] <= one[0]
        above = one[2] >= two[3] - 0.003 or two[2] >= one[3] - 0.003
        assert beside or above, (text, other)


def test_cards_say_what_matters_and_no_more():
    short = trumpets(name="short", at_mm={"main": 4.0})
    unknown = trumpets(name="unknown", at_mm={}, travel_mm={})
    sections = [short, unknown, bells()]
    found = plan(steady(3), sections, schedule(("tune", 0, 10), ("play", 10, 40)), assumptions=TAKE)
    words = [t.get_text() for sheet in card_sheets(found) for t in sheet.findobj(Text)]
    assert "from 4 to 0 mm, its end" in words
    assert "check that it is out that far" in words
    told = [text for text in words if "left over" in text or "while playing" in text]
    assert not any("left over 0" in text or "0 to 0" in text for text in told)
    left = found.settings[-1].left_over_cents[""]
    assert f"left over +{left:.0f} cents" in told  # bars: the same all the time


def test_table_and_foot_do_not_run_into_each_other():
    for count in (5, 20, 40):
        found = plan(steady(-8), band(count), TUNES, assumptions=TAKE)
        lying = dict(boxes(clipboard_page(found)))
        last_row = lying[f"section {count}"][2]
        assert (
            last_row
            > lying["These are expectations. On the field, the tuner has the last word."][3]
        )
        assert last_row > max(box[3] for text, box in lying.items() if text.startswith("Bold: in"))


def test_forty_sections_are_still_readable():
    rows = [row for n in range(4) for row in (("tune", 60 * n, 60 * n + 10),
                                              ("play", 60 * n + 10, 60 * n + 40))]  # fmt: skip
    found = plan(steady(-8), band(40), schedule(*rows), assumptions=TAKE)
    page = clipboard_page(found)
    moves = [t for t in page.findobj(Text) if t.get_text().startswith(("in ", "stay", "out "))]
    assert len(moves) == 4 * 40
    assert min(text.get_fontsize() for text in moves) > 7  # points, a footnote in a book


def test_a_card_for_each_section(found, tmp_path):
    sheets = card_sheets(found)
    assert len(sheets) == 2
    save_pdf(sheets, tmp_path / "cards.pdf")
    words = "".join(page.extract_text() for page in PdfReader(tmp_path / "cards.pdf").pages)
    for section in found.sections:
        assert section.name in words
    assert "push in" in words
    assert "stuck: leave it" in words
    assert "nothing to move" in words
    for sheet in sheets:
        for text, (left, right, bottom, top) in boxes(sheet):
            assert min(left, bottom) > 0.02, text
            assert max(right, top) < 0.98, text
            assert not left < 0.5 < right, text  # cut between the cards


def test_nothing_is_told_by_colour(found):
    for figure in (clipboard_page(found), *card_sheets(found), courses_figure(found)):
        for text in figure.findobj(Text):
            red, green, blue = mcolors.to_rgb(text.get_color())
            assert max(red, green, blue) - min(red, green, blue) < 0.1
        for axes in figure.axes:
            for line in axes.lines:
                assert max(mcolors.to_rgb(line.get_color())) - min(
                    mcolors.to_rgb(line.get_color())
                ) < 0.15  # fmt: skip


def test_the_figure_has_temperature_above_and_a_panel_a_section(found):
    figure = courses_figure(found)
    assert len(figure.axes) == 1 + len(found.sections)
    labels = {ax.get_ylabel() for ax in figure.axes}
    assert {"°C", "cents"} <= labels
    assert png(figure).startswith(b"\x89PNG")
    assert "°F" in {ax.get_ylabel() for ax in courses_figure(found, fahrenheit=True).axes}


def test_a_plot_has_a_line_for_each_instrument(found):
    ax = found.plot()
    labels = [text.get_text() for text in ax.get_legend().get_texts()]
    assert labels == ["B♭ trumpet", "double horn", "BB♭ tuba", "glockenspiel"]
    line = next(line for line in ax.lines if line.get_label() == "B♭ trumpet")
    assert line.get_ydata() == pytest.approx(found.courses["section 1"].cents)
    other = found.figure().add_subplot()
    assert found.plot(other) is other


def test_the_same_plan_makes_the_same_file(found, tmp_path):
    files = [tmp_path / "one.pdf", tmp_path / "two.pdf"]
    for file in files:
        save_pdf([clipboard_page(found)], file)
    assert files[0].read_bytes() == files[1].read_bytes()


def test_other_paper_is_refused(found):
    with pytest.raises(InputError, match="paper 'a3' is not known"):
        clipboard_page(found, paper="a3")
