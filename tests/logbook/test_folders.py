"""Rehearsal folders: whatever is wrong is named by file, line and value."""

import shutil

import pytest

from drift.errors import DriftError, InputError
from drift.logbook.folders import read_folder
from drift.logbook.records import Temperature
from drift.logbook.rehearsals import load
from tests.folders import READINGS, TEMPERATURES, write

ROW = "2026-10-03T19:05:00+02:00,hall,Rowan,double horn,F,F4,4.0,,\n"
HEADER = READINGS.splitlines()[0] + "\n"


def test_a_valid_folder_is_read(tmp_path):
    folder = read_folder(write(tmp_path / "f"))
    assert [len(folder.of(t)) for t in ("readings", "temperatures", "events")] == [2, 3, 1]
    assert folder.of("readings")[0].a4_hz == 440.0


def test_a_row_in_which_nothing_was_read_may_go(tmp_path):
    folder = write(tmp_path / "f", readings=HEADER + ROW.replace("4.0", "") + "\n")
    with pytest.raises(InputError, match="cents is empty") as refusal:
        load(folder)
    assert refusal.value.remedy.endswith("or delete the row")


@pytest.mark.parametrize(
    ("wrong", "value"),
    [
        ("2026-10-03T19:05:00,hall,Rowan,double horn,F,F4,4.0,,\n", "2026-10-03T19:05:00"),
        ("yesterday,hall,Rowan,double horn,F,F4,4.0,,\n", "yesterday"),
        (ROW.replace("4.0", "900"), "900"),
        (ROW.replace("4.0", "nan"), "nan"),
        (ROW.replace("4.0", "sharp"), "sharp"),
        (ROW.replace("4.0", "1_0"), "1_0"),
        (ROW.replace("4.0", ""), "cents is empty"),
        (ROW.replace("F4", "H4"), "H4"),
        (ROW.replace("Rowan", ""), "player is empty"),
        (ROW.replace("double horn", "double hron"), "double hron"),
        (ROW.replace(",F,", ",Eb,"), "Eb"),
        (ROW.replace("4.0,,", "4.0,4400,"), "4400"),
        (ROW.replace(",F4,", ",F4,4.0,"), "10 fields where the header has 9"),
        ("2026-10-03T19:05:00+02:00,hall\n", "2 fields"),
        (ROW.replace(",,\n", ',,"two\nlines"\n'), "U+000A"),
    ],
)
def test_a_wrong_row_is_named_by_file_line_and_value(tmp_path, wrong, value):
    folder = write(tmp_path / "f", readings=HEADER + ROW + "\n" + wrong)
    with pytest.raises(InputError, match=r"readings\.csv line [45]: ") as refusal:
        load(folder)
    assert value in refusal.value.problem
    assert "\n" not in refusal.value.problem
    assert refusal.value.remedy


@pytest.mark.parametrize(
    ("tables", "words"),
    [
        ({"readings": HEADER.replace("cents", "centz") + ROW}, "unknown column 'centz'"),
        ({"readings": HEADER.replace(",cents", "") + ROW}, "no column 'cents'"),
        ({"readings": HEADER.replace("remark", "cents") + ROW}, "'cents' is there twice"),
        ({"readings": ""}, "the table is empty"),
        ({"temperatures": TEMPERATURES.replace("19.6", "99")}, "99 °C is outside"),
        (
            {"temperatures": TEMPERATURES.replace("celsius", "celsius,fahrenheit")},
            "celsius and fahrenheit are both there",
        ),
        (
            {"events": "time,rehearsal,player,event,slide,position_mm,remark\n"
                       "2026-10-03T19:00:00Z,hall,Rowan,dance,,,\n"},
            "'dance'",
        ),
        (
            {"events": "time,rehearsal,player,event,slide,position_mm,remark\n"
                       "2026-10-03T19:00:00Z,hall,Rowan,slide,main,,\n"},
            "slide and position_mm",
        ),
    ],
)  # fmt: skip
def test_a_wrong_table_is_named(tmp_path, tables, words):
    with pytest.raises(InputError, match="csv") as refusal:
        load(write(tmp_path / "f", **tables))
    assert words in refusal.value.problem


def test_times_out_of_order_are_named(tmp_path):
    rows = READINGS.splitlines(keepends=True)
    with pytest.raises(InputError, match=r"line 3: time 2026-10-03T17:05:00Z is before"):
        load(write(tmp_path / "f", readings=rows[0] + rows[2] + rows[1]))


def test_two_rehearsals_interleaved_are_named(tmp_path):
    mixed = HEADER + "".join(
        f"2026-10-03T19:0{minute}:00Z,{name},Rowan,double horn,F,F4,1,,\n"
        for minute, name in enumerate(["a", "b", "a"])
    )
    with pytest.raises(InputError, match="line 4: rehearsal 'a' goes on after rows of 'b'"):
        load(write(tmp_path / "f", readings=mixed))


def test_a_player_in_two_rehearsals_at_once_is_named(tmp_path):
    mixed = HEADER + "".join(
        f"2026-10-03T19:{minute}:00Z,{name},Rowan,double horn,F,F4,1,,\n"
        for name, minute in [("a", "00"), ("a", "30"), ("b", "20"), ("b", "40")]
    )
    with pytest.raises(InputError, match="player 'Rowan' in 'a' and 'b' overlap"):
        load(write(tmp_path / "f", readings=mixed))


def test_a_folder_that_is_not_there_or_lacks_a_table(tmp_path):
    with pytest.raises(DriftError, match="there is no folder"):
        load(tmp_path / "nowhere")
    with pytest.raises(InputError, match=r"has no readings\.csv"):
        load(tmp_path)
    (tmp_path / "notes.txt").write_text("words")
    with pytest.raises(InputError, match="neither a rehearsal folder nor a logbook"):
        load(tmp_path / "notes.txt")


def test_bytes_that_are_not_utf_8_are_named(tmp_path):
    folder = write(tmp_path / "f")
    (folder / "readings.csv").write_bytes(READINGS.replace("Rowan", "Zoë").encode("latin-1"))
    with pytest.raises(InputError, match="not UTF-8: byte 0xeb"):
        load(folder)


def test_a_byte_order_mark_and_windows_line_ends_are_taken(tmp_path):
    folder = write(tmp_path / "f", readings="\ufeff" + READINGS.replace("\n", "\r\n"))
    assert len(load(folder).readings) == 2


def test_fahrenheit_stands_in_for_celsius(tmp_path):
    table = "time,rehearsal,fahrenheit,source\n2026-10-03T19:00:00Z,hall,68,stage\n"
    folder = read_folder(write(tmp_path / "f", temperatures=table))
    (temperature,) = folder.of("temperatures")
    assert isinstance(temperature, Temperature)
    assert temperature.celsius == pytest.approx(20.0, abs=1e-12)  # (68 - 32) / 1.8


def test_the_events_may_be_missing(tmp_path):
    folder = write(tmp_path / "f")
    (folder / "events.csv").unlink()
    assert len(load(folder).events) == 0


def test_flats_are_accepted_and_kept_in_ascii(tmp_path):
    text = READINGS.replace("double horn,F,F4", "B♭ trumpet,,B♭4")
    (first, _) = load(write(tmp_path / "f", readings=text)).readings.itertuples(index=False)
    assert (first.instrument, first.note) == ("Bb trumpet", "Bb4")


def test_nothing_is_written_by_reading(tmp_path):
    folder = write(tmp_path / "f")
    before = sorted(p.name for p in folder.iterdir())
    copy = shutil.copytree(folder, tmp_path / "copy")
    load(folder)
    assert sorted(p.name for p in folder.iterdir()) == before
    assert all((copy / n).read_bytes() == (folder / n).read_bytes() for n in before)


def test_a_folder_of_the_first_version_is_read(tmp_path):
    """The names and the remarks of version 0.1."""
    tables = {
        "readings": HEADER + "2026-10-03T19:00:00Z,hall,Rowan,double horn,F,F4,4,440,! mute in\n",
        "events": "time,rehearsal,player,event,slide,millimetres,remark\n"
        "2026-10-03T19:00:00Z,hall,Rowan,slide,main,14,\n"
        "2026-10-03T19:00:01Z,hall,,play,,,already warm\n",
    }
    found = load(write(tmp_path / "f", **tables))
    assert found.readings[["flagged", "remark"]].values.tolist() == [[True, "mute in"]]
    assert found.events["position_mm"].tolist()[0] == 14.0
    assert found.events[["already_warm", "remark"]].values.tolist() == [[False, ""], [True, ""]]


def test_a_column_that_is_neither_true_nor_false_is_named(tmp_path):
    text = HEADER.replace("remark", "flagged")
    text += "2026-10-03T19:00:00Z,hall,Rowan,double horn,F,F4,4,440,perhaps\n"
    with pytest.raises(InputError, match="flagged 'perhaps' is not true or false"):
        load(write(tmp_path / "f", readings=text))


def test_what_is_no_source_is_refused():
    from drift.logbook.rehearsals import load

    with pytest.raises(InputError, match="load needs a folder, a logbook or tables, not int"):
        load(3)
