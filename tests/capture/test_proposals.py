"""The microphone in the background, fed with blocks of known sound."""

from datetime import timedelta

import pytest

from drift.capture.heard import Wanted, Why, parse_sides
from drift.capture.proposals import Proposal, Proposals
from drift.errors import InputError
from drift.instruments import find
from sensors.errors import SourceUnavailable
from tests.microphones import BEGAN, FedMicrophone, FixedClock, played


@pytest.fixture
def wanted() -> Wanted:
    return Wanted(instrument=find("double horn"), sides=parse_sides("Bb,F4=F", find("double horn")))


def test_tones_wait_in_a_list_until_they_are_taken(wanted):
    news: list[Proposal | str] = []
    microphone = FedMicrophone(played(("F4", 5), ("Bb3", -3), ("C6", 0)))
    with Proposals(microphone, wanted, FixedClock(), news.append) as live:
        assert microphone.given.wait(30)
        assert [proposal.text for proposal in live.waiting] == [
            "1: F4 +5.0 cents on the F side ±0.04, spread 0.0 (2.0 s)",
            "2: B♭3 -3.0 cents on the B♭ side ±0.04, spread 0.0 (1.9 s)",
        ]
        assert live.refused is not None
        assert live.refused.reason is Why.OUTSIDE_COMPASS
        reading = live.take(2).reading(
            rehearsal="hall", player="Rowan", instrument="double horn", a4_hz=440.0
        )
        assert (reading.note, reading.side) == ("Bb3", "Bb")
        # The second tone of 2 s stands between 5 s and 7 s.
        assert reading.time - BEGAN == pytest.approx(
            timedelta(seconds=6), abs=timedelta(seconds=0.1)
        )
        assert [proposal.number for proposal in live.waiting] == [1]
        oldest = live.take()
        assert oldest.number == 1
        with pytest.raises(InputError, match="no proposed reading waits") as nothing:
            live.take()
        assert "C6 is outside the compass" in nothing.value.remedy
        with pytest.raises(InputError, match="no proposed reading number 1 waits"):
            live.take(1)
        live.give_back(oldest)
        assert live.take() == oldest
    assert (microphone.opened, microphone.closed) == (True, True)
    assert [item.number for item in news if isinstance(item, Proposal)] == [1, 2]


def test_the_delay_of_a_microphone_is_taken_off_the_times(wanted):
    times = []
    for delay_s in (0.0, 0.4):
        microphone = FedMicrophone(played(("F4", 5)), delay_s=delay_s)
        with Proposals(microphone, wanted, FixedClock()) as live:
            assert microphone.given.wait(30)
            assert live.began == BEGAN - timedelta(seconds=delay_s)
            times.append(live.waiting[0].time)
    assert times[0] - times[1] == timedelta(seconds=0.4)


def test_a_microphone_that_goes_is_told(wanted):
    news: list[Proposal | str] = []
    gone = SourceUnavailable("the microphone has gone", "plug it in again and start over")
    with Proposals(FedMicrophone(played(), gone), wanted, FixedClock(), news.append) as live:
        live._thread.join(timeout=30)
    assert news == ["the microphone has gone; plug it in again and start over"]
    assert live.failure == news[0]


def test_what_nobody_foresaw_is_told_as_well(wanted):
    microphone = FedMicrophone(played(), RuntimeError("the driver is lost\nat line 3"))
    with Proposals(microphone, wanted, FixedClock()) as live:
        live._thread.join(timeout=30)
    assert live.failure == "the driver is lost"


def test_the_next_player_is_listened_for_with_another_instrument(wanted):
    microphone = FedMicrophone(played(("F5", 0)))
    microphone.go.clear()
    with Proposals(microphone, wanted, FixedClock()) as live:
        live.wanted = Wanted(instrument=find("BBb tuba"))
        microphone.go.set()
        assert microphone.given.wait(30)
        assert live.waiting == ()
        assert live.refused is not None
        assert live.refused.reason is Why.OUTSIDE_COMPASS
