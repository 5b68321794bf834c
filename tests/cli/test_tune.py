"""drift tune: a dialogue that ends with marks, and everything it was told in the logbook."""

import io
import re
import sys
from datetime import UTC, datetime, timedelta

import pytest

from drift.instruments import find
from drift.logbook.book import Logbook
from drift.logbook.records import Event, Temperature
from drift.study import Study
from drift.tonight.evening import usable
from drift.tonight.logged import evening_of


@pytest.fixture
def tune(drift, tmp_path, monkeypatch):
    def answered(*lines, instrument="Bb trumpet", options=()):
        monkeypatch.setattr(sys, "stdin", io.StringIO("".join(f"{line}\n" for line in lines)))
        return drift(
            "tune", str(tmp_path / "band.logbook"), "--rehearsal", "tonight", "--player", "Rowan",
            "--instrument", instrument, *options,
        )  # fmt: skip

    return answered


def saved(tmp_path, table):
    with Logbook(tmp_path / "band.logbook") as book:
        return list(book.rows(table, rehearsal="tonight"))


WARM = ("--at", "main=10", "--played", "30")


def test_in_tune_at_once_ends_with_the_mark_and_saves_what_was_read(tune, tmp_path):
    status, out, err = tune(*["0"] * 6, options=[*WARM, "--no-valves"])
    assert (status, err) == (0, "")
    first, *_, last = out.splitlines()
    assert first == "No valves. Long B♭4, eyes off the tuner."
    assert last == "Mark main at 10."
    readings = saved(tmp_path, "readings")
    assert {row["note"] for row in readings} >= {"Bb4", "F4"}
    assert {(row["player"], row["cents"]) for row in readings} == {("Rowan", 0.0)}
    (tuned,) = [row for row in saved(tmp_path, "events") if row["event"] == "tuned"]
    assert (tuned["slide"], tuned["position_mm"], tuned["state"]) == ("main", 10.0, "warm")


def test_a_move_is_saved_where_it_was_made(tune, tmp_path):
    status, out, _ = tune("18 sharp", "15.5", *["0"] * 8, options=[*WARM, "--no-valves"])
    assert status == 0
    assert "Pull the main slide out " in out.splitlines()[1]
    moved = [row for row in saved(tmp_path, "events") if row["event"] == "slide"]
    assert [row["position_mm"] for row in moved][:2] == [10.0, 15.5]


def test_enter_sets_the_slide_where_it_was_asked(tune, tmp_path):
    _, out, _ = tune("18", "", *["0"] * 8, options=[*WARM, "--no-valves"])
    asked = float(out.splitlines()[1].rstrip(".").rpartition("to ")[2])
    moved = [row for row in saved(tmp_path, "events") if row["event"] == "slide"]
    assert moved[1]["position_mm"] == asked


def test_positions_given_at_the_start_are_saved_though_nothing_moves(tune, tmp_path):
    given = ("--at", "main=12,F=15,Bb=14", "--played", "30")
    tune("end", instrument="double horn", options=given)
    known = {row["slide"]: row["position_mm"] for row in saved(tmp_path, "events") if row["slide"]}
    assert known == {"main": 12.0, "F": 15.0, "Bb": 14.0}


def test_what_a_tuner_shows_is_not_taken_for_a_position(tune, tmp_path):
    _, out, _ = tune("18 sharp", "+6", "-6", "16", "end", options=[*WARM, "--no-valves"])
    refused = [line for line in out.splitlines() if line.startswith("not saved: ")]
    assert ["has a sign, as what a tuner shows has" in line for line in refused] == [True, True]
    moved = [row["position_mm"] for row in saved(tmp_path, "events") if row["event"] == "slide"]
    assert moved == [10.0, 16.0]


def test_who_reads_a_note_plays_for_as_long_as_was_said(tune, tmp_path):
    tune("1", "2", "end", options=["--at", "main=10", "--played", "30"])
    (play,) = [row for row in saved(tmp_path, "events") if row["event"] == "play"]
    first, *_ = saved(tmp_path, "readings")
    assert play["player"] == "Rowan"
    assert (first["time"] - play["time"]).total_seconds() / 60 == pytest.approx(30.0, abs=0.5)


def test_who_tunes_while_the_band_rests_plays_from_then_on(tune, tmp_path):
    with Logbook(tmp_path / "band.logbook", writer="the test") as book:
        now = datetime.now(UTC)
        for minutes, event in ((60, "start"), (50, "play"), (5, "rest")):
            book.keep(Event(now - timedelta(minutes=minutes), "tonight", "", event))
    tune("1", "end", options=["--at", "main=10", "--played", "30"])
    *_, play = [row for row in saved(tmp_path, "events") if row["event"] == "play"]
    (read,) = saved(tmp_path, "readings")
    assert play["player"] == "Rowan"
    assert (read["time"] - play["time"]).total_seconds() == pytest.approx(60.0)


@pytest.mark.parametrize("stop", ["end", "rest"])
def test_readings_of_a_tuning_are_used_where_only_a_stop_was_logged(tune, tmp_path, stop):
    with Logbook(tmp_path / "band.logbook", writer="the test") as book:
        now = datetime.now(UTC)
        book.start("tonight", now - timedelta(minutes=2))
        book.keep(Temperature(now, "tonight", 21.0, source="typed"))
        book.keep(Event(now, "tonight", "", stop))
    tune("1", "2", "1", "end", options=["--at", "main=10", "--played", "30"])
    (read, *_) = saved(tmp_path, "readings")
    instrument = find(read["instrument"])
    study = Study.open(tmp_path / "band.logbook")
    at = datetime.now(UTC)
    logged = evening_of(study.rehearsals, "tonight", "Rowan", instrument, at)
    assert logged.conditions.playing_minutes == pytest.approx(30.0, abs=0.5)
    taken, not_used = usable(instrument, logged.evening, logged.now_minutes)
    assert (len(taken), not_used) == (3, {})


def test_help_is_answered_at_any_step(tune):
    _, out, _ = tune("help", "played 20", "help", "end", options=["--at", "main=10"])
    assert out.count("stuck       this slide does not move") == 2
    assert "not saved" not in out


def test_a_cold_instrument_is_sent_to_warm_up_and_an_unknown_position_asked(tune):
    _, out, _ = tune("12", "played 20", "end")
    lines = out.splitlines()
    assert lines[0] == "Where is the main slide? Millimetres from fully in."
    assert lines[1].startswith("Warm enough? Play 14 more minutes first; ")
    assert lines[2].startswith("Then press Enter; or type how long you have played")
    assert lines[3] == "No valves. Long B♭4, eyes off the tuner."
    assert lines[4] == "Stopped: what was read and set so far is saved."


def test_what_is_not_an_answer_is_asked_again_and_nothing_saved(tune, tmp_path):
    _, out, _ = tune("lots", "", "999", "end", options=WARM)
    refused = [line for line in out.splitlines() if line.startswith("not saved: ")]
    assert len(refused) == 3
    assert "999 cents is not a reading of Bb4" in refused[2]
    assert saved(tmp_path, "readings") == []


def test_a_stuck_slide_of_a_double_horn_and_the_end_of_the_input(tune):
    _, out, _ = tune(
        "20", "stuck", "end", instrument="double horn",
        options=["--at", "main=0,F=0,Bb=0", "--played", "30"],
    )  # fmt: skip
    lines = out.splitlines()
    assert "Pull the main slide out" in lines[1]
    assert "main slide" not in lines[2]


def test_valves_are_asked_for_alone_and_kept_out_of_the_readings(tune, tmp_path):
    _, out, _ = tune(*["0"] * 4, *["0"] * 6, options=WARM)
    assert "Valve 2 alone: A4, long." in out
    assert re.search(r"Together, 1 and 2 stay about 1[01] sharp: lip them down\.", out)
    assert {row["note"] for row in saved(tmp_path, "readings")} <= {"Bb4", "F4", "Bb3"}


def test_the_same_player_goes_on_from_where_the_slides_were_left(tune):
    tune(*["0"] * 6, options=[*WARM, "--no-valves"])
    _, out, _ = tune("end", options=["--played", "30"])
    assert "Where is the main slide?" not in out


def test_an_unknown_instrument_is_refused_before_anything_is_made(tune, tmp_path):
    status, _, err = tune(instrument="kazoo")
    assert status == 1
    assert "kazoo" in err
    assert not (tmp_path / "band.logbook").exists()


def test_written_notes_are_asked_for_and_sounding_ones_saved(tune, tmp_path):
    options = [*WARM, "--no-valves", "--written"]
    _, out, _ = tune(*["0"] * 6, options=options)
    assert out.splitlines()[0] == "No valves. Long C5, sounding B♭4, eyes off the tuner."
    assert {row["note"] for row in saved(tmp_path, "readings")} >= {"Bb4"}
    _, out, _ = tune("0", options=[*WARM, "--no-valves"])  # as chosen in this rehearsal
    assert "C5, sounding B♭4" in out
