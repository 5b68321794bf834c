"""Shapes of the time term; the saturating one against certified data."""

import re
from pathlib import Path

import numpy as np
import pytest

from drift.errors import InputError, TooLittleData
from drift.regression.fits import rows_to_fit
from drift.regression.shapes import SHAPES, Shape, fit_saturation, fit_shape
from tests.simulate import from_the_priors, random_plan

MISRA = Path(__file__).parents[1] / "data" / "nist" / "Misra1a.dat"


@pytest.mark.parametrize("start", [(500.0, 1 / 0.0001), (250.0, 1 / 0.0005)], ids=["far", "near"])
def test_misra1a_to_the_certified_digits_from_both_starts(start):
    """NIST StRD "Misra1a", certified to eleven digits: nine asked of the values, eight of the
    standard deviations."""
    text = MISRA.read_text()
    certified = re.findall(r"b[12] =\s+\S+\s+\S+\s+(\S+)\s+(\S+)", text)
    lines = text.splitlines()[60:74]
    y, x = np.array([[float(number) for number in line.split()] for line in lines]).T
    values, errors = fit_saturation(x, y, start)
    assert values == pytest.approx([float(value) for value, _ in certified], rel=1e-9)
    assert errors == pytest.approx([float(error) for _, error in certified], rel=1e-8)
    rest = y - values[0] * (1 - np.exp(-values[1] * x))
    assert rest @ rest == pytest.approx(1.2455138894e-01, rel=1e-9)


def test_two_readings_are_refused():
    with pytest.raises(TooLittleData, match="2 readings"):
        fit_saturation([1.0, 2.0], [1.0, 2.0])


@pytest.mark.parametrize("name", SHAPES)
def test_a_shape_recovers_drift_of_its_own_kind(name):
    plan = random_plan(np.random.default_rng(3), 6, 40, spread_celsius=6.0)
    rows, _ = rows_to_fit(from_the_priors(3, plan)[0])
    shape = SHAPES[name]
    truth = shape.columns(rows, 6.0, 12.0) @ np.array([2.0, 5.0])
    drift = fit_shape(rows.assign(reference_cents=truth), shape)(rows)
    assert np.std(drift - truth) < 0.12 * np.std(truth), "the grid of time constants is coarse"


@pytest.mark.parametrize("minutes", [[], [0.0], [np.nan, 3.0]])
def test_time_constants_to_try_are_minutes(minutes):
    with pytest.raises(InputError, match="are not time constants to try"):
        Shape(lambda rows, warm, cool: rows[["celsius"]], warm_minutes=minutes)
