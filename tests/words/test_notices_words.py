"""Each notice in words: what was seen, a likely cause, and what to do."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from drift.findings import Finding
from drift.pairing.spoilt import Spoilt, SpoiltKind
from drift.regression.notices import Notice, NoticeKind
from drift.words.examination import finding_text
from drift.words.notices import notice_in_words
from drift.words.spoilt import spoilt_in_words

DAY = "7 May"
TIME = datetime(2026, 5, 7, 18, 42, tzinfo=UTC)


def notice(kind, **more):
    return Notice(kind, 0.9, 40.0, **({"rehearsal": DAY, "player": "Rowan", "since": TIME} | more))


@pytest.mark.parametrize(
    ("found", "words"),
    [
        (
            notice(NoticeKind.SLIDE, first=7, last=12, size=8.1, cents=-9.2),
            "On 7 May from 18:42 UTC (readings 7–12) Rowan is 9 cents lower, like main slide out "
            "by 8 mm. If it moved, log it: “at 2026-05-07 18:42 slide main” and its millimetres.",
        ),
        (
            notice(NoticeKind.SLIDE, side="F", first=4, last=9, size=-5.0, cents=4.4),
            "On 7 May from 18:42 UTC (readings 4–9) Rowan is 4 cents higher, like F slide in by 5 "
            "mm. If it moved, log it: “at 2026-05-07 18:42 slide F” and its millimetres.",
        ),
        (
            notice(NoticeKind.DAY, cents=9.0),
            "Rowan was 9 cents high all of 7 May: mouthpiece, slide or tuner? If known, add a "
            "remark.",
        ),
        (
            notice(NoticeKind.DAY, cents=9.0, unlogged_slides="possible"),
            "Rowan was 9 cents high all of 7 May: mouthpiece, tuner, or slides that were set and "
            "not logged? Log where they were, or add a remark.",
        ),
        (
            notice(NoticeKind.DAY, cents=9.0, unlogged_slides="likely"),
            "Rowan was 9 cents high all of 7 May, in colder air than the other rehearsals: slides "
            "that were set and not logged, mouthpiece or tuner? Log where they were, or add a "
            "remark.",
        ),
        (
            notice(NoticeKind.A4, player="", size=442.0, cents=-7.9, unlogged_slides="possible"),
            "All on 7 May lie 8 cents low, like A4 = 442. Check the tuner's setting. If slides "
            "were set, log where they were: none was logged.",
        ),
        (
            notice(NoticeKind.A4, player="", size=442.0, cents=-7.9, unlogged_slides="likely"),
            "All on 7 May lie 8 cents low, in warmer air than the other rehearsals: slides that "
            "were set and not logged do that. Log where they were, or keep that rehearsal in a "
            "logbook of its own. If none was set, check the tuner: it is like A4 = 442.",
        ),
        (
            notice(NoticeKind.THERMOMETER, player="", size=2.0, unlogged_slides="possible"),
            "The pitch of 7 May fits air 2.0 °C warmer than was measured. Check where the "
            "thermometer was, and where instruments were before playing. If slides were set, log "
            "where they were: none was logged.",
        ),
        (
            notice(
                NoticeKind.THERMOMETER, player="", size=-5.3, cents=-9.0, unlogged_slides="likely"
            ),
            "The pitch of 7 May, in warmer air than the other rehearsals, fits air 5.3 °C colder "
            "than was measured: slides that were set and not logged do that. Log where they were, "
            "or keep that rehearsal in a logbook of its own. If none was set, check where the "
            "thermometer was, and where instruments were before playing.",
        ),
        (
            notice(NoticeKind.SWAP, cents=-12.0),
            "Since 7 May Rowan's notes lie differently, like another instrument or a slide that "
            "was moved. If so, name the one, or log the other, from there.",
        ),
        (
            notice(NoticeKind.SIGN, second=NoticeKind.SWAP),
            "Rowan's readings of 7 May fit with signs turned. If a minus was forgotten, turn "
            "them. It may also be another instrument.",
        ),
        (
            notice(NoticeKind.SIGN, rehearsal=""),
            "All of Rowan's readings, in every rehearsal, fit with signs turned: flatter as it "
            "warms. If flat was entered as sharp, turn them.",
        ),
        (
            notice(NoticeKind.SIGN, rehearsal="", player="", instrument="Bb trumpet"),
            "All B♭ trumpet readings, in every rehearsal, fit with signs turned: flatter as it "
            "warms. If flat was entered as sharp, turn them.",
        ),
        (
            notice(NoticeKind.SIGN, rehearsal="", player=""),
            "All readings, in every rehearsal, fit with signs turned: flatter as it warms. If flat "
            "was entered as sharp, turn them.",
        ),
        (
            notice(NoticeKind.A4, other="7 May choir", size=442.0, cents=-7.9),
            "All on 7 May and 7 May choir lie 8 cents low, like A4 = 442. Check the tuner's "
            "setting.",
        ),
        (
            notice(NoticeKind.SIGN, player=""),
            "All readings of 7 May fit with signs turned. If a minus was forgotten, turn them.",
        ),
        (
            notice(NoticeKind.NAMES, other="Kim"),
            "On 7 May Rowan's and Kim's readings fit exchanged. Check the names.",
        ),
        (
            notice(NoticeKind.NAMES, other="Kim", first=4, last=9),
            "On 7 May from 18:42 UTC Rowan's and Kim's readings fit exchanged. Check the names.",
        ),
        (
            notice(NoticeKind.WRONG_NOTE, note="Bb3", other="C4"),
            "Rowan's B♭3 of 7 May fits as C4. Check the note.",
        ),
        (
            notice(NoticeKind.WRONG_NOTE, note="Bb3", other="C4", first=4, last=4),
            "Rowan's B♭3 at 18:42 UTC on 7 May fits as C4. Check the note.",
        ),
        (
            notice(NoticeKind.THERMOMETER, size=-3.04),
            "The pitch of 7 May fits air 3.0 °C colder than was measured. Check where the "
            "thermometer was, and where instruments were before playing.",
        ),
        (
            notice(NoticeKind.WATCHES, rehearsal="", size=0.52),
            "Rowan drifts half as much as expected. If Rowan watches the tuner, let somebody "
            "else read.",
        ),
        (
            notice(NoticeKind.WATCHES, rehearsal="", size=0.66),
            "Rowan drifts 66 % of what is expected. If Rowan watches the tuner, let somebody "
            "else read.",
        ),
        (
            notice(NoticeKind.REST, size=11.0),
            "The pitch of 7 May fits a rest of about 11 minutes before 18:42 UTC that was not "
            "logged. If there was one, log it.",
        ),
        (
            notice(NoticeKind.OUTLIER, note="F4", cents=31.0, first=3, last=3),
            "Rowan's F4 at 18:42 UTC on 7 May lies 31 cents too high. Check what was entered.",
        ),
    ],
)
def test_sentences(found, words):
    assert notice_in_words(found) == words


def test_a_table_without_times_counts_the_readings():
    found = notice(NoticeKind.OUTLIER, since=None, note="F4", cents=-31.0, first=3, last=3)
    assert "at reading 3 on 7 May lies 31 cents too low" in notice_in_words(found)


def test_every_kind_has_its_words():
    for kind in NoticeKind:
        assert notice_in_words(notice(kind, second=kind)).count(".") >= 2, kind


@pytest.mark.parametrize(
    ("instrument", "words", "typed"),
    [
        ("tenor trombone", "like tuning slide in", "main"),
        ("Bb clarinet", "like barrel in", "barrel"),
        ("double horn", "like main slide in", "main"),
        ("a horn of one's own", "like main slide in", "main"),
    ],
)
def test_the_slide_that_seems_moved_is_called_as_on_its_instrument(instrument, words, typed):
    said = notice_in_words(notice(NoticeKind.SLIDE, instrument=instrument, size=-6.0, cents=7.0))
    assert words in said
    assert f"slide {typed}”" in said


EVENING = datetime(2026, 11, 14, 0, 30, tzinfo=UTC)  # 19:30 of the 13th in New York
NAMED = "2026-11-13"


@pytest.mark.parametrize(
    ("found", "here", "there"),
    [
        (
            notice(NoticeKind.OUTLIER, rehearsal=NAMED, since=EVENING, note="A4", cents=9.0),
            "A4 at 00:30 UTC on 2026-11-14 (rehearsal 2026-11-13) lies",
            "A4 at 19:30 on 2026-11-13 lies",
        ),
        (
            notice(NoticeKind.SLIDE, rehearsal=NAMED, since=EVENING, first=1, last=2, size=8.0),
            "On 2026-11-14 (rehearsal 2026-11-13) from 00:30 UTC (readings",
            "On 2026-11-13 from 19:30 (readings",
        ),
        (
            notice(NoticeKind.NAMES, rehearsal=NAMED, since=EVENING, first=1, other="Wren"),
            "On 2026-11-14 (rehearsal 2026-11-13) from 00:30 UTC Rowan's",
            "On 2026-11-13 from 19:30 Rowan's",
        ),
        (
            notice(NoticeKind.REST, rehearsal=NAMED, since=EVENING, size=20.0),
            "The pitch of 2026-11-13 fits a rest of about 20 minutes before 2026-11-14 00:30 UTC",
            "The pitch of 2026-11-13 fits a rest of about 20 minutes before 19:30 that",
        ),
    ],
)
def test_a_time_has_the_date_of_its_zone_where_a_rehearsal_is_named_by_another(found, here, there):
    assert here in notice_in_words(found, UTC)
    assert there in notice_in_words(found, ZoneInfo("America/New_York"))


def test_a_probe_that_settled_and_a_finding_have_the_date_of_the_zone():
    slow = Spoilt(SpoiltKind.SLOW_PROBE, NAMED, size=1.0, source="hall", until=EVENING)
    assert "until 00:30 UTC on 2026-11-14 (rehearsal 2026-11-13)." in spoilt_in_words(slow)
    times = {"first": EVENING.isoformat(), "last": EVENING.isoformat()}
    values = {"rehearsal": NAMED, "count": 1, "minutes": 10.0, **times}
    text = finding_text(Finding("no temperature", values))
    assert text.startswith("2026-11-13: 1 reading at 2026-11-14 00:30 UTC with no temperature")
    home = finding_text(Finding("no temperature", values), ZoneInfo("America/New_York"))
    assert home.startswith("2026-11-13: 1 reading at 19:30 with no temperature")
