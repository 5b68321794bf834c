"""The speed of sound against published values, an equation of state and ideal mixtures."""

import math
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from iapws import IAPWS97

from drift.air import (
    AirRangeWarning,
    cents_between_states,
    cents_per_celsius,
    cramer,
    speed_of_sound,
    water_fraction,
)
from drift.errors import ReachError

DATA = Path(__file__).parent / "data"
TABLE = pd.read_csv(DATA / "speed_of_sound_reference.csv")


def cents(speed, reference):
    return 1200.0 * np.log2(np.asarray(speed) / np.asarray(reference))


@pytest.mark.filterwarnings("ignore::drift.air.AirRangeWarning")
@pytest.mark.parametrize(
    ("column", "tolerance"),
    # Rounded to 1e-4 m/s. The library pyfar uses the older vapour pressure CIPM-81, which is
    # worth up to 9e-4 m/s (0.005 cent) at 30 °C and 100 %.
    [("c_cramer_psv1991", 1e-4), ("c_pyfar_cramer", 1e-3)],
)
def test_table_of_cramer_by_other_programs(column, tolerance):
    rows = TABLE.dropna(subset=[column])
    ours = speed_of_sound(rows["t_C"], 100 * rows["rh"], rows["p_Pa"], rows["xc_mole_fraction"])
    assert ours == pytest.approx(rows[column].to_numpy(), abs=tolerance)


def test_value_of_the_standard_for_microphones():
    # IEC 61094-2:2009, table F.1: 23 °C, 101 325 Pa, 50 %, 400 ppm CO2 (second-hand). All digits.
    assert speed_of_sound(23.0, 50.0, 101325.0, 0.0004) == pytest.approx(345.86652, abs=5e-6)


@pytest.mark.filterwarnings("ignore::drift.air.AirRangeWarning")
@pytest.mark.parametrize("celsius", [0.0, 5.0, 10.0, 20.0, 30.0, 40.0])
@pytest.mark.parametrize("humidity", [0.0, 50.0, 100.0])
def test_equation_of_state_of_humid_air(celsius, humidity):
    from CoolProp.HumidAirProp import HAPropsSI  # three seconds, for every worker

    theirs = HAPropsSI(
        "speed_of_sound", "T", celsius + 273.15, "P", 101325.0, "R", humidity / 100.0
    )  # fmt: skip
    # Cramer states 300 ppm (0.5 cent); CoolProp has no carbon dioxide of its own.
    assert abs(cents(speed_of_sound(celsius, humidity), theirs)) < 0.2


@pytest.mark.parametrize("celsius", [0.5, 15.0, 20.0, 27.0, 40.0])
def test_vapour_pressure_against_another_formulation(celsius):
    # IAPWS-IF97; the CIPM formula is published for 15 to 27 °C and within 0.1 % beyond.
    saturation_pa = 1e6 * IAPWS97(T=celsius + 273.15, x=0).P
    enhancement = 1.00062 + 3.14e-8 * 101325.0 + 5.6e-7 * celsius**2
    ours = water_fraction(celsius, 100.0) * 101325.0 / enhancement
    assert float(ours) == pytest.approx(saturation_pa, rel=1e-3)


@pytest.mark.filterwarnings("ignore::drift.air.AirRangeWarning")
def test_carbon_dioxide_of_breath_against_an_ideal_mixture():
    rows = TABLE[TABLE["xc_mole_fraction"] == 0.04]
    ours = speed_of_sound(rows["t_C"], 100 * rows["rh"], rows["p_Pa"], 0.04)
    # 4 % lies outside Cramer's range: the deviation is what the docstring claims, 0.6 cent.
    assert np.max(np.abs(cents(ours, rows["c_idealmix_co2_replaces_o2"]))) < 0.6


@pytest.mark.parametrize("celsius", [5.0, 20.0, 28.0])
def test_slope_of_dry_air_is_that_of_an_ideal_gas(celsius):
    ideal = 600.0 / ((celsius + 273.15) * math.log(2.0))
    # Real dry air departs from the ideal by well under 1 % here.
    assert cents_per_celsius(celsius) == pytest.approx(ideal, rel=0.01)


def test_free_air_rises_2_95_cents_a_degree():
    # 600/(T ln 2) at 20 °C, the number every other page of the program begins with.
    assert cents_per_celsius(20.0) == pytest.approx(2.95, abs=0.01)


def test_numbers_give_a_number_and_arrays_an_array():
    assert isinstance(speed_of_sound(20.0), float)
    speeds = speed_of_sound(np.array([10.0, 20.0]), np.array([[40.0], [60.0]]))
    assert speeds.shape == (2, 2)
    assert speeds[0, 1] == pytest.approx(speed_of_sound(20.0, 40.0))


@given(st.floats(0.5, 29.0), st.floats(0.0, 99.0))
def test_warmer_and_moister_air_is_faster(celsius, humidity):
    here = speed_of_sound(celsius, humidity)
    assert speed_of_sound(celsius + 0.5, humidity) > here
    assert speed_of_sound(celsius, humidity + 1.0) > here


def test_between_two_states_and_back():
    assert cents_between_states(28.0, 12.0) == pytest.approx(-cents_between_states(12.0, 28.0))


@pytest.mark.parametrize(
    ("state", "words"),
    [
        ({"celsius": 35.0}, "temperature 35 °C"),
        ({"celsius": 20.0, "pressure_pa": 70e3}, "pressure 70000 Pa"),
        ({"celsius": 20.0, "co2_fraction": 0.04}, "carbon dioxide 0.04"),
    ],
)
def test_beyond_the_published_range_computes_and_warns(state, words):
    with pytest.warns(AirRangeWarning, match=f"{words}.*0 to 30 °C, 75 to 102 kPa") as told:
        assert 330.0 < speed_of_sound(**state) < 360.0
    assert len(told) == 1
    assert told[0].filename == __file__


@pytest.mark.parametrize(
    ("state", "words"),
    [
        ({"celsius": -300.0}, "temperature -300 °C is not possible"),
        ({"celsius": 20.0, "humidity_percent": 130.0}, "humidity 130 % is not possible"),
        ({"celsius": 20.0, "pressure_pa": 0.0}, "pressure 0 Pa is not possible"),
        ({"celsius": 20.0, "co2_fraction": 4.0}, "carbon dioxide 4 is not possible"),
    ],
)
def test_impossible_air_is_refused(state, words):
    with pytest.raises(ReachError, match=words):
        speed_of_sound(**state)


def test_the_bare_polynomial_is_the_checked_one():
    zero = np.asarray(0.0)
    dry = cramer(np.asarray(20.0), np.asarray(101325.0), zero, np.asarray(0.0004))
    assert float(dry) == speed_of_sound(20.0, 0.0)
