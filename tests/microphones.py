"""Microphones of the tests: one fed with blocks, and a sounddevice that plays a prepared sound."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Self

import numpy as np

from drift.notes import hertz_of
from tests.sounds import Sound, horn, in_noise

RATE = 44_100
BEGAN = datetime(2026, 10, 3, 17, tzinfo=UTC)


class FixedClock:
    def now(self) -> datetime:
        return BEGAN

    def monotonic(self) -> float:
        return 0.0


class FedMicrophone:
    """Gives prepared blocks, then nothing until it is closed, or a failure."""

    rate = float(RATE)

    def __init__(
        self, sound: Sound, failure: Exception | None = None, delay_s: float = 0.0
    ) -> None:
        self.delay_s = delay_s
        self.blocks = np.array_split(sound, max(1, sound.size // 8820))
        self.failure = failure
        self.given, self.go = threading.Event(), threading.Event()
        self.go.set()
        self.opened = self.closed = False

    def __enter__(self) -> Self:
        self.opened = True
        return self

    def __exit__(self, *_: object) -> None:
        self.closed = True

    def __iter__(self) -> Iterator[Sound | None]:
        self.go.wait(30)
        yield from self.blocks
        if self.failure:
            raise self.failure
        self.given.set()
        while True:
            threading.Event().wait(0.01)
            yield None


def played(*notes: tuple[str, float]) -> Sound:
    rng = np.random.default_rng(5)
    sounds = [
        in_noise(horn(hertz_of(note) * 2 ** (cents / 1200), rng), 30, rng, rest=RATE)
        for note, cents in notes
    ]
    return np.concatenate([*sounds, np.zeros(2 * RATE, dtype=np.float32)])


_SOUNDDEVICE = """
import threading, time
import numpy as np

class PortAudioError(Exception):
    pass

def query_devices(device, kind):
    return {{"default_samplerate": {rate}.0}}

class InputStream:
    def __init__(self, *, callback, samplerate, blocksize, channels, dtype, device):
        self.callback, self.blocksize, self.active = callback, blocksize, True
        self.thread = threading.Thread(target=self.play, daemon=True)

    def start(self):
        self.thread.start()

    def play(self):
        sound = np.load({path!r})
        time.sleep(1.5)  # what follows is played fast; a first tone of two seconds is never sooner
        for at in range(0, len(sound), self.blocksize):
            self.callback(sound[at : at + self.blocksize, None], self.blocksize, None, "")
            time.sleep(0.001)

    def close(self):
        self.active = False
"""


def sounddevice(folder: Path, sound: Sound | None) -> dict[str, str]:
    """Return an environment where a sounddevice plays a sound; without one, it is missing."""
    place = folder / "site"
    place.mkdir()
    code = "raise ImportError('no module named sounddevice')"
    if sound is not None:
        np.save(folder / "sound.npy", sound)
        code = _SOUNDDEVICE.format(rate=RATE, path=str(folder / "sound.npy"))
    (place / "sounddevice.py").write_text(code, encoding="utf-8")
    path = os.pathsep.join(filter(None, [str(place), os.environ.get("PYTHONPATH")]))
    mine = {"PYTHONPATH": path, "XDG_CONFIG_HOME": str(folder / "settings"), "PYTHONUTF8": "1"}
    return {**os.environ, **mine, "OPENBLAS_NUM_THREADS": "1"}
