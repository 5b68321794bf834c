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


@pytest.mark.slow
@pytest.mark.parametrize("method", ["bayesian", "least-squares", "mixed"])
@pytest.mark.parametrize(("scatter", "warned"), [(0.02, True), (1.0, False)])
def test_two_covariates_that_go_with_each_other_are_named(method, scatter, warned):
    rows, _ = band_season(3, 2, 5)
    random = np.random.default_rng(9)
    first, noise = random.normal(0.0, 1.0, (2, len(rows)))
    found = fit(rows.assign(a=first, b=first + scatter * noise), method, covariates=["a", "b"])
    told = [warning_text(one) for one in found.warnings if one.kind == "covariates_alike"]
    assert bool(told) is warned
    for text in told:
        assert text.startswith("a and b (correlation 1.00) go with each other")
        assert text in found.summary()
