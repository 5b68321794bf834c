"""Players of known pitch in simulated rooms, for the study of listening and its tests.

Three kinds of player, none of them recorded from anybody: added harmonics that waver, the notes of
a General MIDI sound font, and two physical models (a reed and a lip on a tube). A player's pitch is
bent along a curve by reading the sound at a varying speed, so it is known at every moment.

References
----------
.. [1] M. E. McIntyre, R. T. Schumacher, J. Woodhouse, "On the oscillations of musical
   instruments", Journal of the Acoustical Society of America 74, 1983 (reed and lip on a delay
   line; from memory).
.. [2] J. B. Allen, D. A. Berkley, "Image method for efficiently simulating small-room acoustics",
   Journal of the Acoustical Society of America 65, 1979 (as pyroomacoustics has it; from memory).
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage, signal

from sensors.frames import FrameReader
from tests.sounds import CLARINET, FLUTE, TROMBONE, TRUMPET, TUBA, Played, sampled

RATE = 16_000
LOBE = 4  # oversampling before a sound is read at another speed
OBOE, BASSOON, ALTO_SAX = 68, 70, 65
FONT = {
    TRUMPET: (58, 74), TROMBONE: (46, 65), TUBA: (34, 53), CLARINET: (53, 77), FLUTE: (62, 84),
    OBOE: (60, 79), BASSOON: (38, 60), ALTO_SAX: (53, 74),
}  # fmt: skip
"""Without the French horn of the font, which is a section of several that beat."""

Sound = NDArray[np.float64]


@dataclass(frozen=True)
class Room:
    """How two places in a room sound at one microphone.

    Attributes
    ----------
    seconds : float
        Reverberation time asked for [s]; 0 for no room at all.
    direct_db : float
        Direct over reverberant sound of the first place [dB].
    responses : list of ndarray
        Impulse responses, scaled to one at their direct sound.
    """

    seconds: float
    direct_db: float
    responses: list[Sound]

    @property
    def is_hall(self) -> bool:
        """Whether it reverberates for a second or more, over nearly all of what is heard."""
        return self.seconds >= 1 and self.direct_db <= 3


_EDGE_S = 0.075
_STRAY_CENTS = 30.0
BEGINS_S = 0.25
"""When a note begins in what is heard."""
_HEARD_DB = (-6.0, 12.0)  # a recorder on a stand, from near to the other end of a stage
DRY = Room(0.0, 99.0, [np.ones(1), np.ones(1)])


def room(rng: np.random.Generator) -> Room:
    """Return a shoebox between a practice room and a hall, by image sources and rays."""
    import pyroomacoustics as pra

    pra.random.seed(int(rng.integers(2**31)))
    while True:
        made = _room(pra, rng)
        if _HEARD_DB[0] <= made.direct_db <= _HEARD_DB[1]:
            return made


def _room(pra: Any, rng: np.random.Generator) -> Room:
    seconds = float(0.25 * 12 ** rng.uniform())
    size = (3.2 + 3.4 * seconds**0.7) * rng.uniform(0.8, 1.25)
    walls = np.array([size * rng.uniform(1.0, 1.5), size, max(2.5, 0.4 * size)])
    absorption = min(0.95, pra.inverse_sabine(seconds, walls)[0])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        shoebox = pra.ShoeBox(
            walls,
            fs=RATE,
            materials=pra.Material(absorption, 0.1),
            max_order=6,
            ray_tracing=True,
            air_absorption=False,
        )
        shoebox.set_ray_tracing(receiver_radius=0.4)
        microphone = walls * [rng.uniform(0.3, 0.7), rng.uniform(0.3, 0.7), 0] + [0, 0, 1.4]
        shoebox.add_microphone(microphone)
        for _ in range(2):
            shoebox.add_source(_place(microphone, walls, rng))
        shoebox.compute_rir()
    responses = [_scaled(np.asarray(response)) for response in shoebox.rir[0]]
    return Room(seconds, direct_over_reverberant_db(responses[0]), responses)


def direct_over_reverberant_db(response: Sound) -> float:
    """Return the energy until 2.5 ms after the direct sound over that of the rest [dB]."""
    end = int(np.argmax(np.abs(response))) + RATE // 400
    rest = float(np.sum(response[end:] ** 2))
    return float(10 * np.log10(np.sum(response[:end] ** 2) / max(rest, 1e-12)))


def _place(microphone: Sound, walls: Sound, rng: np.random.Generator) -> Sound:
    while True:
        distance, angle = 0.3 * 13 ** rng.uniform(), rng.uniform(0, 2 * np.pi)
        place = microphone + distance * np.array([np.cos(angle), np.sin(angle), 0.0])
        if np.all(place > 0.3) and np.all(place < walls - 0.3):
            return np.asarray(place)


def _scaled(response: Sound) -> Sound:
    start = int(np.argmax(np.abs(response) > 0.1 * np.abs(response).max()))
    response = response[max(0, start - 40) :]
    return np.asarray(response / np.abs(response[:120]).max())


# -- players ------------------------------------------------------------------------------------


def added(hertz: float, rng: np.random.Generator, seconds: float) -> Sound:
    """Return harmonics under a formant that waver by up to 3 dB, each its own way."""
    time = np.arange(round(seconds * RATE)) / RATE
    formant, slope = 400 * 4 ** rng.uniform(), rng.uniform(1.5, 3)
    hollow = rng.uniform(0, 1) if rng.uniform() < 0.25 else 1.0
    waver = rng.uniform(0, 3)
    sound = np.zeros(time.size)
    for order in range(1, int(min(24, 0.45 * RATE / hertz)) + 1):
        size = 1 / (1 + (order * hertz / formant) ** slope) * 10 ** (rng.normal(0, 4) / 20)
        size *= hollow if order % 2 == 0 else 1.0
        wobble = 10 ** (waver * _smooth(time.size, rng, 0.15) / 20)
        phase = 0.05 * waver * _smooth(time.size, rng, 0.15)
        sound += (
            size * wobble * np.sin(2 * np.pi * order * hertz * time + phase + rng.uniform(0, 7))
        )
    return sound


def reed(hertz: float, rng: np.random.Generator, seconds: float) -> Sound:
    """Return a reed on a cylinder: a delay line of half a period with a loss and a table."""
    count = round(seconds * RATE)
    length = RATE / hertz / 2 - 1.0
    whole = int(length)
    part = length - whole
    line = np.zeros(whole + 2)
    breath = 0.75 + 0.02 * _smooth(count, rng, 0.1) + 0.003 * rng.normal(size=count)
    breath *= np.clip(np.arange(count) / (0.05 * RATE), 0, 1)
    out, held, at, before = np.zeros(count), 0.0, 0, line.size
    stiff = rng.uniform(-0.35, -0.25)
    for now in range(count):
        late = (1 - part) * line[(at - whole) % before] + part * line[(at - whole - 1) % before]
        held = 0.5 * (held + late)
        back = -0.95 * held - breath[now]
        line[at] = breath[now] + back * min(1.0, max(-1.0, 0.7 + stiff * back))
        out[now] = late
        at = (at + 1) % before
    return out - signal.lfilter([0.005], [1, -0.995], out)


def lip(hertz: float, rng: np.random.Generator, seconds: float) -> Sound:
    """Return lips on a tube: a resonator that opens a valve into a delay line of a period."""
    count = round(seconds * RATE)
    length = RATE / hertz
    whole = int(length)
    part = length - whole
    line = np.zeros(whole + 2)
    radius = 0.997
    a1, a2 = -2 * radius * np.cos(2 * np.pi * hertz / RATE), radius**2
    breath = 0.9 + 0.02 * _smooth(count, rng, 0.1) + 0.003 * rng.normal(size=count)
    breath *= np.clip(np.arange(count) / (0.08 * RATE), 0, 1)
    out, at, size = np.zeros(count), 0, line.size
    y1 = y2 = dc_in = dc_out = 0.0
    for now in range(count):
        bore = 0.85 * (
            (1 - part) * line[(at - whole) % size] + part * line[(at - whole - 1) % size]
        )
        mouth = 0.3 * breath[now]
        y = 0.03 * (mouth - bore) - a1 * y1 - a2 * y2
        y2, y1 = y1, y
        opening = min(1.0, y * y)
        into = opening * mouth + (1 - opening) * bore
        dc_out = into - dc_in + 0.999 * dc_out
        dc_in = into
        line[at] = dc_out
        out[now] = dc_out
        at = (at + 1) % size
    return out


def font_notes(rng: np.random.Generator, each: int, seconds: float) -> list[Sound]:
    """Return notes of the sound font, `each` of every instrument in its usual range."""
    notes = []
    for program, (low, high) in FONT.items():
        for midi in rng.integers(low, high, each):
            sound = sampled([Played(0.0, seconds, int(midi), 0, program)], rate=RATE)
            notes.append(np.asarray(sound[: round(seconds * RATE)], dtype=float))
    return notes


@dataclass(frozen=True)
class Note:
    """A held note as it left the player.

    Attributes
    ----------
    sound : ndarray
        Samples, RMS 1.
    time_s, hertz : ndarray
        Its pitch over time, from the dry sound [s, Hz].
    """

    sound: Sound
    time_s: Sound
    hertz: Sound

    def mean_hertz(self, start_s: float, end_s: float) -> float:
        """Return the pitch that was held between two times, a plain mean [Hz]."""
        end_s = min(end_s, self.sound.size / RATE)
        inside = (self.time_s > start_s + _EDGE_S) & (self.time_s < end_s - _EDGE_S)
        middle = float(np.median(self.hertz[inside]))
        cents = 1200 * np.log2(self.hertz[inside] / middle)
        return middle * 2 ** (float(cents[np.abs(cents) < _STRAY_CENTS].mean()) / 1200)


def held(base: Sound, own_hertz: float, rng: np.random.Generator, **how: Any) -> Note:
    """Play a steady note at another pitch, wandering, with vibrato, and with an end.

    Parameters
    ----------
    base : ndarray
        A steady note.
    own_hertz : float
        Its pitch (`pitch_of`) [Hz].
    rng : Generator
        For its shape.
    how
        `seconds` [s], `hertz`, `wander_cents` and `vibrato_cents`.
    """
    count = round(how["seconds"] * RATE)
    time = np.arange(count) / RATE
    curve = how.get("wander_cents", 0.0) * _smooth(count, rng, 0.4)
    depth = how.get("vibrato_cents", 0.0)
    curve += depth * np.sin(2 * np.pi * rng.uniform(4.5, 6.5) * time + rng.uniform(0, 7))
    speed = how["hertz"] / own_hertz * 2 ** (curve / 1200)
    skip = round(0.15 * RATE)
    sound = _read_at(base, skip + np.cumsum(speed))
    edge = np.clip(np.minimum(time, time[-1] - time) / 0.04, 0, 1)
    sound *= np.sin(np.pi / 2 * edge) ** 2
    sound /= np.sqrt(np.mean(sound**2))
    return Note(sound, *_track(sound))


def pitch_of(sound: Sound) -> float:
    """Return the mean pitch of a steady, dry note without its edges [Hz]."""
    return Note(sound, *_track(sound)).mean_hertz(0.15, sound.size / RATE - 0.15)


def _track(sound: Sound) -> tuple[Sound, Sound]:
    frames = list(FrameReader(RATE).read(np.pad(sound, (0, 3 * RATE)).astype(np.float32)))
    hertz = np.concatenate([each.hertz for each in frames])
    return np.concatenate([each.time_s for each in frames]), hertz


def _read_at(sound: Sound, where: Sound) -> Sound:
    fine = signal.resample(sound, LOBE * sound.size)
    where = where[where < sound.size - 2]
    return np.asarray(ndimage.map_coordinates(fine, [LOBE * where], order=3))


def _smooth(count: int, rng: np.random.Generator, seconds: float) -> Sound:
    """Return a smooth random curve of standard deviation one about zero."""
    knots = max(6, round(count / RATE / seconds) + 4)
    curve = signal.resample(rng.normal(size=knots), 64 * knots)
    curve = np.interp(np.linspace(1, knots - 2, count), np.arange(64 * knots) / 64, curve)
    return np.asarray(curve)


# -- heard --------------------------------------------------------------------------------------


def heard(notes: list[Note], levels: list[float], where: Room, snr_db: float, rng: Any) -> Sound:
    """Return what a microphone gets of notes that are played together, at RMS 0.1."""
    longest = max(note.sound.size for note in notes)
    tail = max(response.size for response in where.responses)
    total = np.zeros(longest + tail + RATE // 2)
    for note, level, response in zip(notes, levels, where.responses, strict=False):
        wet = signal.fftconvolve(note.sound, response)
        total[RATE // 4 : RATE // 4 + wet.size] += level * wet
    total /= np.sqrt(np.mean(total[RATE // 4 : RATE // 4 + longest] ** 2))
    total += rng.normal(size=total.size) * 10 ** (-snr_db / 20)
    return np.asarray(0.1 * total, dtype=np.float32)
