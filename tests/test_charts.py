"""Charts: what goes in is what stands on the axes, in words with units, the same every time."""

import itertools
import re
import subprocess
import sys
from dataclasses import replace
from zoneinfo import ZoneInfo

import matplotlib as mpl
import matplotlib.dates as mdates
import numpy as np
import pandas as pd
import pytest
from matplotlib.figure import Figure
from matplotlib.text import Text
from numpy.testing import assert_allclose

import drift
from drift import charts
from drift.charts import residuals as charts_residuals
from drift.charts.expected import expected_figure
from drift.charts.marks import rests, slide_moves
from drift.charts.rehearsal import observed
from drift.charts.style import look, signed_text
from drift.errors import InputError
from drift.notes import shown
from drift.regression.comparison import Comparison
from drift.regression.priors import InstrumentPriors

NARROW = drift.Priors(
    common_slope_sd=0.01, curvature_sd=1e-4, player_slope_sd=0.01, player_rise_sd=0.1,
    instruments={"double horn": InstrumentPriors(cold_sd=0.01, rise_sd=0.1, warm_log_sd=0.01)},
)  # fmt: skip
START = pd.Timestamp("2026-10-03T17:00:00Z")
BERLIN = ZoneInfo("Europe/Berlin")


def at(*minutes: float) -> pd.Series:
    times = [START + pd.Timedelta(minutes=m) for m in minutes]
    return pd.Series(times).astype("datetime64[us, UTC]")


@pytest.fixture(scope="module")
def season():
    return drift.load(drift.shipped.folder("datasets/cold-hall-season"))


@pytest.fixture(scope="module")
def fit(season):
    return drift.fit(drift.pair(season))


@pytest.fixture
def rows():
    """Two notes of one player: a fit's rows of one rehearsal."""
    return pd.DataFrame(
        {
            "time": at(5, 6, 30, 31),
            "rehearsal": "autumn",
            "player": "Rowan",
            "instrument": "double horn",
            "side": "F",
            "note": ["F4", "C4", "F4", "C4"],
            "reference_cents": [-6.0, 2.0, 4.0, 12.0],
            "celsius": [18.0, 18.0, 20.0, 20.0],
            "drift": [-9.0, -8.5, 0.0, 0.5],
            "residual": [1.0, -1.0, 0.5, 0.0],
            "spells": [(), (), (20.0, 5.0), (20.0, 5.0)],
        }
    )


@pytest.fixture
def events():
    return pd.DataFrame(
        {
            "time": at(-5, 0, 20, 25, 28, 29),
            "rehearsal": "autumn",
            "player": ["Rowan", "", "", "", "Rowan", "Isolde"],
            "instrument": "",
            "event": ["slide", "play", "rest", "play", "slide", "slide"],
            "slide": ["main", "", "", "", "main", "main"],
            "position_mm": [12.0, np.nan, np.nan, np.nan, 16.0, 10.0],
        }
    )


def points(ax, marker):
    """The points of the series drawn with a marker."""
    return next(line for line in ax.lines if line.get_marker() == marker)


def minutes_of(line):
    return (np.asarray(mdates.date2num(line.get_xdata())) - mdates.date2num(START)) * 1440.0


def texts(ax):
    return [text.get_text() for text in ax.texts]


def test_drift_against_time_draws_readings_and_what_was_expected(rows, events):
    ax = charts.drift_against_time(rows, events=events, zone=BERLIN)
    read = points(ax, "o")
    assert_allclose(minutes_of(read), [5, 6, 30, 31], atol=1e-6)
    assert_allclose(read.get_ydata(), [-8.0, -9.5, 0.5, 0.5])
    expected = [line.get_ydata() for line in ax.lines if line.get_marker() == "None"]
    drawn = [list(y) for y in expected if len(y) == 2 and list(y) != [0, 0] and y[0] != 0]
    assert [-9.0, -8.5] in drawn, "before the rest"
    assert [0.0, 0.5] in [list(y) for y in expected], "after it, not joined over the rest"
    assert ax.get_ylabel() == "drift (cents)\nagainst warm at 20 °C"
    assert ax.get_xlabel() == "time of day (CEST)"
    assert "main to 16 mm" in texts(ax)
    assert "rest" in texts(ax)
    assert not any("10 mm" in text for text in texts(ax)), "a first position is no move"


def test_drift_without_a_fit_is_against_the_mean_of_each_note(rows):
    paired = rows.drop(columns=["drift", "residual"])
    ax = charts.drift_against_time(paired)
    assert_allclose(points(ax, "o").get_ydata(), [-5.0, -5.0, 5.0, 5.0])
    assert ax.get_ylabel() == "drift (cents)\nagainst the note's mean"
    assert ax.get_xlabel() == "time of day (UTC)"


@pytest.mark.parametrize("minutes", [0.0, 0.4, 2.0, 8.5, 9.5, 25.0, 190.0])
def test_the_times_of_a_chart_are_whole_minutes_and_no_two_alike(rows, minutes):
    begin = pd.Timestamp("2026-11-27T10:53:10Z")
    spread = pd.to_timedelta(np.linspace(0.0, minutes, len(rows)), unit="min")
    ax = charts.drift_against_time(rows.assign(time=begin + spread))
    words = ax.xaxis.get_major_formatter()
    low, high = ax.get_xlim()
    ticks = [tick for tick in ax.get_xticks() if low <= tick <= high]
    labels = [words(tick) for tick in ticks]
    assert 1 < len(labels) <= 11
    assert len(set(labels)) == len(labels)
    assert all(abs(tick * 1440 - round(tick * 1440)) < 1e-4 for tick in ticks)


def test_hours_are_those_of_the_zone(rows):
    ax = charts.drift_against_time(rows, zone=BERLIN)
    shown = ax.xaxis.get_major_formatter()(mdates.date2num(START))
    assert shown == "19:00"  # 17:00 UTC is 19:00 in Berlin in October, before the clocks change


def test_a_name_is_no_formula_and_any_letters_will_do(rows):
    ax = charts.drift_against_time(rows.assign(player="$\\frac{x$ <b> 山"))
    assert "$\\frac{x$ <b> 山" in ax.get_legend().get_texts()[0].get_text()
    drawing = charts.svg(ax.figure)
    assert "<b>" not in drawing


def test_temperature_draws_every_thermometer_and_breaks_where_it_was_silent():
    temperatures = pd.DataFrame(
        {
            "time": pd.concat([at(0, 2, 30, 32), at(1, 31), at(15)]),
            "celsius": [18.0, 18.5, 20.0, 20.5, 8.0, 8.5, 19.0],
            "source": ["hall"] * 4 + ["outdoors"] * 2 + ["typed"],
        }
    )
    ax = charts.temperature_against_time(temperatures)
    labels = [text.get_text() for text in ax.get_legend().get_texts()]
    assert labels == ["hall", "outdoors", "typed"]
    hall, outdoors, typed = ax.lines
    assert_allclose(hall.get_ydata(), [18.0, 18.5, np.nan, 20.0, 20.5])
    assert_allclose(outdoors.get_ydata(), [8.0, np.nan, 8.5])
    assert typed.get_linestyle() == "None"
    assert_allclose(typed.get_ydata(), [19.0])
    assert ax.get_ylabel() == "air (°C)"


def test_the_last_hour_ends_now():
    temperatures = pd.DataFrame(
        {"time": at(0, 30, 60, 90), "celsius": [17.0, 18.0, 19.0, 20.0], "source": "hall"}
    )
    ax = charts.last_hour(temperatures, START + pd.Timedelta(minutes=70))
    assert_allclose(ax.lines[0].get_xdata(), [-40.0, -40.0, -10.0])  # not 70 min ago, not to come
    assert_allclose(ax.lines[0].get_ydata(), [18.0, np.nan, 19.0])  # broken, and nothing is lost
    assert ax.get_xlim() == (-60.0, 0.0)
    assert ax.get_xlabel() == "minutes before now"
    assert ax.xaxis.get_major_formatter()(-20.0) == "20"


def test_a_chart_draws_on_the_axes_it_is_given(rows, fit):
    for draw in (
        lambda ax: charts.drift_against_time(rows, ax),
        lambda ax: charts.drift_against_temperature(fit, ax),
        lambda ax: charts.drift_against_playing_time(fit, ax),
        lambda ax: charts.residuals_against_expected(fit, ax),
        lambda ax: charts.residuals_against_playing_time(fit, ax),
        lambda ax: charts.residuals_against_time(fit, ax),
        lambda ax: charts.residuals_against_temperature(fit, ax),
        lambda ax: charts.residuals_against_normal(fit, ax),
    ):
        ax = charts.new_axes()
        assert draw(ax) is ax
        assert ax.lines


def test_residuals_are_drawn_against_minutes_of_playing(fit):
    ax = charts.residuals_against_playing_time(fit)
    assert ax.get_xlabel() == "playing, rests left out (minutes)"
    drawn = np.concatenate([line.get_xdata() for line in ax.lines if line.get_label()[0] == "B"])
    assert set(drawn) <= set(fit.rows["playing_minutes"])
    together = [one.get_xlabel() for one in charts.residuals_figure(fit).axes]
    assert ax.get_xlabel() in together
    assert len(together) == 5


def test_drift_against_temperature_is_what_the_fit_predicts(fit):
    ax = charts.drift_against_temperature(fit, instrument="Bb trumpet")
    warm = next(line for line in ax.lines if line.get_label() == "after 30 min of playing")
    predicted = fit.predict(warm.get_xdata(), 30.0, "Bb trumpet")
    assert_allclose(warm.get_ydata(), predicted["cents"])
    rows = fit.rows[fit.rows["instrument"] == "Bb trumpet"]
    later = rows[rows["minutes_into_spell"] >= 10.0]
    assert_allclose(points(ax, "o").get_xdata(), later["celsius"])
    assert_allclose(points(ax, "o").get_ydata(), observed(later))
    filled, early = (line for line in ax.lines if line.get_marker() == "o")
    assert early.get_markerfacecolor() == "none"
    assert len(filled.get_xdata()) + len(early.get_xdata()) == len(rows)
    assert ax.get_title(loc="left") == "B♭ trumpet, Isolde: drift against temperature"
    assert ax.get_xlabel() == "air (°C)"


def test_one_player_is_drawn_with_a_line_of_their_own(fit):
    rows = fit.rows.assign(instrument="Bb trumpet")  # both are taken for players of the trumpet
    both = drift.fit(rows)
    ax = charts.drift_against_temperature(both, instrument="Bb trumpet", player="Rowan")
    warm = next(line for line in ax.lines if line.get_label() == "after 30 min of playing")
    own = both.predict(warm.get_xdata(), 30.0, "Bb trumpet", player="Rowan")["cents"]
    assert_allclose(warm.get_ydata(), own)
    drawn = sum(len(line.get_xdata()) for line in ax.lines if line.get_marker() == "o")
    assert drawn == (rows["player"] == "Rowan").sum()
    assert ax.get_title(loc="left") == "B♭ trumpet, Rowan: drift against temperature"
    new = charts.drift_against_temperature(both, instrument="Bb trumpet")
    assert new.get_title(loc="left") == "B♭ trumpet: drift against temperature"


def test_no_axis_is_narrower_than_ten_cents_or_two_degrees(rows):
    still = rows.assign(drift=0.0, residual=0.0)
    low, high = charts.drift_against_time(still).get_ylim()
    assert high - low >= 10.0
    air = pd.DataFrame({"time": at(0, 5, 9), "celsius": [20.0, 20.01, 20.0], "source": "hall"})
    for ax in (charts.temperature_against_time(air), charts.last_hour(air, at(10).iloc[0])):
        low, high = ax.get_ylim()
        assert high - low >= 2.0


def test_a_legend_lies_off_the_data(fit):
    for draw in (charts.drift_against_temperature, charts.drift_against_playing_time):
        ax = draw(fit)
        ax.figure.draw_without_rendering()
        box = ax.get_legend().get_window_extent()
        assert box.y1 <= ax.get_xaxis().get_tightbbox().y0 + 1.0
        assert box.y0 >= 0.0


def test_rehearsals_to_compare_have_one_scale(rows):
    air = pd.DataFrame({"time": at(0, 5), "celsius": [19.2, 22.0], "source": "hall"})
    scale = charts.common_scale(rows, air)
    assert scale == charts.Scale((-20.0, 30.0), (15.0, 25.0))
    figure = charts.rehearsal_figure(rows, air, scale=scale)
    upper, lower = figure.axes[:2]
    assert upper.get_ylim() == scale.cents
    assert lower.get_ylim() == scale.celsius


def test_fit_plot_is_the_same_chart(fit):
    ours, theirs = charts.drift_against_temperature(fit), fit.plot()
    assert charts.svg(ours.figure) == charts.svg(theirs.figure)


def test_an_instrument_is_drawn_by_any_of_its_names(fit):
    by_name = charts.svg(fit.plot(instrument="double horn").figure)
    assert charts.svg(fit.plot(instrument="horn").figure) == by_name


def test_covariates_that_an_axis_has_no_room_for_are_counted(fit):
    rows = fit.rows[fit.rows["instrument"] == "double horn"].drop(columns=["drift", "residual"])
    random = np.random.default_rng(3)
    held = {f"span_{k}_of_the_horn": random.normal(size=len(rows)) for k in range(3)}
    ax = charts.drift_against_temperature(drift.fit(rows.assign(**held), covariates=list(held)))
    assert ax.get_ylabel().endswith("at equal covariates (3)")


def test_readings_with_a_mute_lie_about_the_line_of_the_others(fit):
    """Twelve cents flat with the mute: as read, half of the points would lie below the band."""
    rows = fit.rows[fit.rows["instrument"] == "double horn"].drop(columns=["drift", "residual"])
    mute = np.where(np.arange(len(rows)) % 2, "straight", "none")
    cents = rows["reference_cents"] - 12.0 * (mute == "straight")
    told = drift.fit(rows.assign(mute=mute, reference_cents=cents), covariates=["mute"])
    written = drift.fit(
        rows.assign(mute=mute, reference_cents=cents), "mixed", formula="cents ~ drift + C(mute)"
    )
    for one in (told, written):
        for draw in (charts.drift_against_temperature, charts.drift_against_playing_time):
            ax = draw(one)
            assert ax.get_ylabel().endswith("at equal mute")
            later = one.rows[one.rows["minutes_into_spell"] >= 10.0]
            apart = points(ax, "o").get_ydata() - (later["drift"] + later["residual"])
            if draw is charts.drift_against_temperature:
                with_mute = (later["mute"] == "straight").to_numpy()
                assert apart[with_mute].mean() - apart[~with_mute].mean() == pytest.approx(
                    12, abs=2
                )


def test_the_edge_cuts_no_line_and_no_mark(fit):
    for name in fit.kinds:
        ax = charts.drift_against_temperature(fit, instrument=name)
        low, high = ax.get_ylim()
        for line in ax.lines:
            drawn = np.asarray(line.get_ydata(), dtype=float)
            room = 0.5 if line.get_marker() == "o" else 0.0
            assert low + room <= drawn.min() <= drawn.max() <= high - room


def test_a_long_title_goes_on_in_a_second_line_and_is_not_cut(fit):
    name = "Rowan of the Old Malthouse Band"
    rows = fit.rows.assign(player=fit.rows["player"].replace("Rowan", name))
    ax = charts.drift_against_playing_time(replace(fit, rows=rows), instrument="double horn")
    figure, text = ax.figure, ax.get_title(loc="left")
    assert text.endswith("brought to 20\N{NO-BREAK SPACE}°C")
    figure.draw_without_rendering()
    (drawn,) = (each.get_window_extent() for each in ax.findobj(Text) if each.get_text() == text)
    assert drawn.x0 >= 0.0
    assert drawn.x1 <= figure.bbox.x1
    assert drawn.y1 <= figure.bbox.y1
    assert drawn.y0 >= ax.bbox.y1


def test_of_several_instruments_the_chart_says_which_and_the_figure_has_all(fit):
    first = max(fit.kinds, key=lambda name: fit.kinds[name].readings)
    assert first == "double horn"
    assert charts.drift_against_temperature(fit).get_title(loc="left") == (
        "Double horn, Rowan (1 of 2 instruments): drift against temperature"
    )
    other = fit.plot(instrument="Bb trumpet", player="Isolde")
    assert other.get_title(loc="left") == "B♭ trumpet, Isolde: drift against temperature"
    titles = [ax.get_title(loc="left") for ax in charts.drift_figure(fit).axes]
    assert [title.split(",")[0] for title in titles if title] == ["Double horn", "B♭ trumpet"]
    assert len(fit.plot_residuals().axes) == 5


def test_a_fit_that_holds_no_readings_has_no_residuals_to_draw(fit):
    with pytest.raises(InputError, match="made in parts and holds no readings"):
        replace(fit, rows=fit.rows.iloc[:0]).plot_residuals()


def test_acoustics_alone_can_be_drawn():
    ax = charts.drift_against_temperature(drift.physics(), instrument="Bb trumpet")
    assert [line.get_label() for line in ax.lines][:2] == [
        "after 30 min of playing",
        "cold, from the case",
    ]


def test_readings_are_brought_to_20_degrees_by_what_the_fit_expects(fit):
    ax = charts.drift_against_playing_time(fit, instrument="double horn")
    rows = fit.rows[fit.rows["instrument"] == "double horn"]
    first = rows[rows["minutes_into_spell"] >= 10.0]
    drawn = points(ax, "o")
    assert_allclose(drawn.get_xdata(), first["playing_minutes"])
    some = np.flatnonzero(first["spells"].map(len) == 0)[::10]
    line = fit.predict(20.0, first["playing_minutes"].to_numpy()[some], "double horn")["cents"]
    # An unrested reading at 20 °C lies off the line by what the fit left over of it. The line is
    # a mean over what is not known for sure, the expected drift its most likely value: 0.5 cents.
    left = drawn.get_ydata()[some] - line.to_numpy()
    assert_allclose(left, first["residual"].iloc[some], atol=0.5)


def test_residuals_are_those_of_the_fit(fit):
    for draw, column in (
        (charts.residuals_against_expected, "drift"),
        (charts.residuals_against_temperature, "celsius"),
    ):
        ax = draw(fit)
        drawn = np.concatenate([points(ax, m).get_xydata() for m in ("o", "s")])
        given = fit.rows[[column, "residual"]].to_numpy()
        assert_allclose(np.sort(drawn, axis=0), np.sort(given, axis=0))
        assert "(cents)" in ax.get_ylabel()
    ordered = points(charts.residuals_against_normal(fit), "o").get_ydata()
    assert_allclose(ordered, np.sort(fit.rows["residual"]))


@pytest.mark.parametrize("wild", [(80.0,), (80.0, -61.0)])
def test_an_outlier_is_marked_at_the_edge_and_leaves_the_axis_to_the_others(fit, wild):
    left = fit.rows["residual"].to_numpy(copy=True)
    left[: len(wild)] = wild
    figure = replace(fit, rows=fit.rows.assign(residual=left)).plot_residuals()
    usual = np.abs(left[len(wild) :]).max()
    for ax in figure.axes:
        low, high = ax.get_ylim()
        assert -1.5 * usual < low < -usual < usual < high < 1.5 * usual
        assert {text.get_text() for text in ax.texts} == {signed_text(cents) for cents in wild}
        marks = [line for line in ax.lines if line.get_marker() in ("^", "v")]
        edges = [float(y) for line in marks for y in line.get_ydata()]
        assert sorted(edges) == sorted(high if cents > 0 else low for cents in wild)
    (legend,) = figure.legends
    words = [text.get_text() for text in legend.get_texts()]
    told = "1 reading beyond the axis: +80 cents"
    if len(wild) == 2:
        told = "2 readings beyond the axis: \N{MINUS SIGN}61 and +80 cents"
    assert told in words


def test_residuals_that_are_wide_for_all_have_no_outlier():
    left = np.random.default_rng(3).normal(0.0, 30.0, 300)
    assert charts_residuals.beyond(left).sum() == 0
    assert charts_residuals.beyond(np.zeros(20)).sum() == 0


def test_a_normal_sample_follows_the_line_of_the_quantile_chart(fit):
    left = np.random.default_rng(7).normal(0.0, 3.0, 2000)
    rows = pd.DataFrame({"residual": left})
    ax = charts.residuals_against_normal(replace(fit, rows=rows))
    drawn = points(ax, "o").get_xydata()
    inner = drawn[np.abs(drawn[:, 0]) < 1.5]
    assert_allclose(inner[:, 1], 3.0 * inner[:, 0], atol=0.4)  # sampling error of 2000 readings


def test_nothing_left_over_is_not_blown_up(fit):
    rows = fit.rows.assign(residual=1e-15)
    for draw in (charts.residuals_against_temperature, charts.residuals_against_normal):
        low, high = draw(replace(fit, rows=rows)).get_ylim()
        assert high - low >= 4.0  # cents


def test_methods_are_compared_best_on_top():
    errors = pd.DataFrame(
        {
            "method": ["anchored", "anchored", "no drift", "no drift"],
            "rehearsal": ["a", "b", "a", "b"],
            "readings": [10, 30, 10, 30],
            "rms_cents": [3.0, 4.0, 9.0, 12.0],
        }
    )
    ax = Comparison(errors).plot()
    names = [label.get_text() for label in ax.get_yticklabels()]
    assert names == ["no drift", "anchored"]
    assert texts(ax) == ["11.3", "3.8"]  # sqrt((10*81 + 30*144)/40), sqrt((10*9 + 30*16)/40)
    assert "(cents)" in ax.get_xlabel()


@pytest.mark.parametrize(("offset", "struck_at"), [(0.0, False), (12.0, True)])
def test_the_zero_line_does_not_strike_the_word_rest(rows, events, offset, struck_at):
    ax = charts.drift_against_time(rows.assign(drift=rows["drift"] + offset), events=events)
    low, high = ax.get_ylim()
    zero = -low / (high - low)
    assert (-0.02 < zero < 0.12) == struck_at, "the second case has the line near the bottom"
    (word,) = (note for note in ax.texts if note.get_text() == "rest")
    ax.figure.canvas.draw()
    box = word.get_window_extent().transformed(ax.transAxes.inverted())
    assert not box.y0 <= zero <= box.y1


def test_rests_pair_up_and_an_unended_one_is_not_guessed():
    events = pd.DataFrame(
        {
            "time": at(0, 10, 12, 15, 40),
            "player": ["", "", "Rowan", "", ""],
            "event": ["play", "rest", "rest", "play", "rest"],
        }
    )
    spans = [((a - START).seconds / 60, (b - START).seconds / 60) for a, b in rests(events)]
    assert spans == [(10.0, 15.0)]


def test_a_move_is_a_change_and_carries_over_between_rehearsals():
    events = pd.DataFrame(
        {
            "time": at(0, 10, 2000, 2010),
            "rehearsal": ["a", "a", "b", "b"],
            "player": "Rowan",
            "instrument": "double horn",
            "event": "slide",
            "slide": "main",
            "position_mm": [12.0, 6.0, 6.0, 14.0],
        }
    )
    moves = slide_moves(events)
    assert moves[["rehearsal", "from_mm", "to_mm"]].values.tolist() == [
        ["a", 12.0, 6.0],
        ["b", 6.0, 14.0],
    ]
    assert slide_moves(events, ["Isolde"]).empty


@pytest.mark.slow
def test_drawings_are_the_same_bytes_every_time_and_in_every_process(rows, tmp_path):
    code = (
        "from drift import charts; import sys; ax = charts.new_axes(); ax.plot([1, 2], [3, 5]);"
        " ax.set_title('B♭'); sys.stdout.buffer.write(charts.svg(ax.figure, 'a').encode())"
    )
    runs = [
        subprocess.run([sys.executable, "-c", code], capture_output=True, check=True).stdout
        for _ in range(2)
    ]
    assert runs[0] == runs[1]
    assert b"<svg" in runs[0]
    first, second = (charts.svg(charts.drift_against_time(rows).figure) for _ in range(2))
    assert first == second
    assert "<dc:date>" not in first


def test_two_drawings_in_one_page_share_no_id(rows):
    drawings = [charts.inline_svg(charts.drift_against_time(rows).figure, p) for p in ("a", "b")]
    ids = [set(re.findall(r'\bid="([^"]+)"', text)) for text in drawings]
    assert ids[0]
    assert not ids[0] & ids[1]
    for text, own in zip(drawings, ids, strict=True):
        assert set(re.findall(r'href="#([^"]+)"|url\(#([^)]+)\)', text)) <= {
            pair for i in own for pair in ((i, ""), ("", i))
        }
        assert "<!--" not in text
        assert text.startswith("<svg")


def test_points_beyond_counting_are_kept_as_a_picture(rows):
    many = pd.concat([rows.assign(player="Rowan")] * 1500, ignore_index=True)
    assert len(charts.svg(charts.drift_against_time(many).figure)) < 1_000_000


def test_series_differ_without_colour():
    kinds = [look(place) for place in range(36)]
    assert len({kind.marker for kind in kinds[:6]}) == 6
    assert len({(kind.colour, kind.marker) for kind in kinds}) == 36


def test_a_whole_band_with_long_names_fits(rows):
    instruments = ["double horn", "Bb trumpet", "BBb tuba", "euphonium", "tenor trombone"]
    band = pd.concat(
        [
            rows.assign(player=f"{'a very long name ' * 9}{n}", instrument=instruments[n % 5])
            for n in range(40)
        ]
    )
    ax = charts.drift_against_time(band)
    assert [t.get_text() for t in ax.get_legend().get_texts()] == [
        "BB♭ tuba",
        "B♭ trumpet",
        "double horn",
        "euphonium",
        "tenor trombone",
    ]
    few = charts.drift_against_time(band[band["instrument"] == "double horn"].iloc[:12])
    assert len(few.get_legend().get_texts()) == 3
    for chart in (ax, few):
        charts.png(chart.figure)  # a warning of a collapsed layout is an error in these tests
        assert chart.get_position().height > 0.5


def test_settings_outside_are_left_alone(rows):
    before = dict(mpl.rcParams)
    charts.png(charts.drift_against_time(rows).figure)
    assert dict(mpl.rcParams) == before


@pytest.mark.slow
def test_pyplot_is_not_loaded():
    code = "import sys, drift.charts, drift.report; print('matplotlib.pyplot' in sys.modules)"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "False"


def test_an_axis_in_fahrenheit_has_round_numbers_of_it():
    now = pd.Timestamp("2026-10-03T18:00Z")
    times = [now - pd.Timedelta(minutes=m) for m in (50, 30, 10)]
    air = pd.DataFrame({"time": times, "celsius": [20.0, 21.0, 22.0], "source": "stage"})
    ax = charts.in_fahrenheit(charts.last_hour(air, now), "y")
    ax.figure.canvas.draw()
    low, high = ax.get_ylim()
    ticks = [tick for tick in ax.get_yticks() if low <= tick <= high]
    words = [ax.yaxis.get_major_formatter()(tick, None) for tick in ticks]
    assert ax.get_ylabel() == "air (°F)"
    assert len(words) >= 2
    assert all(
        float(word) == pytest.approx(tick * 1.8 + 32)
        for word, tick in zip(words, ticks, strict=True)
    )
    assert words == [f"{float(word):.0f}" for word in words]  # 68, 70, 72: no fractions


def test_players_drawn_from_priors_lie_where_the_priors_say(fit):
    """The lines of a narrow prior lie close together, and the readings are those of the fit."""
    name = "double horn"
    before = [drift.physics(priors=one) for one in (drift.Priors(), NARROW)]
    spread = []
    for one in before:
        ax = charts.expected_before_reading(one, name, read=fit)
        thin = np.array([line.get_ydata() for line in ax.lines if line.get_linewidth() < 1.0])
        assert len(thin) == 40
        spread.append(thin[:, 0].std())
    assert spread[1] < spread[0] / 3.0
    points = [line for line in ax.lines if line.get_label() == "read when warm"]
    read = observed(fit.rows[fit.rows["instrument"] == name])
    assert set(points[0].get_ydata()) <= set(read)


def test_what_is_expected_is_drawn_of_every_instrument_that_was_read(fit):
    figure = expected_figure(drift.physics(), fit)
    told = [ax.get_title("left").casefold() for ax in figure.axes]
    assert told == [f"{shown(name).casefold()}: expected before any reading" for name in fit.kinds]
    assert len(told) > 1


def test_axes_of_ones_own_have_room_for_title_words_and_legend(fit):
    figure = Figure(figsize=(6.4, 4.8))
    ax = fit.plot(figure.add_subplot())
    figure.draw_without_rendering()
    title = next(one for one in (ax.title, ax._left_title, ax._right_title) if one.get_text())
    for part in (title, ax.yaxis.label, ax.get_legend()):
        box = part.get_window_extent()
        assert box.x0 >= 0.0
        assert box.y0 >= 0.0
        assert box.y1 <= figure.bbox.height


@pytest.mark.parametrize("places", [(0, 1, 2), (0, 100, 200), (40, 41, 120)])
def test_labels_of_residuals_beyond_the_axis_do_not_lie_on_each_other(fit, places):
    left = np.random.default_rng(7).normal(0.0, 3.0, len(fit.rows))
    left[list(places)] = (5534.0, 3455.0, 2477.0)
    figure = replace(fit, rows=fit.rows.assign(residual=left)).plot_residuals()
    figure.draw_without_rendering()
    for ax in figure.axes:
        boxes = [text.get_window_extent() for text in ax.texts]
        assert len(boxes) == 3
        for one, other in itertools.combinations(boxes, 2):
            assert not one.overlaps(other)
