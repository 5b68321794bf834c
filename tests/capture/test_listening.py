"""From tones to readings: notes, cents, compass, sides, and the live path fed with blocks."""

from datetime import UTC, datetime

import numpy as np
import pytest
import soundfile

from drift.capture.heard import Declined, Heard, Verdict, Wanted, Why, parse_sides
from drift.capture.listening import Listening, fingerprint, hear, listen
from drift.errors import InputError, InstrumentError
from drift.instruments import find
from drift.notes import hertz_of, midi_of
from sensors.errors import RecordingError
from sensors.tones import Reason, Tone
from tests.sounds import horn, in_noise, noise

RATE = 44_100


@pytest.fixture
def rng() -> np.random.Generator:
    return np.random.default_rng(1685)


def tone(note: str, cents: float = 0.0, a4_hz: float = 440.0, score: float = -5.0) -> Tone:
    return Tone(1.0, 3.0, hertz_of(note, a4_hz) * 2 ** (cents / 1200), 1.5, 74, 0.05, score)


def reason(judged: Heard | Declined) -> Why:
    assert isinstance(judged, Declined)
    return judged.reason


def test_a_tone_becomes_the_nearest_note_with_its_cents():
    heard = Wanted().judge(tone("F4", 3.4))
    assert isinstance(heard, Heard)
    assert (heard.note, heard.side) == ("F4", "")
    assert heard.cents == pytest.approx(3.4, abs=1e-9)


def test_the_pitch_of_a4_is_what_cents_are_told_from():
    heard = Wanted(a4_hz=442.0).judge(tone("Bb3", -2.0, a4_hz=442.0))
    assert isinstance(heard, Heard)
    assert heard.cents == pytest.approx(-2.0, abs=1e-9)


@pytest.mark.parametrize("cents", [46, -46, 50])
def test_between_two_notes_none_is_chosen(cents):
    assert reason(Wanted().judge(tone("F4", cents))) is Why.BETWEEN_NOTES
    assert isinstance(Wanted().judge(tone("F4", 0.9 * cents)), Heard)


def test_the_compass_limits_the_notes():
    wanted = Wanted(instrument=find("BBb tuba"))
    low, high = wanted.instrument.compass
    assert isinstance(wanted.judge(tone(low)), Heard)
    assert isinstance(wanted.judge(tone(high)), Heard)
    assert reason(wanted.judge(tone("C6"))) is Why.OUTSIDE_COMPASS


def test_only_the_notes_asked_for_are_taken():
    wanted = Wanted(notes=frozenset({midi_of("F4"), midi_of("A#3")}))
    assert isinstance(wanted.judge(tone("Bb3")), Heard)
    assert reason(wanted.judge(tone("C4"))) is Why.NOT_ASKED


def test_the_side_comes_from_the_rule():
    horn_ = find("double horn")
    wanted = Wanted(instrument=horn_, sides=parse_sides("Bb,F2-F4=F,C4=Bb", horn_))
    sides = [wanted.judge(tone(note)).side for note in ("F4", "F#4", "C4", "F2", "E2")]
    assert sides == ["F", "Bb", "Bb", "F", "Bb"]


def test_a_note_without_a_side_is_refused_on_an_instrument_with_two():
    horn_ = find("double horn")
    wanted = Wanted(instrument=horn_, sides=parse_sides("F4=F", horn_))
    assert isinstance(wanted.judge(tone("F4")), Heard)
    assert reason(wanted.judge(tone("G4"))) is Why.NO_SIDE


@pytest.mark.parametrize(
    ("rule", "error", "match"),
    [
        ("X", InstrumentError, "no side 'X'"),
        ("Bb,F4=G", InstrumentError, "no side 'G'"),
        ("F4-F2=F", InputError, "runs downwards"),
        ("H4=F", InputError, "H4"),
        ("Bb,", InstrumentError, "no side ''"),
    ],
)
def test_a_bad_rule_is_refused(rule, error, match):
    with pytest.raises(error, match=match):
        parse_sides(rule, find("double horn"))


def test_a_reading_stands_at_the_middle_of_its_tone():
    heard = Wanted().judge(tone("F4", 3.41234))
    reading = heard.reading(
        began=datetime(2026, 10, 3, 17, 0, tzinfo=UTC),
        rehearsal="hall",
        player="Rowan",
        instrument="double horn",
        a4_hz=440.0,
    )
    assert reading.time == datetime(2026, 10, 3, 17, 0, 2, tzinfo=UTC)
    assert (reading.note, reading.cents) == ("F4", 3.412)


@pytest.mark.parametrize(
    ("score", "verdict"),
    [(-2.1, Verdict.ONE_PLAYER), (-1.9, Verdict.LIVE_ROOM), (-0.5, Verdict.DOUBTFUL)],
)
def test_the_score_says_whether_one_player_made_a_tone(score, verdict):
    assert Wanted().judge(tone("F4", score=score)).verdict is verdict


# -- recordings -----------------------------------------------------------------------------------


@pytest.fixture
def recording(tmp_path, rng):
    parts = [
        in_noise(horn(hertz_of("F4") * 2 ** (6 / 1200), rng), 30, rng),
        in_noise(horn(hertz_of("C4") * 2 ** (-4 / 1200), rng), 30, rng),
        noise(3, rng),
    ]
    path = tmp_path / "warm-up.wav"
    soundfile.write(path, np.concatenate(parts), RATE, subtype="PCM_24")
    return path


def test_a_recording_becomes_readings_and_reasons(recording):
    told: list[tuple[float, float]] = []
    found = listen(recording, Wanted(), progress=lambda done, total: told.append((done, total)))
    assert [item.note for item in found.heard] == ["F4", "C4"]
    assert [item.cents for item in found.heard] == pytest.approx([6, -4], abs=0.05)
    assert found.refused[-1].reason is Reason.NO_PITCH
    assert told[-1][0] == pytest.approx(found.recording.seconds)
    assert [done for done, _ in told] == sorted(done for done, _ in told)


def test_a_result_is_text_table_json_and_picture(recording):
    found = listen(recording, Wanted())
    assert "F4" in found.summary()
    assert "no steady pitch" in found.summary()
    frame = found.to_frame()
    assert list(frame["note"]) == ["F4", "C4"]
    assert set(found.to_json()["tones"][0]) == {
        "start_s", "end_s", "hertz", "note", "cents", "cents_sd", "pair_probability",
        "spread_cents", "frames",
    }  # fmt: skip
    axes = found.plot()
    assert axes.get_ylabel() == "cents"
    labels = [text.get_text() for text in axes.get_legend().get_texts()]
    assert sorted(labels) == ["C4", "F4", "loudness (\u221270 dB to full scale)", "not taken"]
    assert axes.get_ylim()[0] <= -10  # never so narrow that a good player looks a bad one
    assert axes.get_ylim()[1] >= 10
    spans = [patch.get_x() for patch in axes.patches if patch.get_hatch()]
    assert spans == [pytest.approx(item.start_s) for item in found.refused]
    written = {text.get_text() for text in axes.texts}
    assert written == {
        f"F4 +{found.heard[0].cents:.0f}",
        f"C4 \u2212{-found.heard[1].cents:.0f}",
        "no steady pitch",
    }


def test_a_picture_tells_the_drift_of_each_note_without_the_doubtful(tmp_path, rng):
    pitches = [hertz_of("F4") * 2 ** (cents / 1200) for cents in (0, 2, 4)]
    parts = [in_noise(horn(hertz, rng), 30, rng) for hertz in pitches]
    two = np.random.default_rng(1)
    parts.append(in_noise(horn(349.2, two) + 0.5 * horn(349.9, two), 20, two))
    path = tmp_path / "drift.wav"
    soundfile.write(path, np.concatenate(parts), RATE)
    found = listen(path, Wanted())
    assert [item.verdict for item in found.heard].count(Verdict.DOUBTFUL) == 1
    labels = [text.get_text() for text in found.plot().get_legend().get_texts()]
    assert "F4: +4 cents in 0:05 minutes" in labels
    assert "maybe two players, or echo" in labels


def test_nothing_heard_is_still_a_result(tmp_path):
    path = tmp_path / "rest.flac"
    soundfile.write(path, np.zeros(3 * RATE), RATE)
    found = listen(path, Wanted())
    assert isinstance(found, Listening)
    assert found.heard == ()
    assert found.to_frame().empty
    assert found.plot().get_title(loc="left") == "Tones in rest.flac"


def test_a_doubtful_reading_is_refused_where_it_stands_alone(tmp_path, rng):
    path = tmp_path / "pair.wav"
    two = np.random.default_rng(1)  # a pair whose score lies between doubtful and certain
    pair = in_noise(horn(349.2, two) + 0.5 * horn(349.9, two), 20, two)
    soundfile.write(path, pair, RATE)
    alone = listen(path, Wanted())
    assert alone.heard == ()
    assert [item.reason for item in alone.refused] == [Why.ALONE]
    assert "two players or strong echo. Play alone" in alone.summary()
    soundfile.write(path, np.concatenate([pair, in_noise(horn(440, rng), 30, rng)]), RATE)
    both = listen(path, Wanted())
    assert [item.verdict for item in both.heard] == [Verdict.DOUBTFUL, Verdict.ONE_PLAYER]
    assert both.to_json()["tones"][0]["pair_probability"] > 0.05
    assert "Maybe two players, or strong echo" in both.summary()


def test_a_recording_with_a_hole_gives_nothing(tmp_path, rng):
    sound = in_noise(horn(349.2, rng), 30, rng)
    sound[sound.size // 2] = np.nan
    path = tmp_path / "take.wav"
    soundfile.write(path, sound, RATE, subtype="FLOAT")
    with pytest.raises(RecordingError, match="is not a number"):
        listen(path, Wanted())


def test_a_recording_is_known_again_under_another_name(recording, tmp_path):
    copy = tmp_path / "copy.wav"
    copy.write_bytes(recording.read_bytes())
    assert fingerprint(copy) == fingerprint(recording)
    copy.write_bytes(recording.read_bytes()[:-2] + b"\x7f\x7f")
    assert fingerprint(copy) != fingerprint(recording)


# -- live -----------------------------------------------------------------------------------------


def test_blocks_become_proposals_soon_after_their_tone_ends(rng):
    sound = np.concatenate(
        [in_noise(horn(hertz_of(note), rng), 30, rng, rest=2 * RATE) for note in ("F4", "Bb3")]
    )
    size = RATE // 5
    blocks = (sound[at : at + size] for at in range(0, sound.size, size))
    given, proposed = 0, []
    for item in hear(blocks, RATE, Wanted(), seconds=100.0):
        given += item is None
        if isinstance(item, Heard):
            proposed.append((item.note, 100 + given * 0.2 - item.tone.end_s))
    assert [note for note, _ in proposed] == ["F4", "Bb3"]
    # 1 s of quiet or of the next note, a batch of 0.2 s, a block of 0.2 s, a frame of 0.1 s
    assert all(0 < delay <= 1.5 for _, delay in proposed)


def test_waiting_for_sound_is_told_so_that_the_caller_can_look_around():
    assert list(hear([None, None], RATE, Wanted())) == [None, None]
