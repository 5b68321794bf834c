"""The drawing of the air path: lengths to scale, and which slide serves which side."""

import numpy as np
import pytest
from matplotlib.figure import Figure

from drift.charts.style import look
from drift.instruments import Catalogue, find
from drift.sheets.drawing import air_path


def lines_of(ax, colour):
    return [line for line in ax.lines if line.get_color() == colour]


def test_sides_are_drawn_to_scale():
    horn = find("double horn")
    ax = air_path(horn)
    spans = [np.ptp(line.get_xdata()) for line in ax.lines]
    for side in horn.sides:
        assert any(span == pytest.approx(side.length_m) for span in spans)
    assert ax.get_aspect() == 1.0


def test_valve_loops_are_drawn_to_scale():
    trumpet = find("Bb trumpet")
    heights = [np.ptp(line.get_ydata()) for line in air_path(trumpet).lines]
    for valve in trumpet.valves:
        # A loop has two legs, so a leg is half of its length.
        leg = valve.fraction * trumpet.side().length_m / 2
        assert any(height == pytest.approx(leg) for height in heights)


def test_the_common_slide_hangs_on_both_sides_and_is_joined():
    ax = air_path(find("double horn"))
    main, f_slide = (lines_of(ax, look(n).colour) for n in (0, 1))
    assert len(main) == 3  # a loop on each side, and the dotted line between them
    assert len(f_slide) == 1
    starts = [line.get_xdata()[0] for line in main if line.get_linestyle() == "-"]
    assert starts[0] == starts[1]


def test_names_and_slopes_are_written():
    texts = [text.get_text() for text in air_path(find("double horn")).texts]
    assert "F side, 3.94 m" in texts
    assert "main\n−0.88 cents/mm" in texts
    assert "B♭\n−1.17 cents/mm" in texts


@pytest.mark.parametrize("instrument", Catalogue.shipped().values(), ids=lambda entry: entry.name)
def test_every_instrument_can_be_drawn_without_overlaps(instrument):
    ax = air_path(instrument)
    figure = ax.figure
    figure.canvas.draw()
    boxes = [(t.get_text(), t.get_window_extent()) for t in ax.texts if t.get_text()]
    for number, (text, box) in enumerate(boxes):
        for other, other_box in boxes[number + 1 :]:
            assert not box.overlaps(other_box), (text, other)


def test_draws_on_axes_that_are_given():
    ax = Figure().add_subplot()
    assert air_path(find("flute"), ax) is ax


def test_bars_have_no_air_path():
    assert "No air path" in air_path(find("glockenspiel")).texts[0].get_text()
