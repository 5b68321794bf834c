"""A covariate that some instruments never have is left out of their straight lines, and said."""

import numpy as np
import pandas as pd
import pytest

from drift.errors import TooLittleData
from drift.findings import Finding
from drift.regression.comparison import compare
from drift.regression.fits import fit
from drift.words.comparison import refusals
from drift.words.fit import warning_text
from tests.bands import band_season

LINES = ("least-squares", "mixed")
WAYS = (
    ({"covariates": ["mute", "hours"]}, "mute"),
    ({"formula": "cents ~ drift + mute + hours"}, "mute"),
    ({"formula": "cents ~ drift + C(mute) + hours"}, "C(mute)[T.1]"),
)


@pytest.fixture(scope="module")
def season():
    """A trumpet that is 6 cents sharper with the mute, and a flute, which has none."""
    rows, _ = band_season(3, 2, 5)
    random = np.random.default_rng(7)
    mute = (random.random(len(rows)) < 0.4).astype(int)
    trumpets = rows.assign(mute=mute, reference_cents=rows["reference_cents"] + 6.0 * mute)
    flutes = rows.assign(instrument="flute", mute=0, player=rows["player"] + "f")
    both = pd.concat([flutes, trumpets], ignore_index=True)
    return both.assign(hours=random.uniform(0.0, 3.0, len(both)))


@pytest.mark.slow
@pytest.mark.parametrize("method", LINES)
@pytest.mark.parametrize(("way", "label"), WAYS)
def test_it_is_left_out_where_it_never_changes_and_said_once(season, method, way, label):
    found = fit(season, method, **way)
    assert set(found.kinds["flute"].population.covariate_entries()) == {"hours"}
    effects = found.kinds["Bb trumpet"].population.covariate_entries()
    assert effects[label].low < 6.0 < effects[label].high
    said = [one for one in found.warnings if one.kind == "same_everywhere"]
    assert said == [Finding("same_everywhere", {"terms": [label], "instruments": ["flute"]})]
    text = f"{label}: the same in all readings of flute, and left out there"
    assert warning_text(said[0]) == text
    assert found.summary().count(text) == 1
    alone = fit(season[season["instrument"] == "flute"], method, covariates=["hours"])
    change = {one: one.change("flute", celsius=30.0).to_json() for one in (found, alone)}
    assert change[found] == pytest.approx(change[alone], rel=1e-4)  # a search finds a likelihood


def test_its_slopes_go_with_it(season):
    found = fit(season, "least-squares", formula="cents ~ drift + mute + celsius:mute")
    assert found.kinds["flute"].population.held() == {}
    assert set(found.kinds["Bb trumpet"].population.held()) == {"mute"}


@pytest.mark.parametrize("method", LINES)
def test_what_no_instrument_tells_is_refused_with_a_remedy_for_the_command_line(season, method):
    nowhere = season.assign(mute=(season["instrument"] == "flute").astype(int))
    with pytest.raises(TooLittleData, match="mute cannot be told from how high") as refusal:
        fit(nowhere, method, covariates=["mute"])
    assert refusal.value.remedy == "leave it out, or take the method bayesian"


@pytest.mark.slow
def test_methods_are_compared_with_it_and_it_is_said(season):
    found = compare(season, LINES, covariates=["mute"])
    assert (found.errors["refused"] == "").all()
    said = "traight lines: mute: the same in all readings of flute, and left out there"
    assert found.summary().count(said) == 1
    assert refusals(found) == [f"S{said}."]


def test_nothing_is_said_where_every_instrument_has_it(season):
    found = fit(season.drop(columns="mute"), "least-squares", covariates=["hours"])
    assert "same_everywhere" not in {one.kind for one in found.warnings}
