"""Sounds that others made: a small tests/benchmarks/study_other_sounds.py, on another seed."""

import numpy as np
import pytest
import soundfile

from sensors.sound import blocks_of, inspect
from tests.sounds import SOUND_FONT, needs


@pytest.fixture(scope="module")
def clips() -> list:
    needs("fluidsynth", str(SOUND_FONT))
    pytest.importorskip("pyroomacoustics", reason="the study needs pyroomacoustics")
    from tests.benchmarks.study_other_sounds import font_clips

    rng = np.random.default_rng(161)
    return [clip for clip in font_clips(rng, 1) if clip.source == "Fluid"]


def told(clips: list, sounds: list, rate: int) -> dict[str, float]:
    """Return the row of the study as numbers."""
    from tests.benchmarks.study_other_sounds import row

    names = ["notes", "taken", "wrong", "more", "error", "median", "u", "ratio", "within"]
    cells = row("here", clips, sounds, rate).strip("| ").split(" | ")[1:]
    return dict(zip(names, map(float, cells), strict=True))


@pytest.mark.slow
def test_winds_of_a_sound_font_are_heard_where_praat_hears_them(clips):
    found = told(clips, [clip.sound for clip in clips], 44_100)
    assert found["taken"] > 0.6
    assert (found["wrong"], found["more"]) == (0, 0)
    assert found["median"] < 0.2
    assert found["within"] > 0.85


@pytest.mark.slow
@pytest.mark.parametrize(
    ("ending", "kind"), [("mp3", "MPEG_LAYER_III"), ("ogg", "VORBIS"), ("opus", "OPUS")]
)
def test_a_codec_changes_no_note(clips, tmp_path, ending, kind):
    path = tmp_path / f"played.{ending}"
    container = "MP3" if ending == "mp3" else "OGG"
    sound = np.concatenate([clip.sound for clip in clips])
    rate = 48_000 if kind == "OPUS" else 44_100
    if rate != 44_100:
        at = np.arange(0, sound.size - 1, 44_100 / rate)
        sound = np.interp(at, np.arange(sound.size), sound).astype(np.float32)
    with soundfile.SoundFile(path, "w", rate, 1, subtype=kind, format=container) as file:
        for part in np.array_split(sound, 200):  # libsndfile cannot encode much at once
            file.write(part)
    heard = np.concatenate(list(blocks_of(path)))
    assert inspect(path).rate == rate
    sounds = np.array_split(heard, len(clips))  # all clips are as long
    found = told(clips, sounds, rate)
    assert found["taken"] > 0.6
    assert found["wrong"] == 0
    assert found["median"] < 0.3
