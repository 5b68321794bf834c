"""Pairing: the temperature at a reading, the playing before it, its slides undone."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from drift import shipped
from drift.errors import InputError
from drift.instruments import find
from drift.instruments.slopes import expected_slopes
from drift.logbook.rehearsals import load
from drift.pairing import LeftOut, Reason, pair
from drift.pairing.slide_log import logged_there
from tests.folders import write

READINGS = "time,rehearsal,player,instrument,side,note,cents,a4_hz,remark\n"
TEMPERATURES = "time,rehearsal,celsius,humidity_percent,pressure_hpa,source\n"
EVENTS = "time,rehearsal,player,event,slide,position_mm,remark\n"
PLAY = EVENTS + "2026-10-03T18:00:00Z,hall,,play,,,\n"


def reading(minute, cents=5.0, *, player="Rowan", side="F", note="F4", a4="", remark=""):
    return (
        f"2026-10-03T{18 + minute // 60}:{minute % 60:02}:00Z,hall,{player},double horn,{side},"
        f"{note},{cents},{a4},{remark}\n"
    )


def sample(minute, celsius, source="stage"):
    return f"2026-10-03T{18 + minute // 60}:{minute % 60:02}:00Z,hall,{celsius},,,{source}\n"


def notice(minute, kind):
    return f"2026-10-03T18:{minute:02}:00Z,hall,stage,{kind},\n"


def slide(minute, name, millimetres, player="Rowan"):
    return f"2026-10-03T18:{minute:02}:00Z,hall,{player},slide,{name},{millimetres},\n"


def paired(tmp_path, readings, temperatures, events="", notices="", **options):
    tables = {"readings": READINGS + "".join(readings)}
    tables["temperatures"] = TEMPERATURES + "".join(temperatures)
    tables["events"] = PLAY + "".join(events)
    if notices:
        tables["notices"] = "time,rehearsal,source,kind,text\n" + "".join(notices)
    return pair(load(write(tmp_path / "f", **tables)), **options)


def test_the_temperature_is_interpolated_between_near_samples(tmp_path):
    table = paired(tmp_path, [reading(13)], [sample(10, 20), sample(20, 25)])
    assert table.frame["celsius"].tolist() == [pytest.approx(21.5)]
    assert table.frame["playing_minutes"].tolist() == [13.0]


def test_across_a_gap_the_nearest_sample_within_ten_minutes_is_taken(tmp_path):
    table = paired(
        tmp_path, [reading(15), reading(25), reading(38)], [sample(10, 20), sample(40, 26)]
    )
    assert table.frame["celsius"].tolist() == [20.0, 26.0]
    assert table.left_out == (LeftOut(Reason.NO_TEMPERATURE, 1),)


def test_an_absent_thermometer_is_not_bridged(tmp_path):
    away = [notice(12, "away"), notice(18, "back")]
    table = paired(tmp_path, [reading(16)], [sample(10, 20), sample(19, 29)], notices=away)
    assert table.frame["celsius"].tolist() == [29.0]  # the nearer one, not 26 between them


def test_a_typed_temperature_fills_in_and_holds_half_an_hour(tmp_path):
    temperatures = [sample(2, 18.0), sample(20, 22.0, "typed")]
    table = paired(tmp_path, [reading(4), reading(49), reading(51)], temperatures)
    assert table.frame["celsius"].tolist() == [18.0, 22.0]
    assert table.left_out[0].count == 1
    early = paired(tmp_path, [reading(9)], [sample(20, 22.0, "typed")])
    assert early.left_out[0].count == 1  # a typed value does not hold backwards


def test_between_two_typed_temperatures_the_air_went_evenly_unless_it_stepped(tmp_path):
    """A value that holds until the next lies below the air of a room that warms."""
    typed = [sample(0, 20.0, "typed"), sample(20, 22.0, "typed"), sample(40, 8.0, "typed")]
    table = paired(tmp_path, [reading(5), reading(15), reading(30), reading(50)], typed)
    assert table.frame["celsius"].tolist() == [20.5, 21.5, 22.0, 8.0]
    apart = [sample(0, 20.0, "typed"), sample(31, 22.0, "typed")]
    assert paired(tmp_path, [reading(15)], apart).frame["celsius"].tolist() == [20.0]


def test_a_thermometer_that_came_back_under_another_name_serves_from_there_on(tmp_path):
    """A plug that is pulled and put back in may have another name."""
    before = [sample(m, 20.0, "/dev/ttyUSB0") for m in range(0, 30, 2)]
    after = [sample(m, 22.0, "/dev/ttyUSB1") for m in range(30, 90, 2)]
    table = paired(tmp_path, [reading(5), reading(15), reading(60)], [*before, *after])
    assert table.frame["celsius"].tolist() == [20.0, 20.0, 22.0]
    assert table.left_out == ()
    assert set(table.thermometers) == {"/dev/ttyUSB0", "/dev/ttyUSB1"}
    one = paired(tmp_path, [reading(5), reading(60)], [*before, *after], thermometer="/dev/ttyUSB1")
    assert one.frame["celsius"].tolist() == [22.0]


def test_the_thermometer_with_most_samples_is_used_unless_one_is_chosen(tmp_path):
    stage = [sample(m, 20) for m in (1, 5, 9)]
    outdoors = [sample(m, 5, "outdoors") for m in (5, 8)]
    temperatures = sorted(stage + outdoors)
    assert paired(tmp_path, [reading(6)], temperatures).frame["celsius"].tolist() == [20.0]
    chosen = paired(tmp_path, [reading(6)], temperatures, thermometer="outdoors")
    assert chosen.frame["celsius"].tolist() == [5.0]
    with pytest.raises(InputError, match="no temperature comes from 'case'"):
        paired(tmp_path, [reading(6)], temperatures, thermometer="case")


def test_the_first_half_minute_is_set_aside_and_counted(tmp_path):
    rows = [READINGS + reading(0).replace("18:00:00", "18:00:20"), reading(0).replace("18:00:00",
            "18:00:40")]  # fmt: skip
    temperatures = [sample(0, 20), sample(2, 20)]
    table = paired(tmp_path, [rows[0].removeprefix(READINGS), rows[1]], temperatures)
    assert len(table) == 1
    assert table.left_out == (LeftOut(Reason.SETTLING, 1),)
    every = paired(
        tmp_path, [rows[0].removeprefix(READINGS), rows[1]], temperatures, settle_seconds=0.0
    )
    assert len(every) == 2


@pytest.mark.parametrize(
    ("second", "out"),
    [
        ("00", (LeftOut(Reason.BEFORE_PLAYING, 1),)),
        ("29.6", (LeftOut(Reason.SETTLING, 1),)),
        ("30", ()),
    ],
)
def test_half_a_minute_begins_after_the_first_instant_and_ends_before_the_last(
    tmp_path, second, out
):
    row = reading(0).replace("18:00:00", f"18:00:{second}")
    table = paired(tmp_path, [row, reading(1)], [sample(0, 20), sample(2, 20)])
    assert table.left_out == out
    assert len(table) == 2 - len(out)
    assert "index" not in table.frame


def test_an_instrument_that_is_warm_already_is_read_from_its_first_instant(tmp_path):
    """Its breath is in it: no first half minute is set aside."""
    header = EVENTS.rstrip("\n") + ",already_warm\n"
    tables = {
        "readings": READINGS + reading(0).replace("18:00:00", "18:00:04") + reading(1),
        "temperatures": TEMPERATURES + sample(0, 20) + sample(2, 20),
    }
    for word, out in (("yes", ()), ("no", (LeftOut(Reason.SETTLING, 1),))):
        events = header + PLAY.removeprefix(EVENTS).rstrip("\n") + f",{word}\n"
        table = pair(load(write(tmp_path / word, events=events, **tables)))
        assert table.left_out == out
        assert len(table) == 2 - len(out)


def test_flagged_readings_stay_unless_they_are_left_out(tmp_path):
    rows = [reading(5), reading(6, remark="! mute in")]
    temperatures = [sample(5, 20), sample(7, 20)]
    assert paired(tmp_path, rows, temperatures).frame["flagged"].tolist() == [False, True]
    without = paired(tmp_path, rows, temperatures, flagged=False)
    assert without.left_out == (LeftOut(Reason.FLAGGED, 1),)


def test_cents_are_brought_to_440(tmp_path):
    table = paired(tmp_path, [reading(5, 0.0, a4="442")], [sample(5, 20)])
    # 1200 log2(442/440) = 7.851 cents
    assert table.frame["reference_cents"].tolist() == [pytest.approx(7.851, abs=1e-3)]


def test_a_slide_moved_in_the_middle_is_undone_on_the_sides_it_reaches(tmp_path):
    rows = [reading(5, 0.0), reading(30, 0.0), reading(31, 0.0, side="Bb", note="Bb3")]
    events = [slide(1, "main", 10), slide(1, "F", 5), slide(20, "main", 20), slide(20, "F", 9)]
    table = paired(tmp_path, rows, [sample(m, 20) for m in (0, 9, 18, 27, 36)], events)
    horn = find("double horn")
    slopes = expected_slopes(horn)  # of real bores, 1.10 times what the length says
    assert table.frame["reference_cents"].tolist() == [
        0.0,
        pytest.approx(-horn.cents_of_moves("F", {"main": 10.0, "F": 4.0}, slopes)),
        pytest.approx(-horn.cents_of_moves("Bb", {"main": 10.0}, slopes)),
    ]
    assert (table.frame["reference_cents"].iloc[1:] > 0).all()  # the slide was out: it sounded flat


def test_without_a_side_a_moved_slide_cannot_be_undone(tmp_path):
    events = [slide(1, "main", 10), slide(20, "main", 20)]
    temperatures = [sample(m, 20) for m in (0, 9, 18, 27, 36)]
    table = paired(tmp_path, [reading(5, side=""), reading(30, side="")], temperatures, events)
    assert len(table) == 1
    assert table.left_out[0].reason is Reason.UNKNOWN_SIDE


def test_a_measured_slide_is_undone_by_what_it_was_measured_to_do(tmp_path):
    rows = [reading(5, 0.0), reading(30, 0.0)]
    events = [slide(1, "F", 5), slide(20, "F", 15)]
    temperatures = [sample(m, 20) for m in (0, 9, 18, 27, 36)]
    plain = paired(tmp_path, rows, temperatures, events)
    (tmp_path / "f" / "calibrations.csv").write_text(
        "time,player,instrument,slide,side,cents_per_mm,low,high,readings,remark\n"
        "2026-10-01T18:00:00Z,Rowan,double horn,F,F,-0.44,-0.5,-0.4,6,\n"
    )
    measured = paired(tmp_path, rows, temperatures, events)
    ratio = measured.frame["reference_cents"].iloc[1] / plain.frame["reference_cents"].iloc[1]
    assert ratio == pytest.approx(0.44 / (1.10 * 0.879), abs=0.01)


def test_one_key_has_one_name(tmp_path):
    rows = [reading(5, note="A#3"), reading(6, note="Bb3")]
    assert paired(tmp_path, rows, [sample(5, 20), sample(7, 20)]).frame["note"].nunique() == 1


def test_nothing_of_the_input_is_changed(tmp_path):
    season = load(write(tmp_path / "f"))
    before = season.readings.copy()
    pair(season)
    pd.testing.assert_frame_equal(season.readings, before)
    assert np.isfinite(pair(season).frame["reference_cents"]).all()


def test_what_is_no_rehearsals_is_refused():
    with pytest.raises(InputError, match="pair needs rehearsals, not str\nload them"):
        pair("a-folder")


@pytest.mark.parametrize("seconds", ["x", -5.0, float("nan"), None])
def test_a_time_to_settle_is_a_number_of_seconds(seconds):
    with pytest.raises(InputError, match=f"settle_seconds {seconds!r} is not a time"):
        pair(load(shipped.folder("datasets/cold-hall-season")), settle_seconds=seconds)


def test_whether_a_slide_was_logged_in_the_rehearsal_of_a_reading():
    readings = pd.DataFrame({
        "rehearsal": ["1", "1", "2", "2", "3"],
        "player": ["Ann", "Ben", "Ann", "Ben", "Ann"],
    })  # fmt: skip
    events = pd.DataFrame({
        "rehearsal": ["1", "2", "3"], "player": ["Ann", "", "Ann"], "slide": ["main", "main", ""],
    })  # fmt: skip
    found = logged_there(SimpleNamespace(events=events), readings)
    assert found.tolist() == [True, False, True, True, False]
    assert not logged_there(SimpleNamespace(events=events.tail(1)), readings).any()
