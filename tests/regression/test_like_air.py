"""A covariate that goes with the temperature is named: what is whose effect cannot be told."""

import numpy as np
import pytest

from drift.regression.fits import fit
from drift.words.fit import warning_text
from tests.bands import band_season

KIND = "covariates_like_air"


@pytest.mark.parametrize("method", ["bayesian", "least-squares", "mixed"])
@pytest.mark.parametrize(("scatter", "warned"), [(0.3, True), (6.0, False)])
def test_a_covariate_that_goes_with_the_temperature_is_named(method, scatter, warned):
    rows, _ = band_season(3, 2, 5)
    noise = np.random.default_rng(8).normal(0.0, scatter, len(rows))
    rows = rows.assign(outside=1.8 * (rows["celsius"] + noise) + 32.0, mute=noise > 0.0)
    found = fit(rows, method, covariates=["outside", "mute"])
    told = [one for one in found.warnings if one.kind == KIND]
    assert bool(told) is warned
    for one in told:
        assert list(one.values["covariates"]) == ["outside"]
        assert warning_text(one).startswith("outside goes with the temperature (correlation 1.00)")
        assert warning_text(one) in found.summary()
