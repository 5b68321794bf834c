"""The microphone in the background, fed with blocks of known sound."""

import threading
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from drift.capture.listening import Wanted, parse_sides
from drift.capture.proposals import Proposal, Proposals
from drift.errors import InputError
from drift.instruments import find
from drift.notes import hertz_of
from sensors.errors import SourceUnavailable
from tests.sounds import horn, in_noise

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

    def __init__(self, sound: np.ndarray, failure: Exception | None = None) -> None:
        self.blocks = np.array_split(sound, max(1, sound.size // 8820))
        self.failure = failure
        self.given, self.go = threading.Event(), threading.Event()
        self.go.set()
        self.opened = self.closed = False

    def __enter__(self):
        self.opened = True
        return self

    def __exit__(self, *_: object) -> None:
        self.closed = True

    def __iter__(self):
        self.go.wait(30)
        yield from self.blocks
        if self.failure:
            raise self.failure
        self.given.set()
        while True:
            threading.Event().wait(0.01)
            yield None


def played(*notes: tuple[str, float]) -> np.ndarray:
    rng = np.random.default_rng(5)
    sounds = [
        in_noise(horn(hertz_of(note) * 2 ** (cents / 1200), rng), 30, rng, rest=RATE)
        for note, cents in notes
    ]
    return np.concatenate([*sounds, np.zeros(2 * RATE, dtype=np.float32)])


@pytest.fixture
def wanted() -> Wanted:
    return Wanted(instrument=find("double horn"), sides=parse_sides("Bb,F4=F", find("double horn")))


def test_tones_wait_in_a_list_until_they_are_taken(wanted):
    news: list[Proposal | str] = []
    microphone = FedMicrophone(played(("F4", 5), ("Bb3", -3), ("C6", 0)))
    with Proposals(microphone, wanted, FixedClock(), news.append) as live:
        assert microphone.given.wait(30)
        assert [proposal.text for proposal in live.waiting] == [
            "1: F4 F +5.0 cents (spread 0.0)",
            "2: B♭3 B♭ -3.0 cents (spread 0.0)",
        ]
        assert live.refused is not None
        assert "outside the compass" in live.refused.reason
        reading = live.take().reading(
            rehearsal="hall", player="Rowan", instrument="double horn", a4_hz=440.0
        )
        assert (reading.note, reading.side) == ("Bb3", "Bb")
        # The second tone of 2 s stands between 5 s and 7 s.
        assert reading.time - BEGAN == pytest.approx(
            timedelta(seconds=6), abs=timedelta(seconds=0.1)
        )
        assert [proposal.number for proposal in live.waiting] == [1]
        live.take(1)
        with pytest.raises(InputError, match="no proposed reading waits"):
            live.take()
        with pytest.raises(InputError, match="no proposed reading number 1 waits"):
            live.take(1)
    assert (microphone.opened, microphone.closed) == (True, True)
    assert [item.number for item in news if isinstance(item, Proposal)] == [1, 2]


def test_a_microphone_that_goes_is_told(wanted):
    news: list[Proposal | str] = []
    gone = SourceUnavailable("the microphone has gone", "plug it in again and start over")
    with Proposals(FedMicrophone(played(), gone), wanted, FixedClock(), news.append) as live:
        live._thread.join(timeout=30)
    assert news == ["the microphone has gone; plug it in again and start over"]
    assert live.failure == news[0]


def test_the_next_player_is_listened_for_with_another_instrument(wanted):
    microphone = FedMicrophone(played(("F5", 0)))
    microphone.go.clear()
    with Proposals(microphone, wanted, FixedClock()) as live:
        live.wanted = Wanted(instrument=find("BBb tuba"))
        microphone.go.set()
        assert microphone.given.wait(30)
        assert live.waiting == ()
        assert live.refused is not None
        assert "outside the compass of BBb tuba" in live.refused.reason
