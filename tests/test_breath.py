"""The air in a played bore: effects of water and carbon dioxide, and their order in time."""

import numpy as np
import pytest

from drift.air import cramer, speed_of_sound, water_fraction
from drift.breath import BREATH_CO2, played_air
from drift.errors import ReachError


def test_carbon_dioxide_flattens_by_what_is_published():
    # About -18 to -21 cents for 4 % (Boutin, Smith, Wolfe, JASA 148, 1817, 2020, second-hand).
    # Breath brings 3.96 % on top of the room's, and Cramer's formula, outside its range there,
    # is known to 0.6 cent: hence a little below 18 is allowed.
    assert -21.6 < played_air(20.0, warmed=0.0).co2_cents < -17.0


def test_water_sharpens_by_what_is_published():
    # +4 % water: about +11 cents (the same source, second-hand); one cent for "about".
    state = (np.asarray(34.0), np.asarray(101325.0))
    dry, moist = (cramer(*state, np.asarray(x), np.asarray(0.0004)) for x in (0.0, 0.04))
    assert 1200 * np.log2(moist / dry) == pytest.approx(11.0, abs=1.0)


def test_parts_add_up_to_the_whole():
    air = played_air(18.0, 40.0, breath_share=0.8, warmed=0.7)
    whole = 1200 * np.log2(air.speed_m_s / speed_of_sound(18.0, 40.0))
    assert air.cents == pytest.approx(whole, abs=1e-9)
    assert air.cents == pytest.approx(air.warmth_cents + air.water_cents + air.co2_cents)


def test_pitch_falls_on_the_first_notes_and_rises_as_the_bore_warms():
    course = [played_air(20.0, warmed=w).cents for w in (0.0, 0.2, 0.5, 1.0)]
    assert course[0] < 0
    assert course == sorted(course)
    assert course[-1] > 0


def test_room_air_alone_changes_nothing():
    air = played_air(15.0, 60.0, breath_share=0.0, warmed=0.0)
    assert air.cents == pytest.approx(0.0, abs=1e-9)


def test_water_above_saturation_condenses():
    air = played_air(5.0, warmed=0.0)
    assert air.water_fraction == pytest.approx(float(water_fraction(5.0, 100.0)))


def test_summary_names_the_parts():
    text = played_air(20.0, warmed=0.6).summary()
    assert f"carbon dioxide {100 * BREATH_CO2:.1f} %" in text
    assert "warmth +" in text


@pytest.mark.parametrize("wrong", [{"breath_share": 1.5}, {"warmed": -0.1}])
def test_shares_lie_between_nothing_and_all(wrong):
    with pytest.raises(ReachError, match="is not possible"):
        played_air(20.0, **wrong)
