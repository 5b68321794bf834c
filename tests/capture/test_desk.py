"""The desk where entries are made, and the listener behind it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from drift.capture.desk import Desk
from drift.errors import InputError, InstrumentError
from drift.logbook.book import Logbook
from drift.logbook.records import Reading, Temperature
from tests.capture.test_entries import BYTES, WORDS
from tests.entered import more_entries

START = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)


def at(minute: float) -> datetime:
    return START + timedelta(minutes=minute)


@pytest.fixture
def book(tmp_path):
    with Logbook(tmp_path / "band.logbook", writer="the test") as opened:
        yield opened


@pytest.fixture
def desk(book):
    found = Desk(book, "hall")
    found.start(at(0), player="Rowan", instrument="double horn")
    return found


def kept(book, table):
    return list(book.rows(table))


def test_a_reading_after_a_rest_says_that_playing_was_taken_up(desk):
    desk.enter("play", at(0))
    desk.enter("rest", at(20))
    said = "saved F4 +3.0 cents on the F side (no play since the rest: taken as playing again)"
    assert desk.enter("F4 +3 F", at(30)).text == said
    desk.enter("play", at(31))
    assert "rest" not in desk.enter("F4 +3 F", at(32)).text


@pytest.mark.parametrize(
    ("line", "answer"),
    [
        ("F4 +6 F", "saved F4 +6.0 cents on the F side"),
        ("F4 +5", "saved F4 +5.0 cents (side not stated: F or B♭?)"),
        (
            "F4 +90 F",
            "saved F4 +90.0 cents on the F side (that is nearer to F♯4: undo if it was misread)",
        ),
        (
            "F4 -60 F",
            "saved F4 -60.0 cents on the F side (that is nearer to E4: undo if it was misread)",
        ),
        ("F4 +50 F", "saved F4 +50.0 cents on the F side"),
        ("Bb3 -2.5 Bb", "saved B♭3 -2.5 cents on the B♭ side"),
        ("F4 +6 F ! mute in", "saved F4 +6.0 cents on the F side, flagged"),
        ("temp 70F", "saved temp 21.1 °C"),
        ("slide main 14", "saved slide main 14 mm"),
        ("play", "saved play"),
        ("play Rowan", "saved play Rowan"),
        ("play warm", "saved play already warm"),
        ("rest", "saved rest"),
        (
            "player Maren",
            "saved player Maren (no instrument yet: type, for example, instrument trumpet)",
        ),
        ("instrument b♭ trumpet", "saved instrument B♭ trumpet"),
        ("remark the doors", "saved remark the doors"),
        ("end", "saved end of hall"),
    ],
)
def test_an_entry_is_kept_and_said(desk, book, line, answer):
    before = book.last_entry
    assert desk.enter(line, at(1)).text == answer
    assert book.last_entry == before + 1


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        ("F4 +900", "900 cents is outside -200 to 200"),
        ("F4 2000Hz", "is outside -200 to 200"),
        ("temp 99C", "99 °C is outside -40 to 60"),
        ("slide main 1001", "1001 mm is outside 0 to 1000"),
        ("slide bell 3", "bell"),
        ("F4 +6 A", "double horn has no side 'A'"),
        ("instrument kazoo", "kazoo"),
        ("what", "is not an entry"),
        ("slides", "slides is a command of its own, not an entry; end the log and type drift"),
    ],
)
def test_what_is_refused_is_not_half_kept(desk, book, line, reason):
    before = book.last_entry
    answer = desk.enter(line, at(1))
    assert not answer.saved
    assert answer.text.startswith("not saved: ")
    assert reason in answer.text
    assert "\n" not in answer.text
    assert book.last_entry == before


def test_now_and_help_keep_nothing(desk, book):
    before = book.last_entry
    assert [desk.enter(word, at(1)).asks for word in ("now", "help")] == ["now", "help"]
    assert book.last_entry == before
    assert desk.enter("end", at(2)).asks == "end"


def test_a_reading_needs_a_player_and_an_instrument(book):
    desk = Desk(book, "hall")
    desk.start(at(0))
    assert "no player was named" in desk.enter("F4 +6", at(1)).text
    desk.enter("player Rowan", at(1))
    assert "no instrument was named" in desk.enter("F4 +6", at(1)).text
    assert desk.enter("F4 +6", at(1), instrument="double horn").saved  # a seat of one's own


def test_several_people_enter_at_one_desk(desk, book):
    desk.enter("F4 +1", at(1))
    desk.enter("F4 +2", at(1), player="Maren", instrument="Bb trumpet")
    desk.enter("slide main 3", at(1), player="Maren", instrument="Bb trumpet")
    rows = [(row["player"], row["instrument"]) for row in kept(book, "readings")]
    assert rows == [("Rowan", "double horn"), ("Maren", "Bb trumpet")]
    assert kept(book, "events")[-1]["player"] == "Maren"


def test_a_player_comes_back_with_the_instrument_that_player_had(desk, book):
    desk.enter("player Kim", at(1))
    assert "no instrument was named" in desk.enter("C5 +1", at(1)).text
    desk.enter("instrument Bb trumpet", at(2))
    desk.enter("C5 +1", at(2))
    assert desk.enter("player Rowan", at(3)).text == "saved player Rowan (double horn)"
    desk.enter("F4 +5 F", at(4))
    assert [(r["player"], r["instrument"]) for r in kept(book, "readings")] == [
        ("Kim", "Bb trumpet"),
        ("Rowan", "double horn"),
    ]
    desk.enter("undo", at(5))
    desk.enter("undo", at(5))
    assert (desk.player, desk.instrument) == ("Kim", "Bb trumpet")


def test_a_player_comes_back_with_the_instrument_of_an_earlier_rehearsal(desk, book):
    desk.enter("F4 +5 F", at(1))
    desk.enter("Bb4 +5", at(2), player="Kim", instrument="Bb trumpet")
    later = Desk(book, "hall again")
    later.start(at(60), player="Kim")
    assert (later.player, later.instrument) == ("Kim", "Bb trumpet")
    assert later.enter("player Rowan", at(61)).text == "saved player Rowan (double horn)"
    assert later.chosen({"player": "Kim"}) == ("Kim", "Bb trumpet")  # at a page of many


def test_a_name_in_other_letters_makes_no_second_person(desk, book):
    desk.enter("F4 +5 F", at(1))
    answer = desk.enter("player ro WAN", at(2)).text
    assert answer == "saved player Rowan (double horn); 'ro WAN' is taken for the same player"
    desk.enter("rest ROWAN", at(3))
    assert (desk.player, kept(book, "events")[-1]["player"]) == ("Rowan", "Rowan")
    desk.enter("player kim", at(4))
    desk.enter("undo", at(5))
    assert desk.enter("player Kim", at(6)).text.startswith("saved player Kim (")  # as typed


def test_written_notes_sound_as_the_instrument_does(book):
    desk = Desk(book, "hall", written=True, a4_hz=442.0)
    desk.start(at(0), player="Rowan", instrument="double horn")
    answer = desk.enter("C5 +3 F", at(1)).text  # a horn in F
    assert answer == "saved C5, sounding F4 +3.0 cents on the F side"
    desk.enter("C5 351.2Hz", at(2))
    assert [row["note"] for row in kept(book, "readings")] == ["F4", "F4"]
    # 1200 log2(351.2 / (349.228 * 442/440)) = 1.90
    assert kept(book, "readings")[1]["cents"] == pytest.approx(1.90, abs=0.01)


def test_a_rehearsal_needs_a_name_that_can_be_written_down(book):
    with pytest.raises(InputError, match="has no name"):
        Desk(book, "  ")
    with pytest.raises(InputError, match="cannot be printed"):
        Desk(book, "h\udce4ll")
    with pytest.raises(InstrumentError, match="kazoo"):
        Desk(book, "hall").start(at(0), instrument="kazoo")
    assert book.last_entry == 0


def test_a_rehearsal_goes_on_where_it_was_and_undo_means_what_was_typed(desk, book):
    desk.enter("F4 +6", at(1))
    again = Desk(book, "hall")
    assert again.resumed
    again.start(at(5), player="Rowan", instrument="B♭ trumpet")
    assert (again.player, again.instrument) == ("Rowan", "Bb trumpet")
    assert again.enter("undo", at(6)).text == "saved undo of instrument Bb trumpet"
    third = Desk(book, "hall")
    third.start(at(7), player="Rowan", instrument="double horn")  # nothing new is chosen
    assert third.enter("undo", at(8)).text == "saved undo of F4 +6.0 cents"


def test_going_on_before_the_last_entry_is_recorded_as_a_wrong_clock(desk, book):
    """A computer without a battery in its clock: its date is wrong until the network sets it."""
    desk.enter("F4 +6", at(10))
    Desk(book, "hall").start(at(12))
    assert kept(book, "notices") == []
    Desk(book, "hall").start(at(2))
    (notice,) = kept(book, "notices")
    assert (notice["kind"], notice["source"]) == ("step", "clock")
    assert notice["text"] == (
        "the computer's clock is 600 s behind the last entry of hall, 2026-10-03T17:12:00Z"
    )


@pytest.mark.parametrize("note", ["Cb-1", "G#9", "B#9"])
def test_a_note_that_no_number_names_is_refused_before_it_is_kept(desk, book, note):
    before = book.last_entry
    answer = desk.enter(f"{note} 3 Bb", at(1))
    assert not answer.saved
    assert answer.text.startswith(f"not saved: note '{note}' lies outside C-1 to G9")
    assert book.last_entry == before


def test_an_entry_sent_twice_with_its_key_is_kept_once(desk, book):
    for line in ("F4 +6", "temp 21", "player Maren", "undo", "remark x"):
        before = book.last_entry
        first = desk.enter(line, at(1), once=f"k {line}")
        assert first.saved
        assert desk.enter(line, at(2), once=f"k {line}").text == first.text
        assert book.last_entry == before + 1


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(
    st.lists(WORDS | st.text(max_size=5), max_size=6).map(" ".join) | st.text(max_size=40) | BYTES
)
def test_any_line_is_kept_whole_or_not_at_all(desk, book, line):
    """Whatever is typed: one line of answer, and its entries in the book, or none."""
    before = book.last_entry
    answer = desk.enter(line, at(1))
    assert len(answer.text.splitlines()) <= 1
    assert book.last_entry - before == more_entries(answer)
    assert answer.text.startswith("saved" if answer.saved else "not saved: ") or (
        answer.asks in ("now", "help") and not answer.text
    )
    for table in ("readings", "temperatures", "events"):
        assert len(list(book.rows(table, after=before))) <= more_entries(answer)


def test_cents_alone_repeat_the_note_read_last(tmp_path):
    with Logbook(tmp_path / "b.logbook", writer="test") as book:
        desk = Desk(book, "hall")
        desk.start(START, player="Rowan", instrument="double horn")
        assert "has not read a note yet" in desk.enter("+4", START).text
        desk.enter("F4 +6 Bb", START)
        assert desk.enter("-3", START).text == "saved F4 -3.0 cents on the B♭ side"
        assert desk.enter("5 flat F", START).text == "saved F4 -5.0 cents on the F side"


def test_a_side_sticks_for_its_player_in_any_case(desk, book):
    assert desk.enter("side bb", at(1)).text == "saved B♭ side, until you type another"
    assert desk.enter("F4 +6", at(2)).text == "saved F4 +6.0 cents on the B♭ side"
    assert desk.enter("C4 -2 f", at(3)).text == "saved C4 -2.0 cents on the F side"
    desk.enter("player Maren", at(4))
    desk.enter("instrument double horn", at(4))
    assert "side not stated" in desk.enter("F4 +5", at(5)).text, "it is Rowan's"
    desk.enter("player Rowan", at(6))
    again = Desk(book, "hall")
    again.start(at(7))
    assert again.enter("F4 +4", at(8)).text.endswith("on the B♭ side")
    assert "has no side 'A'" in again.enter("side A", at(9)).text
    again.enter("instrument Bb trumpet", at(10))
    assert again.enter("F4 +4", at(11)).text == "saved F4 +4.0 cents", "a trumpet has no sides"


def test_a4_is_one_for_everyone_until_the_end(desk, book):
    assert desk.a4_hz == 440.0
    assert desk.enter("A4 442", at(1)).text == "saved A4 = 442 Hz, for all readings from now on"
    desk.enter("player Maren", at(2))
    desk.enter("F4 351.2Hz", at(3), instrument="double horn", side="F")
    # 1200 log2(351.2 / (349.228 * 442/440)) = 1.90
    assert kept(book, "readings")[0]["cents"] == pytest.approx(1.90, abs=0.01)
    again = Desk(book, "hall")
    again.start(at(4))
    assert again.a4_hz == 442.0
    third = Desk(book, "hall", a4_hz=443.0)
    third.start(at(5))
    assert (third.a4_hz, Desk(book, "hall").a4_hz) == (443.0, 443.0)
    assert third.enter("undo", at(6)).text == "saved undo of A4 443"
    assert "is outside 380 to 500" in third.enter("A4 600", at(7)).text
    assert third.enter("A4 +3 F", at(8), instrument="double horn").text.startswith("saved A4 +3.0")


def test_a4_is_that_of_the_last_reading_where_none_was_chosen(book):
    """Readings that were imported, or saved by another command, have an A4 and no choice."""
    Desk(book, "hall").start(at(0))
    for minute, hertz in ((0, 440.0), (1, 442.0)):
        book.keep(Reading(at(minute), "hall", "Rowan", "flute", "", "A4", 3.0, hertz))
    assert Desk(book, "hall").a4_hz == 442.0
    assert Desk(book, "attic").a4_hz == 440.0
    assert Desk(book, "hall", a4_hz=441.0).a4_hz == 441.0
    resumed = Desk(book, "hall", a4_hz=441.0)
    resumed.start(at(2))
    assert Desk(book, "hall").a4_hz == 441.0


def test_a_name_that_nobody_has_is_asked_about_once(desk, book):
    before = book.last_entry
    answer = desk.enter("rest Rowen", at(1), once="a")
    assert answer.text.startswith("not saved: nobody is called 'Rowen' in this logbook yet")
    assert not desk.enter("rest Rowen", at(1), once="a").saved, "sent again, not typed again"
    assert book.last_entry == before
    assert desk.enter("rest Rowen", at(2), once="b").text == "saved rest Rowen"
    assert desk.enter("play Rowen", at(3)).saved
    assert desk.enter("rest Ash", at(4), player="Ash").saved, "who sits there is known"


def test_target_is_a_question(desk, book):
    before = book.last_entry
    assert desk.enter("target 18:30 4", at(1)).asks == "target"
    assert desk.enter("target later", at(1)).text.startswith("not saved: 'target later' names no")
    assert book.last_entry == before


def test_the_tuning_slide_may_be_called_so(tmp_path):
    with Logbook(tmp_path / "band.logbook", writer="test") as book:
        desk = Desk(book, "hall")
        desk.start(START, player="Ada", instrument="tenor trombone")
        assert desk.enter("slide tuning 14", START).saved
        assert [row["slide"] for row in book.rows("events") if row["slide"]] == ["main"]


def test_a_reading_without_a_temperature_says_so_where_there_was_one_before(desk, book):
    assert desk.enter("F4 +3 F", at(1)).text == "saved F4 +3.0 cents on the F side"
    book.keep(Temperature(at(2), "hall", 20.0, source="stage"))
    assert desk.enter("F4 +3 F", at(12)).text == "saved F4 +3.0 cents on the F side"
    assert desk.enter("F4 +3 F", at(14)).text == (
        "saved F4 +3.0 cents on the F side "
        "(no temperature for 12 minutes: type temp and the degrees, or look at the thermometer)"
    )


def test_a_typed_temperature_holds_for_half_an_hour(desk):
    desk.enter("temp 20", at(2))
    assert desk.enter("F4 +3 F", at(31)).text == "saved F4 +3.0 cents on the F side"
    assert "no temperature for 31 minutes" in desk.enter("F4 +3 F", at(33)).text


def test_what_is_stale_to_the_desk_is_stale_to_the_pairing():
    from drift.capture import answers
    from drift.pairing import GAP_MINUTES, TYPED_MINUTES

    assert answers.STALE_MINUTES == GAP_MINUTES
    assert answers.STALE_TYPED_MINUTES == TYPED_MINUTES


def test_what_will_not_count_to_the_desk_does_not_count_tonight():
    from drift.capture import answers
    from drift.tonight import evening

    assert answers.SETTLE_SECONDS == 60.0 * evening.SETTLE_MINUTES


def test_a_slide_that_is_far_out_is_asked_about_once_before_it_is_saved(book, desk):
    asked = desk.enter("slide main 180", at(1), once="a" * 20)
    assert asked.text == (
        "not saved: 180 mm is farther out than a slide goes; name the unit (14 mm, 0.5 in); "
        "or, if that is right, type it again"
    )
    assert desk.enter("slide main 180", at(1), once="a" * 20).text == asked.text  # sent again
    assert [row for row in kept(book, "events") if row["event"] == "slide"] == []
    assert desk.enter("slide main 180", at(2), once="b" * 20).text == "saved slide main 180 mm"
    assert desk.enter("slide main 14", at(3)).text == "saved slide main 14 mm"


def clock_at(minute):
    return f"{at(minute).astimezone():%H:%M}"


def test_a_slide_put_right_with_its_time_takes_the_place_of_what_was_entered_then(book, desk):
    desk.enter("slide main 80", at(3.4))
    desk.enter("slide F 8", at(3.5))
    assert desk.enter(f"at {clock_at(3)} slide main 18", at(9)).text == (
        f"saved slide main 18 mm at {clock_at(3)}, in place of slide main 80 mm"
        " (where the main slide was before is not known: enter that too, with its time)"
    )
    moved = [(row["slide"], row["position_mm"]) for row in kept(book, "events") if row["slide"]]
    assert moved == [("main", 18.0), ("F", 8.0)]
    assert [row["position_mm"] for row in book.rows("events", undone=True)] == [80.0]
    assert "in place" not in desk.enter(f"at {clock_at(5)} slide main 14", at(9)).text


def test_a_slide_put_right_in_a_minute_of_several_moves_stays_the_last_of_them(book, desk):
    for minute, position in ((3.1, 11), (3.3, 8.5), (3.6, 9.5)):
        desk.enter(f"slide main {position}", at(minute))
    assert desk.enter(f"at {clock_at(3)} slide main 6.3", at(9)).text == (
        f"saved slide main 6.3 mm at {clock_at(3)}, in place of slide main 9.5 mm"
    )
    moved = [(row["time"], row["position_mm"]) for row in kept(book, "events") if row["slide"]]
    assert sorted(moved) == [(at(3.1), 11.0), (at(3.3), 8.5), (at(3.6), 6.3)]


def test_a_slide_entered_with_its_second_leaves_the_others_of_that_minute(book, desk):
    desk.enter("slide main 11", at(3.1))
    told = desk.enter(f"at {clock_at(3)}:40 slide main 6.3", at(9)).text
    assert told == f"saved slide main 6.3 mm at {clock_at(3)}:40"
    moved = [(row["time"], row["position_mm"]) for row in kept(book, "events") if row["slide"]]
    assert sorted(moved) == [(at(3.1), 11.0), (at(3 + 40 / 60), 6.3)]


def test_several_slides_are_entered_at_once_all_or_none(book, desk):
    assert desk.enter("slide F 13.5 Bb 2", at(1)).text == "saved slide F 13.5 mm, slide B♭ 2 mm"
    assert (
        desk.enter("slide main=12, F=8,5 mm", at(2)).text
        == "saved slide main 12 mm, slide F 8.5 mm"
    )
    assert "names no slide and position" in desk.enter("slide F 13 Bb", at(3)).text
    assert "no slide" in desk.enter("slide F 13 third 4", at(3)).text
    assert len([row for row in kept(book, "events") if row["slide"]]) == 4
    once = "c" * 20
    for _ in range(2):  # sent again: saved once
        assert desk.enter("slide main 10 F 7", at(4), once=once).saved
    assert len([row for row in kept(book, "events") if row["slide"]]) == 6


def test_a_side_typed_next_is_that_of_the_reading_before(book, desk):
    assert desk.enter("F4 -7", at(1)).text == "saved F4 -7.0 cents (side not stated: F or B♭?)"
    assert desk.enter("B♭", at(1.2)).text == "saved F4 -7.0 cents on the B♭ side"
    (row,) = kept(book, "readings")
    assert (row["time"], row["side"], row["cents"]) == (at(1), "Bb", -7.0)
    assert desk.enter("F", at(1.3)).text == (
        "not saved: the last reading, F4, is on the B♭ side already; at 20:10 side Bb gives an "
        "earlier reading its side; side Bb holds from now on"
    )
    assert "'A'" in desk.enter("A", at(1.4)).text


def test_a_side_with_a_time_is_that_of_the_readings_of_that_minute(book, desk):
    for minute, line in ((2.1, "F4 -7"), (2.6, "Bb3 -5"), (2.7, "F3 -8 F"), (4.0, "F3 -9")):
        desk.enter(line, at(minute))
    answer = f"saved F4 -7.0 cents on the B♭ side at {clock_at(2)}"
    for _ in range(2):
        found = desk.enter(f"at {clock_at(2)} side bb", at(9), once="d" * 20)
        assert found.text in (
            f"{answer}, B♭3 -5.0 cents on the B♭ side at {clock_at(2)}", "saved already"
        )  # fmt: skip
    assert [row["side"] for row in kept(book, "readings")] == ["Bb", "Bb", "F", ""]
    assert (
        f"no reading without a side at {clock_at(2)}"
        in desk.enter(f"at {clock_at(2)} F", at(9)).text
    )


def test_a_reading_right_after_play_is_said_not_to_count(desk):
    desk.enter("play", at(1))
    said = "in the first 30 s of playing"
    assert said in desk.enter("F4 -7 F", at(1.3)).text
    assert said not in desk.enter("F4 -7 F", at(1.5)).text


def test_a_reading_right_after_play_counts_where_the_instrument_was_warm_already(desk):
    desk.enter("play warm", at(1))
    assert desk.enter("F4 -7 F", at(1.1)).text == "saved F4 -7.0 cents on the F side"


def test_a_note_of_another_language_is_echoed(desk):
    assert desk.enter("H4 +3 F", at(1)).text == "saved B4 +3.0 cents on the F side (H4 is B4 here)"
    assert "here" not in desk.enter("fis4 +3 F", at(1)).text


@pytest.mark.parametrize("german", ["H4 +3 F", "es4 +3 F", "at 17:01 Fis4 +3 F"])
def test_a_capital_b_is_asked_about_of_a_player_who_has_typed_german_names(desk, german):
    ann = {"player": "Ann", "instrument": "double horn"}
    assert desk.enter("B4 +3 F", at(1), **ann).saved
    assert desk.enter(german.replace("17:01", f"{at(1).astimezone():%H:%M}"), at(2)).saved
    for _ in range(2):
        assert desk.enter("B4 -3 F", at(3)).text == (
            "not saved: B4 could mean two notes: B4 in English, B♭4 in German; "
            "type H4 for the one, Bb4 for the other"
        )
    assert desk.enter("Bb4 -3 F", at(3)).text.startswith("saved B♭4 ")
    assert desk.enter("H4 -3 F", at(3)).text.startswith("saved B4 ")
    assert desk.enter("-3", at(3)).text.startswith("saved B4 ")
    assert desk.enter("B4 +3 F", at(4), **ann).saved


def test_degrees_of_fahrenheit_are_recognised(desk):
    assert desk.enter("temp 70", at(1)).text == (
        "not saved: 70 °C is hotter than any room; type temp 70F if it was read in °F"
    )
    assert desk.enter("units F", at(1)).saved
    assert desk.enter("temp 70", at(1)).saved


def test_a_rehearsal_that_was_ended_is_resumed(book, desk):
    assert not desk.resumed
    desk.enter("end", at(1))
    assert Desk(book, "hall").resumed


def test_a_note_beyond_the_compass_is_asked_about(desk):
    assert desk.enter("Fb9 +3 F", at(1)).text == (
        "saved F♭9 +3.0 cents on the F side "
        "(the instrument sounds B1 to F5: undo if the note was mistyped)"
    )
    assert "sounds" not in desk.enter("F5 +3 F", at(2)).text


@pytest.mark.parametrize(
    "line",
    ["F4 +6 F", "Bb3 -2.5 Bb ! mute in", "temp 21.5", "slide main 14", "play Rowan", "play warm",
     "remark the doors", "rest"],
)  # fmt: skip
def test_what_is_undone_is_called_as_it_was_when_it_was_saved(desk, line):
    saved = desk.enter(line, at(1)).text.removeprefix("saved ")
    assert desk.enter("undo", at(2)).text == f"saved undo of {saved}"


def test_the_a4_that_a_rehearsal_began_with_holds_for_every_command(book):
    Desk(book, "hall", a4_hz=442.0).start(at(0), player="Rowan")
    assert Desk(book, "hall").a4_hz == 442.0
