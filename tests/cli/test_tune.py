"""drift tune: a dialogue that ends with marks, and everything it was told in the logbook."""

import io
import math
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
from drift.words.tuning_taken import AIR, STOPPED


@pytest.fixture
def tune(drift, tmp_path, monkeypatch):
    def answered(*lines, instrument="Bb trumpet", options=(), air=("",)):
        """Answer the steps, after what is typed for the temperature; return what they showed."""
        typed = "".join(f"{line}\n" for line in (*air, *lines))
        monkeypatch.setattr(sys, "stdin", io.StringIO(typed))
        status, out, err = drift(
            "tune", str(tmp_path / "band.logbook"), "--rehearsal", "tonight", "--player", "Rowan",
            "--instrument", instrument, *options,
        )  # fmt: skip
        return status, out.partition(f"{AIR}\n")[2] if air == ("",) else out, err

    return answered


def saved(tmp_path, table):
    with Logbook(tmp_path / "band.logbook") as book:
        return list(book.rows(table, rehearsal="tonight"))


WARM = ("--at", "main=10", "--played", "30")


def test_in_tune_at_once_ends_with_the_mark_and_saves_what_was_read(tune, tmp_path):
    status, out, err = tune(*["0"] * 6, options=[*WARM, "--no-valves"])
    assert (status, err) == (0, "")
    first, *_, last = out.splitlines()
    assert first == "No valves. Long B♭4 (sounding), eyes off the tuner."
    assert last == "Mark main at 10."
    readings = saved(tmp_path, "readings")
    assert {row["note"] for row in readings} >= {"Bb4", "F4"}
    assert {(row["player"], row["cents"]) for row in readings} == {("Rowan", 0.0)}
    (tuned,) = [row for row in saved(tmp_path, "events") if row["event"] == "tuned"]
    assert (tuned["slide"], tuned["position_mm"], tuned["state"]) == ("main", 10.0, "warm")


def test_a_rehearsal_of_another_day_is_not_gone_on_with(tune, tmp_path):
    with Logbook(tmp_path / "band.logbook", writer="the test") as book:
        book.keep(Event(datetime(2026, 10, 3, 17, tzinfo=UTC), "tonight", "", "play"))
    status, out, err = tune("0", options=WARM)
    assert (status, out) == (1, "")
    assert err.startswith("drift tune: tonight is a rehearsal of 2026-10-0")
    assert [row["event"] for row in saved(tmp_path, "events")] == ["play"]


def test_who_tuned_goes_on_in_the_log(tune, drift, tmp_path, monkeypatch):
    tune("18", "", "-2", "1", *["0"] * 4, options=[*WARM, "--no-valves"])
    monkeypatch.setattr(sys, "stdin", io.StringIO("Bb4 +1\nend\n"))
    log = ("log", str(tmp_path / "band.logbook"), "--rehearsal", "tonight")
    status, out, err = drift(*log)
    assert err.startswith("tonight resumed: Rowan on Bb trumpet; A4 = 440 Hz")
    assert (status, out.splitlines()[0][:11]) == (0, "saved B♭4 +")
    *_, last = saved(tmp_path, "readings")
    assert (last["player"], last["instrument"], last["cents"]) == ("Rowan", "Bb trumpet", 1.0)


def test_a_move_is_saved_where_it_was_made(tune, tmp_path):
    status, out, _ = tune("18 sharp", "15.5", *["0"] * 8, options=[*WARM, "--no-valves"])
    assert status == 0
    assert "Pull the main slide out " in out.splitlines()[1]
    moved = [row for row in saved(tmp_path, "events") if row["event"] == "slide"]
    assert [row["position_mm"] for row in moved][:2] == [10.0, 15.5]


def test_enter_sets_the_slide_where_it_was_asked(tune, tmp_path):
    _, out, _ = tune("18", "", *["0"] * 8, options=[*WARM, "--no-valves"])
    asked = float(out.splitlines()[1].rstrip(".").rpartition("to ")[2])
    assert f"main at {asked:g}" in out.splitlines()
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
    assert ["reads as what a tuner shows" in line for line in refused] == [True, True]
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


def test_who_came_already_warm_is_not_sent_to_warm_up(tune, tmp_path):
    with Logbook(tmp_path / "band.logbook", writer="the test") as book:
        now = datetime.now(UTC)
        book.start("tonight", now - timedelta(minutes=1))
        book.keep(Event(now - timedelta(minutes=1), "tonight", "", "play", already_warm=True))
    _, out, _ = tune("-6", "end", options=["--at", "main=10"])
    assert "Warm enough?" not in out
    assert [row["cents"] for row in saved(tmp_path, "readings")] == [-6.0]


@pytest.mark.parametrize("minutes", [15, 60])
def test_an_instrument_that_cooled_in_a_rest_is_warmed_up_again(tune, tmp_path, minutes):
    with Logbook(tmp_path / "band.logbook", writer="the test") as book:
        now = datetime.now(UTC)
        book.start("tonight", now - timedelta(minutes=minutes + 42))
        for ago, event in ((minutes + 41, "play"), (minutes + 1, "rest"), (1, "play")):
            book.keep(Event(now - timedelta(minutes=ago), "tonight", "", event))
    _, out, _ = tune("end", options=["--at", "main=10"])
    asked = re.search(r"Warm enough\? Play (\d+) more minutes first", out)
    assert asked
    left = 1.0 - math.exp(-minutes / 9.0) * (1.0 - math.exp(-40.0 / 4.5))  # time constants
    expected = 3.0 * 4.5 + 4.5 * math.log(left) - 1.0  # of warming and cooling, 4.5 and 9 min
    assert int(asked[1]) == pytest.approx(expected, abs=1.0)


@pytest.mark.parametrize("stop", ["end", "rest"])
def test_readings_of_a_tuning_are_used_where_only_a_stop_was_logged(tune, tmp_path, stop):
    with Logbook(tmp_path / "band.logbook", writer="the test") as book:
        now = datetime.now(UTC)
        book.start("tonight", now - timedelta(minutes=2))
        book.keep(Temperature(now, "tonight", 21.0, source="typed"))
        book.keep(Event(now, "tonight", "", stop))
    tune("1", "2", "1", "end", options=["--at", "main=10", "--played", "30"], air=())
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
    assert lines[1] == "main at 12"
    assert lines[2].startswith("Warm enough? Play 14 more minutes first; ")
    assert lines[3].startswith("Then press Enter. Or type how many minutes more")
    assert lines[4] == "20 minutes played in all"
    assert lines[5] == "No valves. Long B♭4 (sounding), eyes off the tuner."
    assert lines[6] == STOPPED


def test_on_another_evening_the_last_position_is_proposed(tune, tmp_path):
    with Logbook(tmp_path / "band.logbook", writer="the test") as book:
        time = datetime(2026, 10, 3, 19, 0, tzinfo=UTC)
        last = Event(time, "last week", "Rowan", "slide", "main", 29.0, instrument="Bb trumpet")
        book.keep_all([last])
    _, out, _ = tune("", "end")
    assert out.splitlines()[:2] == [
        "Where is the main slide? Millimetres from fully in. Enter: 29, as last time.",
        "main at 29",
    ]
    assert [row["position_mm"] for row in saved(tmp_path, "events") if row["slide"]] == [29.0]
    _, out, _ = tune("end")
    assert "Where is the main slide?" not in out  # it is known for this evening


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
    assert "Valve 2 alone: A4 (sounding), long." in out
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


DOUBLE = {"instrument": "double horn", "options": ["--no-valves"]}


def test_it_begins_with_what_will_happen_and_asks_how_warm_the_room_is(tune, tmp_path):
    _, out, _ = tune("end", **DOUBLE, air=("70F",))
    assert out.splitlines()[:3] == [
        "B♭ side, F side: one long note or one move at a time, about 5 minutes. A4 = 440 Hz. "
        "Keep the right hand in the bell as usual.",
        "How warm is the room? Such as 21 or 70F; Enter: not known.",
        "air 21.1 °C",
    ]
    assert [row["celsius"] for row in saved(tmp_path, "temperatures")] == [
        pytest.approx(21.111, abs=0.01)
    ]


def test_a_temperature_that_holds_is_not_asked_for(tune, tmp_path):
    now = datetime.now(UTC)
    with Logbook(tmp_path / "band.logbook", writer="the test") as book:
        book.keep(Temperature(now - timedelta(minutes=12), "monday", 21.0, source="typed"))
        book.keep(Temperature(now - timedelta(minutes=40), "tuesday", 25.0, source="typed"))
    _, out, _ = tune("end", **DOUBLE, air=())
    assert AIR not in out
    assert [row["celsius"] for row in saved(tmp_path, "temperatures")] == [21.0]


def test_a_temperature_that_no_longer_holds_is_asked_for_anew(tune, tmp_path):
    then = datetime.now(UTC) - timedelta(minutes=40)
    with Logbook(tmp_path / "band.logbook", writer="the test") as book:
        book.keep(Temperature(then, "tonight", 25.0, source="typed"))
    assert AIR in tune("end", **DOUBLE, air=())[1]


def test_a_thermometer_is_listened_to_and_nobody_asked(tune, tmp_path):
    options = [*WARM, "--no-valves", "--thermometer", "simulated:?every=0.01"]
    _, out, _ = tune("0", "end", options=options, air=())
    assert AIR not in out
    assert saved(tmp_path, "temperatures")


def test_a_typed_temperature_goes_with_the_tuned_state(tune, drift, tmp_path):
    _, out, _ = tune("temp 19", *["0"] * 6, options=[*WARM, "--no-valves"])
    assert "air 19.0 °C" in out
    assert out.splitlines()[-1] == "Mark main at 10. Tuned at 19 °C, warm."
    book = tmp_path / "band.logbook"
    _, told, _ = drift(
        "slides", book, "--player", "Rowan", "--instrument", "Bb trumpet", "--celsius", "25"
    )
    assert "assumed" not in told
    assert not Study.open(book).paired.left_out


def test_a_position_far_from_the_one_asked_is_asked_back_once(tune, tmp_path):
    _, out, _ = tune("18", "1", "1", "end", options=[*WARM, "--no-valves"])
    asked = out.splitlines()[1].rstrip(".").rpartition("to ")[2]
    assert f"main at 1 mm? Asked was {asked}. Type it again to keep it" in out
    moved = [row["position_mm"] for row in saved(tmp_path, "events") if row["event"] == "slide"]
    assert moved == [10.0, 1.0]


def test_after_a_doubt_another_position_is_taken(tune, tmp_path):
    _, out, _ = tune("18", "1", "", "end", options=[*WARM, "--no-valves"])
    asked = float(out.splitlines()[1].rstrip(".").rpartition("to ")[2])
    moved = [row["position_mm"] for row in saved(tmp_path, "events") if row["event"] == "slide"]
    assert moved == [10.0, asked]


def test_minutes_have_no_sign_and_played_is_a_total(tune):
    typed = ("+14", "played 5", "played 8", "played 5", "2", "end")
    _, out, _ = tune(*typed, options=["--at", "main=10"])
    (refused,) = [line for line in out.splitlines() if line.startswith("not saved: ")]
    assert "+14 has a sign, as what a tuner shows has, and minutes have none" in refused
    said = [line for line in out.splitlines() if line.endswith("played in all")]
    assert said == [f"{n} minutes played in all" for n in (5, 8, 5, 7)]


@pytest.mark.parametrize(
    "typed", ["main 12, F 8, Bb 2", "MAIN=12,f=8;bb 2", "slide main 12, F 8, Bb 2mm"]
)
def test_positions_are_named_in_any_way(tune, tmp_path, typed):
    _, out, _ = tune(typed, "end", **DOUBLE)
    assert out.splitlines()[1] == "main at 12, F at 8, B♭ at 2"
    known = {row["slide"]: row["position_mm"] for row in saved(tmp_path, "events") if row["slide"]}
    assert known == {"main": 12.0, "F": 8.0, "Bb": 2.0}


def test_names_are_echoed_as_they_were_typed(tune):
    _, out, _ = tune("12", "F eight", "end", **DOUBLE)
    assert "not saved: 'F eight' is not a length" in out


def test_undo_takes_back_the_last_answer_at_every_prompt(tune, tmp_path):
    typed = (
        "12",
        "undo",
        "10",
        "played 15",
        "undo",
        "played 30",
        "+18",
        "undo",
        "+18",
        "",
        "undo",
        "undo",
        "undo",
        "undo",
        "temp 20",
        "undo",
        "undo",
        "end",
    )
    _, out, _ = tune(*typed, options=["--no-valves"])
    undone = [line.removeprefix("undone: ") for line in out.splitlines() if "undone: " in line]
    asked = next(line for line in out.splitlines() if "Pull the main slide out" in line)
    to = asked.rstrip(".").rpartition("to ")[2]
    assert undone == [
        "main at 12", "15 minutes played in all", "B♭4 18 sharp", f"main at {to}", "B♭4 18 sharp",
        "30 minutes played in all", "main at 10", "air 20.0 °C", "the last answer",
    ]  # fmt: skip
    for table in ("readings", "temperatures"):
        assert saved(tmp_path, table) == []
    assert {row["event"] for row in saved(tmp_path, "events")} == {"start"}
    with Logbook(tmp_path / "band.logbook") as book:  # it holds both
        assert len(list(book.rows("readings", rehearsal="tonight", undone=True))) == 2


def test_nothing_to_undo_changes_nothing(tune):
    _, out, _ = tune("end", **DOUBLE, air=("undo",))
    assert "not saved: there is nothing to undo" in out


def test_a_tuning_that_was_broken_off_goes_on(tune, tmp_path):
    tune("+18", "", options=[*WARM, "--no-valves"], air=("20",))
    _, out, _ = tune("undo", "end", options=[*WARM, "--no-valves"], air=())
    _, said, asked, undone, again, last = out.splitlines()
    assert said.startswith(
        "This tuning was broken off and goes on where it stopped: 1 note and 1 move are kept."
    )
    to = undone.rpartition(" ")[2]
    assert f"Slides: main at {to}." in said
    assert asked.startswith("No valves. Play ")
    assert undone == f"undone: main at {to}"
    assert f"to {to}." in again
    assert last == STOPPED
    at = [row["position_mm"] for row in saved(tmp_path, "events") if row["slide"]]
    assert at == [10.0]  # which was not saved anew


@pytest.mark.parametrize(
    ("given", "typed"), [((), ("played 5", "end")), (("--played", "5"), ("end",)), ((), ("5",))]
)
def test_minutes_are_kept_though_no_note_was_read(tune, tmp_path, given, typed):
    options = ["--at", "main=10", "--no-valves"]
    tune(*typed, options=[*options, *given], air=("20",))
    (play,) = [row for row in saved(tmp_path, "events") if row["event"] == "play"]
    ago = (datetime.now(UTC) - play["time"]).total_seconds() / 60.0
    assert (play["player"], ago) == ("Rowan", pytest.approx(5.0, abs=0.4))
    _, out, _ = tune("end", options=[*options, *given], air=())
    _, kept, asked, *_ = out.splitlines()
    assert "goes on where it stopped, as warm as after 5 minutes of playing." in kept
    assert asked.startswith("Warm enough? Play 9 more minutes first")


def test_a_tuning_that_goes_on_names_the_side_and_how_it_is_played(tune):
    horn = {"instrument": "double horn",
            "options": ["--at", "main=12,F=8,Bb=4", "--played", "40", "--no-valves"]}  # fmt: skip
    tune("+1", "0", "+1", "0", **horn, air=("20",))
    _, out, _ = tune("temp 21", "0", "undo", "end", **horn, air=())
    kept, asked, _, again, then, _, once_more, _ = out.splitlines()[1:]
    assert "goes on where it stopped: 4 notes are kept." in kept
    assert asked.startswith("F side: thumb up, no valves. Now ")
    assert again == asked  # the temperature answered no note
    assert then.startswith("F side: ")
    assert "thumb" not in then
    assert once_more == asked


def test_a_tuning_that_is_done_does_not_go_on(tune):
    tune(*["0"] * 6, options=[*WARM, "--no-valves"])
    _, out, _ = tune("end", options=WARM, air=("", "0"))
    assert "broken off" not in out


def test_an_interrupt_ends_it_as_end_does(tune, monkeypatch):
    def interrupted(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr("drift.cli.tune._ask", interrupted)
    status, out, _ = tune(options=WARM, air=())
    assert (status, out.splitlines()[-1]) == (0, STOPPED)


def test_a_side_that_stays_off_says_that_its_slide_is_stuck(tune):
    _, out, _ = tune(
        *["+30"] * 8, options=["--at", "main=5", "--played", "30", "--stuck", "main", "--no-valves"]
    )
    assert "sharp: the main slide is stuck." in out


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        (("skip", "+9", "+14", "+9"), "not saved: where a slide is cannot be left out"),
        (("stuck", "skip", "+9"), "Where is the main slide stuck? Millimetres from fully in."),
        (("12", *["skip"] * 3), "Not tuned: nothing is marked, and no tuned state is saved."),
        (("12", "+9", *["skip"] * 3), "Tune again within 45 minutes, and it goes on"),
    ],
)
def test_what_nobody_said_is_neither_saved_nor_called_tuned(tune, tmp_path, typed, told):
    _, out, _ = tune(*typed, options=["--played", "20", "--no-valves"], air=("20",))
    assert told in out
    assert "Mark " not in out
    assert "Tuned at" not in out
    slides = [row["position_mm"] for row in saved(tmp_path, "events") if row["slide"]]
    assert slides == [12.0] * ("12" in typed)
    assert [row for row in saved(tmp_path, "events") if row["event"] == "tuned"] == []
