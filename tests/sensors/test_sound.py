"""Recordings that can be read, recordings that are refused, and the microphone."""

import struct
import subprocess
import sys
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest
import soundfile

from sensors.errors import RecordingError, SourceUnavailable
from sensors.riff import moment, read_header
from sensors.sound import Layout, blocks_of, inspect, layout_of
from sensors.tones import Tone, ToneFinder
from tests.sounds import horn, in_noise

RATE = 44_100


@pytest.fixture
def sound() -> np.ndarray:
    time = np.arange(2 * RATE) / RATE
    return (0.3 * np.sin(2 * np.pi * 349.2 * time)).astype(np.float32)


@pytest.fixture
def wav(tmp_path, sound) -> Path:
    path = tmp_path / "take.wav"
    soundfile.write(path, sound, RATE, subtype="PCM_16")
    return path


def heard(path: Path, **options) -> np.ndarray:
    return np.concatenate(list(blocks_of(path, **options)))


KINDS = [
    *((kind, subtype)
      for kind in ("WAV", "WAVEX", "RF64")
      for subtype in ("PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE")),
    ("FLAC", "PCM_16"),
    ("FLAC", "PCM_24"),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "subtype"), KINDS)
def test_every_trusted_kind_gives_its_samples(tmp_path, sound, kind, subtype):
    path = tmp_path / ("take.flac" if kind == "FLAC" else "take.wav")
    soundfile.write(path, sound, RATE, subtype=subtype, format=kind)
    about = inspect(path)
    assert (about.rate, about.channels, about.seconds) == (RATE, 1, 2.0)
    assert about.kind == f"{kind} {subtype}"
    np.testing.assert_allclose(heard(path), sound, atol=1 / 32_000)


LOSSY = [
    ("take.mp3", "MPEG_LAYER_III", 44_100),
    ("take.ogg", "VORBIS", 44_100),
    ("take.opus", "OPUS", 48_000),
    ("take.aiff", "PCM_16", 44_100),
    ("take.caf", "PCM_16", 44_100),
    ("take.caf", "ALAC_16", 44_100),
    ("take.wav", "PCM_U8", 8000),
    ("take.wav", "ULAW", 8000),
    ("take.flac", "PCM_S8", 8000),
]


@pytest.mark.parametrize(("name", "subtype", "rate"), LOSSY)
def test_what_telephones_and_recorders_write_keeps_the_pitch(tmp_path, name, subtype, rate):
    """Measured worst for one encoding: 0.014 cents at MP3 32 kbit/s, 0.038 at Opus 24 kbit/s.

    Eight bits leave noise 50 dB down, which the uncertainty must cover.
    """
    rng = np.random.default_rng(7)
    kind = "OGG" if name.endswith(".opus") else None
    path = tmp_path / name
    played = in_noise(horn(349.2, rng, rate=rate), 40, rng, rest=rate // 4)
    soundfile.write(path, played, rate, subtype=subtype, format=kind)
    (tone,) = (item for item in tones_of(path) if isinstance(item, Tone))
    error = abs(1200 * np.log2(tone.hertz / 349.2))
    assert error < 0.05
    assert error < 3 * tone.cents_sd
    assert inspect(path).seconds == pytest.approx(played.size / rate, abs=0.1)


def tones_of(path: Path) -> list[object]:
    finder = ToneFinder(inspect(path).rate)
    return [item for block in blocks_of(path) for item in finder.hear(block)] + [*finder.finish()]


@pytest.mark.parametrize(("coder", "name"), [("aac", "take.m4a"), ("alac", "take.m4a")])
def test_a_recording_of_a_telephone_is_read_with_its_date(tmp_path, coder, name):
    pytest.importorskip("av", reason="needs the extra phone")
    rng = np.random.default_rng(7)
    path = tmp_path / name
    encode(path, in_noise(horn(349.2, rng), 40, rng), coder)
    about = inspect(path)
    assert about.started == datetime(2026, 10, 3, 17, 30, 5, tzinfo=UTC)
    assert about.kind == f"M4A {coder.upper()}"
    assert about.seconds == pytest.approx(2.6, abs=0.05)
    (tone,) = (item for item in tones_of(path) if isinstance(item, Tone))
    assert abs(1200 * np.log2(tone.hertz / 349.2)) < 0.02


def encode(path: Path, sound: np.ndarray, coder: str) -> None:
    import av

    with av.open(str(path), "w", options={"movflags": "use_metadata_tags"}) as container:
        container.metadata["creation_time"] = "2026-10-03T17:30:05Z"
        stream = container.add_stream(coder, rate=RATE, layout="mono")
        layout = "s16p" if coder == "alac" else "fltp"
        samples = (sound * 32_767).astype(np.int16) if coder == "alac" else sound.astype(np.float32)
        for at in range(0, sound.size, 1024):
            frame = av.AudioFrame.from_ndarray(samples[None, at : at + 1024], layout, "mono")
            frame.sample_rate = RATE
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))


def test_a_damaged_recording_of_a_telephone_is_refused(tmp_path):
    pytest.importorskip("av", reason="needs the extra phone")
    path = tmp_path / "take.m4a"
    path.write_bytes(b"not a recording" * 100)
    with pytest.raises(RecordingError, match=r"take\.m4a cannot be decoded"):
        inspect(path)


def test_without_its_package_the_line_that_converts_is_told(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "av", None)
    path = tmp_path / "take.m4a"
    path.write_bytes(b"x")
    with pytest.raises(SourceUnavailable, match=r"take\.m4a needs the package av") as refusal:
        inspect(path)
    assert "ffmpeg -i take.m4a take.wav" in refusal.value.remedy


@pytest.mark.parametrize(
    ("columns", "distinct", "inverted"),
    [
        ((1, 1), (1,), False),
        ((1, -1), (1,), True),
        ((0, 1), (2,), False),
        ((0, 0), (1,), False),
        ((1, 0.5, -1), (1,), True),
    ],
)
def test_copies_and_silent_channels_are_left_out(tmp_path, sound, columns, distinct, inverted):
    path = tmp_path / "take.wav"
    soundfile.write(path, np.column_stack([factor * sound for factor in columns]), RATE)
    assert layout_of(path) == Layout(distinct, inverted)


def test_two_microphones_are_two_channels(tmp_path, sound):
    rng = np.random.default_rng(2)
    path = tmp_path / "take.wav"
    other = sound + 0.1 * rng.normal(size=sound.size)
    soundfile.write(path, np.column_stack([sound, other]), RATE)
    assert layout_of(path) == Layout((1, 2), inverted=False)


def test_several_channels_are_averaged_or_one_is_chosen(tmp_path, sound):
    path = tmp_path / "take.wav"
    soundfile.write(path, np.column_stack([sound, 0 * sound, -sound / 2]), RATE, subtype="FLOAT")
    np.testing.assert_allclose(heard(path), sound / 6, atol=1e-6)
    np.testing.assert_allclose(heard(path, channel=3), -sound / 2, atol=1e-6)
    with pytest.raises(RecordingError, match=r"take\.wav has no channel 4"):
        heard(path, channel=4)


def test_blocks_join_to_the_whole(wav):
    assert [len(block) for block in blocks_of(wav, frames=30_000)] == [30_000, 30_000, 28_200]


# -- bad input ------------------------------------------------------------------------------------


def test_a_missing_file_and_a_folder_are_named(tmp_path):
    with pytest.raises(SourceUnavailable, match=r"none\.wav cannot be read: No such file"):
        inspect(tmp_path / "none.wav")
    with pytest.raises(SourceUnavailable, match="cannot be read"):
        inspect(tmp_path)


def test_an_empty_file_is_refused(tmp_path):
    path = tmp_path / "take.wav"
    path.write_bytes(b"")
    with pytest.raises(RecordingError, match=r"take\.wav is empty"):
        inspect(path)


def test_a_recording_of_no_length_is_refused(tmp_path):
    path = tmp_path / "take.wav"
    soundfile.write(path, np.zeros(0), RATE)
    with pytest.raises(RecordingError, match=r"take\.wav holds no samples"):
        inspect(path)


@pytest.mark.parametrize("left", [0.9, 0.5, 0.01])
def test_a_truncated_wav_is_refused(wav, left):
    whole = wav.read_bytes()
    wav.write_bytes(whole[: 44 + int(left * (len(whole) - 44))])
    with pytest.raises(RecordingError, match=r"cut short: its header announces \d+ bytes more"):
        inspect(wav)


def test_a_wav_whose_recorder_could_not_go_back_is_taken(wav, sound):
    """Programs that write to a pipe leave the sizes at their largest."""
    whole = bytearray(wav.read_bytes())
    at = whole.index(b"data") + 4
    whole[4:8] = whole[at : at + 4] = b"\xff" * 4
    wav.write_bytes(whole)
    assert inspect(wav).seconds == 2.0
    assert heard(wav).size == sound.size


@pytest.mark.parametrize("left", [0.9, 0.5])
def test_a_truncated_flac_is_refused(tmp_path, left):
    path = tmp_path / "take.flac"
    soundfile.write(path, np.random.default_rng(1).normal(0, 0.1, 3 * RATE), RATE)
    whole = path.read_bytes()
    path.write_bytes(whole[: int(left * len(whole))])
    with pytest.raises(RecordingError, match=r"cannot be decoded after|is cut short"):
        heard(path)


def test_a_flac_with_a_hole_is_refused(tmp_path):
    path = tmp_path / "take.flac"
    soundfile.write(path, np.random.default_rng(1).normal(0, 0.1, 3 * RATE), RATE)
    whole = bytearray(path.read_bytes())
    whole[100_000:110_000] = bytes(10_000)
    path.write_bytes(whole)
    with pytest.raises(RecordingError, match=r"cannot be decoded after|is cut short"):
        heard(path)


@pytest.mark.parametrize("name", ["notes.wav", "notes.flac", "notes.pdf"])
def test_text_is_no_recording(tmp_path, name):
    path = tmp_path / name
    path.write_text("F4 +6\n" * 100)
    with pytest.raises(RecordingError, match=rf"{name} is not a recording that can be read"):
        inspect(path)


def test_a_wrong_ending_is_refused(tmp_path, wav, sound):
    flac = tmp_path / "take.flac"
    soundfile.write(flac, sound, RATE)
    flac.rename(tmp_path / "other.wav")
    wav.rename(flac)
    with pytest.raises(RecordingError, match=r"contains FLAC but its name ends in \.wav"):
        inspect(tmp_path / "other.wav")
    with pytest.raises(RecordingError, match=r"contains WAV but its name ends in \.flac"):
        inspect(flac)


@pytest.mark.parametrize("subtype", ["IMA_ADPCM", "MS_ADPCM", "GSM610"])
def test_coarse_samples_are_refused(tmp_path, sound, subtype):
    path = tmp_path / "take.wav"
    soundfile.write(path, sound, 8000, subtype=subtype)
    with pytest.raises(RecordingError, match=f"holds {subtype} samples, too coarse"):
        inspect(path)


def test_another_container_is_refused_with_the_remedy(tmp_path, sound):
    path = tmp_path / "take.au"
    soundfile.write(path, sound, RATE)
    with pytest.raises(RecordingError, match="holds AU, not WAV, AIFF, CAF") as refusal:
        inspect(path)
    assert refusal.value.remedy == "export it as WAV, AIFF, CAF, FLAC, MP3 or Ogg"


@pytest.mark.parametrize("value", [3e38, -3e38, np.nan, np.inf])
def test_a_sample_that_no_microphone_gives_is_refused(tmp_path, sound, value):
    """Beyond full scale by so much, squares overflow."""
    path = tmp_path / "take.wav"
    sound[RATE] = value
    soundfile.write(path, np.column_stack([sound, sound]), RATE, subtype="FLOAT")
    with pytest.raises(RecordingError, match=r"at 1\.000 s is (.*beyond full|not a num)"):
        heard(path)
    with pytest.raises(RecordingError, match=r"the sample at 1\.000 s is"):
        list(ToneFinder(RATE).hear(sound))


def test_any_bytes_are_read_or_refused(tmp_path, wav):
    """Whatever stands in a file, it is read or refused in words, never anything else."""
    whole = wav.read_bytes()
    rng = np.random.default_rng(3)
    path = tmp_path / "mutated.wav"
    for _ in range(200):
        bad = bytearray(whole[: int(rng.integers(1, 4000))])
        for at in rng.integers(0, min(len(bad), 60), int(rng.integers(0, 6))):
            bad[at] = int(rng.integers(256))
        path.write_bytes(bad)
        refusal: RecordingError | SourceUnavailable | None = None
        try:
            if inspect(path):
                heard(path)
        except (RecordingError, SourceUnavailable) as error:
            refusal = error
        assert refusal is None or (refusal.problem and refusal.remedy)


# -- when it began --------------------------------------------------------------------------------


def with_bext(path: Path, date: str, time: str) -> None:
    """Put a broadcast extension (EBU Tech 3285) before the samples."""
    whole = path.read_bytes()
    chunk = bytes(256 + 32 + 32) + (date + time).encode() + bytes(602 - 338)
    whole = whole[:12] + b"bext" + struct.pack("<I", len(chunk)) + chunk + whole[12:]
    path.write_bytes(whole[:4] + struct.pack("<I", len(whole) - 8) + whole[8:])


@pytest.mark.parametrize("time", ["19:30:05", "19-30-05", "19.30.05"])
def test_a_broadcast_wav_says_when_it_began(wav, time):
    with_bext(wav, "2026-10-03", time)
    assert inspect(wav).started == datetime(2026, 10, 3, 19, 30, 5)  # noqa: DTZ001 (no zone in it)


@pytest.mark.parametrize("date", ["0000-00-00", "\0" * 10, "yesterday!"])
def test_an_unset_broadcast_date_is_no_date(wav, date):
    with_bext(wav, date, "00:00:00")
    assert inspect(wav).started is None


@pytest.mark.parametrize("name", ["take.wav", "take.flac"])
def test_a_date_tag_with_a_time_is_the_beginning(tmp_path, sound, name):
    for tag, expected in (
        ("2026-10-03T19:30:05+02:00",
         datetime(2026, 10, 3, 19, 30, 5, tzinfo=timezone(timedelta(hours=2)))),
        ("2026-10-03T17:30:05Z", datetime(2026, 10, 3, 17, 30, 5, tzinfo=UTC)),
        ("2026", None),
        ("2026-10-03", None),
    ):  # fmt: skip
        path = tmp_path / name
        with soundfile.SoundFile(path, "w", RATE, 1) as file:
            file.date = tag
            file.write(sound)
        assert inspect(path).started == expected


def test_a_header_of_something_else_says_nothing(tmp_path):
    path = tmp_path / "take.flac"
    path.write_bytes(b"fLaC" + bytes(40))
    assert read_header(path) == read_header(path).__class__()
    assert moment("2026-13-45T99:99:99") is None


# -- memory ---------------------------------------------------------------------------------------

PEAK = """
import resource, sys
from pathlib import Path
from sensors.sound import blocks_of, inspect
from sensors.tones import ToneFinder
path = Path(sys.argv[1])
finder = ToneFinder(inspect(path).rate)
items = [item for block in blocks_of(path) for item in finder.hear(block)] + [*finder.finish()]
assert [item.reason for item in items] == ["silence"], items
status = Path("/proc/self/status")
if status.exists():  # ru_maxrss would count what the parent process needed, too
    line = next(line for line in status.read_text().splitlines() if line.startswith("VmHWM"))
    print(line.split()[1])
else:
    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="resource is not on Windows")
@pytest.mark.slow
def test_a_long_recording_needs_no_more_memory_than_a_short_one(tmp_path):
    peaks = []
    for minutes in (1, 20):
        path = tmp_path / f"{minutes}.wav"
        data = minutes * 60 * RATE * 6  # two channels of 24 bit, a hole in the file
        head = struct.pack("<4sI4s4sIHHIIHH4sI", b"RIFF", data + 36, b"WAVE", b"fmt ", 16, 1, 2,
                           RATE, RATE * 6, 6, 24, b"data", data)  # fmt: skip
        with path.open("wb") as file:
            file.write(head)
            file.truncate(len(head) + data)
        done = subprocess.run(
            [sys.executable, "-c", PEAK, str(path)], capture_output=True, text=True, check=True
        )
        peaks.append(int(done.stdout) / 1024)
    assert peaks[1] < 200
    assert peaks[1] - peaks[0] < 10
