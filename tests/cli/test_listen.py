"""drift listen as a person runs it: readings into a logbook, and two lines for what is wrong."""

import io
import json
from datetime import UTC, datetime

import numpy as np
import pytest
import soundfile

import drift as package
from drift.notes import hertz_of
from tests.sounds import horn, in_noise

RATE = 44_100
STARTS = "2026-10-03T19:00:00+02:00"


def write_tones(path, tones, **tags):
    rng = np.random.default_rng(12)
    parts = [
        in_noise(horn(hertz_of(note) * 2 ** (cents / 1200), rng), 30, rng) for note, cents in tones
    ]
    with soundfile.SoundFile(path, "w", RATE, 1) as file:
        for name, value in tags.items():
            setattr(file, name, value)
        file.write(np.concatenate(parts))
    return path


@pytest.fixture
def take(tmp_path):
    return write_tones(tmp_path / "take.wav", [("F4", 6.0), ("C4", -4.0), ("Bb1", 0.0)])


@pytest.fixture
def into(tmp_path):
    """The arguments that keep the readings of a double horn."""
    return [
        "--into", tmp_path / "band.logbook", "--rehearsal", "hall", "--player", "Rowan",
        "--instrument", "double horn",
    ]  # fmt: skip


def readings(tmp_path):
    return package.load(tmp_path / "band.logbook").readings


def test_what_was_heard_is_told(drift, take):
    status, out, err = drift("listen", take)
    assert (status, err) == (0, "")
    first = next(line for line in out.splitlines() if "F4" in line)
    assert float(first.split()[4]) == pytest.approx(6.0, abs=0.02)


def test_json_is_one_object_with_the_keys_of_the_contract(drift, take):
    status, out, _ = drift("listen", take, "--json", "--instrument", "double horn")
    answer = json.loads(out)
    assert status == 0
    assert set(answer) == {"tones", "findings", "refused"}
    assert set(answer["tones"][0]) == {
        "start_s", "end_s", "hertz", "note", "cents", "cents_sd", "pair_probability",
        "spread_cents", "frames",
    }  # fmt: skip
    assert [tone["note"] for tone in answer["tones"]] == ["F4", "C4"]
    assert answer["tones"][0]["cents"] == pytest.approx(6.0, abs=0.02)
    assert set(answer["refused"][0]) == {"start_s", "end_s", "code", "reason"}
    assert "outside the compass of double horn" in answer["refused"][0]["reason"]


def test_several_recordings_name_each_tone_s_own(drift, take, tmp_path):
    other = write_tones(tmp_path / "other.flac", [("G4", 1.0)])
    answer = json.loads(drift("listen", take, other, "--json")[1])
    assert [tone["file"] for tone in answer["tones"]] == [str(take)] * 3 + [str(other)]


def test_readings_are_kept_at_the_time_they_were_played(drift, take, into, tmp_path):
    status, out, _ = drift("listen", take, *into, "--side", "Bb,C4=F", "--starts", STARTS)
    assert status == 0
    assert "saved 2 readings in" in out
    kept = readings(tmp_path)
    assert list(kept["note"]) == ["F4", "C4"]
    assert list(kept["side"]) == ["Bb", "F"]
    assert list(kept["player"]) == ["Rowan", "Rowan"]
    assert kept["cents"].tolist() == pytest.approx([6, -4], abs=0.02)
    began = datetime(2026, 10, 3, 17, tzinfo=UTC)
    # Each tone lasts 2 s between rests of 0.3 s.
    middles = [(time - began).total_seconds() for time in kept["time"]]
    assert middles == pytest.approx([1.3, 3.9], abs=0.05)
    assert kept["remark"][0].startswith("from take.wav at 0:00.")


def test_the_same_recording_is_not_kept_twice(drift, take, into, tmp_path):
    words = ["listen", take, *into, "--side", "Bb", "--starts", STARTS]
    drift(*words)
    status, out, _ = drift(*words)
    assert status == 0
    assert "saved 0 readings" in out
    assert "2 were there already" in out
    take.rename(tmp_path / "renamed.wav")
    drift("listen", tmp_path / "renamed.wav", *words[2:])
    assert len(readings(tmp_path)) == 2


def test_only_the_notes_asked_for_are_kept(drift, take, into, tmp_path):
    drift("listen", take, *into, "--side", "Bb", "--starts", STARTS, "--notes", "F4, Bb3")
    assert list(readings(tmp_path)["note"]) == ["F4"]


def test_a4_and_the_clock_of_the_recorder(drift, take, into, tmp_path):
    words = [*into, "--side", "Bb", "--starts", STARTS, "--notes", "F4"]
    drift("listen", take, *words, "--a4", "442", "--clock-ppm", "-50")
    kept = readings(tmp_path)
    # 1200 log2(440/442) = -7.851 and 1200 log2(1 - 50e-6) = -0.087, by hand.
    assert kept["cents"][0] == pytest.approx(6 - 7.851 - 0.087, abs=0.01)
    assert kept["a4_hz"][0] == 442


def test_the_recording_says_itself_when_it_began(drift, into, tmp_path):
    take = write_tones(tmp_path / "take.flac", [("F4", 6.0)], date=STARTS)
    status, _, err = drift("listen", take, *into, "--side", "Bb")
    assert status == 0
    assert "take.flac began at" in err
    assert readings(tmp_path)["time"][0].isoformat()[:17] == "2026-10-03T17:00:"


def test_without_a_zone_the_computer_s_is_taken_and_said(drift, into, tmp_path):
    take = write_tones(tmp_path / "take.flac", [("F4", 6.0)], date="2026-10-03T19:00:00")
    _, _, err = drift("listen", take, *into, "--side", "Bb")
    assert "in the time zone of this computer" in err
    local = datetime(2026, 10, 3, 19).astimezone(UTC)
    assert readings(tmp_path)["time"][0].isoformat()[:17] == local.isoformat()[:17]


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_on_a_terminal_it_asks_when_the_recording_began(drift, take, into, tmp_path, monkeypatch):
    monkeypatch.setattr("sys.stdin", Terminal(STARTS + "\n"))
    status, _, err = drift("listen", take, *into, "--side", "Bb")
    assert status == 0
    assert "when did take.wav begin" in err
    assert len(readings(tmp_path)) == 2


@pytest.mark.parametrize("name", ["found.png", "found.svg", "found.pdf"])
def test_a_picture_is_drawn(drift, take, tmp_path, name):
    status, _, _ = drift("listen", take, "--picture", tmp_path / name)
    assert status == 0
    assert (tmp_path / name).stat().st_size > 5000


def test_progress_is_told_on_a_terminal_for_a_long_recording(drift, tmp_path, monkeypatch):
    path = tmp_path / "long.wav"
    soundfile.write(path, np.zeros(8000 * 90), 8000)
    screen = Terminal()
    monkeypatch.setattr("sys.stderr", screen)
    drift("listen", path)
    assert "long.wav: 50 % of 2 minutes" in screen.getvalue()
    assert screen.getvalue().endswith("100 % of 2 minutes\n")


# -- what is wrong, in two lines ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "problem"),
    [
        (["--side", "Bb"], "take.wav does not say when it began"),
        (["--starts", STARTS], "which side of the double horn was played cannot be heard"),
        (["--side", "X", "--starts", STARTS], "has no side 'X'"),
        (["--side", "Bb", "--starts", "yesterday"], "'yesterday' is not a date"),
        (["--side", "Bb", "--starts", STARTS, "--starts", STARTS], "1 recordings and 2 times"),
        (["--side", "Bb", "--starts", STARTS, "--a4", "4400"], "outside 380 to 500 Hz"),
        (["--side", "Bb", "--starts", STARTS, "--clock-ppm", "1e9"], "is not a clock"),
        (["--side", "Bb", "--starts", STARTS, "--channel", "2"], "has no channel 2"),
        (["--side", "Bb", "--starts", STARTS, "--notes", "H4"], "H4"),
        (["--side", "Bb", "--starts", STARTS, "--notes", "D5"], "no reading in take.wav"),
    ],
)
def test_what_is_wrong_is_told_and_nothing_is_kept(drift, take, into, tmp_path, words, problem):
    status, out, err = drift("listen", take, *into, *words)
    assert status == 1
    assert out == ""
    assert problem in err
    assert len(err.splitlines()) == 2
    assert not (tmp_path / "band.logbook").exists()


@pytest.mark.parametrize("missing", ["--rehearsal", "--player", "--instrument"])
def test_a_name_that_is_missing_is_asked_for(drift, take, into, missing):
    at = into.index(missing)
    words = into[:at] + into[at + 2 :]
    status, _, err = drift("listen", take, *words, "--starts", STARTS)
    assert status == 1
    assert f"--into needs {missing}" in err


def test_one_bad_recording_does_not_stop_the_others(drift, take, into, tmp_path):
    bad = tmp_path / "bad.wav"
    bad.write_bytes(take.read_bytes()[:50_000])
    words = [*into, "--side", "Bb", "--starts", "2026-10-03T20:00:00+02:00", "--starts", STARTS]
    status, _, err = drift("listen", bad, take, *words)
    assert status == 0
    assert "not heard: bad.wav is cut short" in err
    kept = readings(tmp_path)
    assert list(kept["note"]) == ["F4", "C4"]
    assert kept["time"][0].isoformat()[:17] == "2026-10-03T17:00:"


def test_only_bad_recordings_are_a_failure(drift, tmp_path):
    for name in ("a.wav", "b.wav"):
        (tmp_path / name).write_text("nothing")
    status, out, err = drift("listen", tmp_path / "a.wav", tmp_path / "b.wav")
    assert (status, out) == (1, "")
    assert err.count("not heard") == 2


def test_every_reading_has_its_uncertainty_in_the_logbook(drift, take, into, tmp_path):
    drift("listen", take, *into, "--side", "Bb", "--starts", STARTS)
    kept = readings(tmp_path)
    assert kept["cents_sd"].between(0.001, 0.2).all()
    assert kept["pair_probability"].between(0, 0.01).all()


def test_a_part_of_a_recording_for_one_player(drift, take, into, tmp_path):
    words = [*into, "--side", "Bb", "--starts", STARTS]
    status, out, _ = drift("listen", take, *words, "--from", "0:02.6", "--to", "0:06")
    assert status == 0
    assert "F4: outside the part or the turns that were asked for" in out
    assert list(readings(tmp_path)["note"]) == ["C4"]


def test_a_table_of_turns_says_who_plays_when(drift, take, into, tmp_path):
    turns = tmp_path / "turns.csv"
    turns.write_text("start,end,player,side\n0:00,0:02.6,Mia,F\n0:02.6,0:06,Rowan,Bb\n")
    at = into.index("--player")
    words = [*into[:at], *into[at + 2 :], "--starts", STARTS, "--turns", turns]
    status, _, err = drift("listen", take, *words)
    assert (status, err) == (0, "")
    kept = readings(tmp_path)
    assert list(zip(kept["player"], kept["side"], kept["note"], strict=True)) == [
        ("Mia", "F", "F4"),
        ("Rowan", "Bb", "C4"),
    ]
    status, _, err = drift("listen", take, *words, "--player", "Mia")
    assert status == 1
    assert "--turns already says who plays when" in err


def test_listening_again_with_another_start_replaces_on_request(drift, take, into, tmp_path):
    words = ["listen", take, *into, "--side", "Bb"]
    drift(*words, "--starts", STARTS)
    later = "2026-10-03T20:00:00+02:00"
    status, out, _ = drift(*words, "--starts", later)
    assert status == 1
    assert "2 were saved otherwise before, and were left as they are" in out
    assert readings(tmp_path)["time"][0].hour == 17
    status, out, _ = drift(*words, "--starts", later, "--replace")
    assert status == 0
    assert "replaced 2; the old ones are undone" in out
    kept = readings(tmp_path)
    assert [time.hour for time in kept["time"]] == [18, 18]


def test_the_same_recording_for_a_second_player_is_a_warning(drift, take, into, tmp_path):
    words = ["--side", "Bb", "--starts", STARTS]
    drift("listen", take, *into, *words)
    into[into.index("Rowan")] = "Mia"
    status, out, _ = drift("listen", take, *into, *words)
    assert status == 0
    assert "check the player: readings of the same recording were saved for Rowan" in out


def test_a_silent_recording_says_so(drift, tmp_path):
    path = tmp_path / "take.wav"
    soundfile.write(path, np.zeros(3 * RATE), RATE)
    status, out, _ = drift("listen", path)
    assert status == 1
    assert "The recording is silent." in out
    assert json.loads(drift("listen", path, "--json")[1])["findings"][0]["code"] == "silent"


def test_reversed_polarity_is_said(drift, tmp_path, take):
    sound, _ = soundfile.read(take)
    path = tmp_path / "stereo.wav"
    soundfile.write(path, np.column_stack([sound, -sound]), RATE)
    status, out, _ = drift("listen", path)
    assert status == 0
    assert "One channel is the other upside down" in out
    assert "F4" in out


@pytest.mark.parametrize(
    "samples", [np.zeros(3 * RATE), np.random.default_rng(1).normal(0, 0.1, 3 * RATE)]
)
def test_a_recording_without_a_tone_keeps_nothing(drift, into, tmp_path, samples):
    path = tmp_path / "take.wav"
    soundfile.write(path, samples, RATE)
    status, _, err = drift("listen", path, *into, "--side", "Bb", "--starts", STARTS)
    assert status == 1
    assert "no reading in take.wav: " in err
    assert not (tmp_path / "band.logbook").exists()


def test_a_picture_that_cannot_be_written_is_told(drift, take, tmp_path):
    status, _, err = drift("listen", take, "--picture", tmp_path / "none" / "found.png")
    assert status == 1
    assert "cannot be written" in err
