"""No rehearsal is called high and low at once."""

from dataclasses import replace

import pytest

from drift.regression import notices
from drift.regression.fits import fit
from drift.regression.notices import Notice, NoticeKind, notices_of
from tests.bands import band_season

COLDER = Notice(NoticeKind.THERMOMETER, 0.9, 1000.0, "7 May", size=-3.1, cents=-9.0)
HIGH = Notice(NoticeKind.A4, 0.9, 900.0, "7 May", size=438.0, cents=8.0)


@pytest.fixture(scope="module")
def found():
    return fit(band_season(3, 3, 3)[0])


@pytest.mark.parametrize(
    ("second", "told"),
    [
        (HIGH, False),
        (replace(HIGH, cents=-8.0), True),  # it goes on in the same way
        (replace(HIGH, rehearsal="9 May"), True),
        (replace(HIGH, instrument="Bb trumpet"), True),  # how one section differs is another matter
        (replace(HIGH, kind=NoticeKind.DAY, player="Rowan"), True),
    ],
)
def test_what_turns_back_a_surer_notice_of_the_same_rehearsal_is_left_out(
    found, monkeypatch, second, told
):
    monkeypatch.setattr(notices, "notices", lambda *_: (COLDER, second))
    kinds = [one.kind for one in notices_of(found)]
    assert kinds == [COLDER.kind, second.kind][: 1 + told]
