"""What a plan warns of, of the rehearsals that it was learnt from."""

from dataclasses import replace
from pathlib import Path

import pytest

from drift.study import ACOUSTICS, Study
from drift.words.gig_summary import summary_of
from drift.words.gig_warnings import warning_text
from tests.gigs import schedule, steady, trumpets

SEASON = Path(__file__).parents[2] / "datasets" / "cold-hall-season"


@pytest.fixture(scope="module")
def study():
    return Study.open(SEASON, method="anchored")


def planned(study):
    return study.plans(steady(4.0), [trumpets()], schedule(("tune", 0, 10), ("play", 10, 60)))[0]


def assumed(plan):
    return [one for one in plan.warnings if one.kind == "playing_assumed"]


def test_a_plan_says_where_nobody_logged_when_playing_began(study):
    whole = study.rehearsals
    first = whole.names[0]
    dropped = (whole.events["event"] == "play") & (whole.events["rehearsal"] == first)
    without = replace(whole, events=whole.events[~dropped].reset_index(drop=True))
    plan = planned(Study.open(without, method="anchored"))
    (found,) = assumed(plan)
    assert found.values["rehearsals"] == [first]
    assert warning_text(found).startswith(f"no event says when playing began on {first}: ")
    assert "the numbers are surer than they should be" in " ".join(summary_of(plan).split())


def test_nothing_is_said_where_it_was_logged(study):
    assert not assumed(planned(study))


def test_nothing_is_said_of_acoustics():
    assert not assumed(planned(Study.open(ACOUSTICS[0])))
