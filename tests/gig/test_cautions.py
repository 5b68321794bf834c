"""What to watch for: bands at their limits, sources, and words that promise nothing."""

import itertools
import re
from dataclasses import replace
from datetime import UTC, datetime
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from drift.degrees import celsius_of_fahrenheit
from drift.gig.cautions import Caution, cautions
from drift.gig.exposure import heat_index
from drift.gig.roster import Section
from drift.instruments import find
from drift.words.gig_cautions import DEFER, brief_cautions, caution_text, shown_value, source_of
from drift.words.gig_clock import hours_of
from tests.gigs import tuba

TIMES = pd.date_range("2026-07-18T12:00Z", periods=5, freq="30min")
CLARINETS = Section("clarinets", find("Bb clarinet"), 8)
PROMISES = re.compile(
    r"\b(safe|safely|harmless|no risk|fine to|ok|okay|cleared|allowed|go ahead|cancel|no-go)\b",
    re.I,
)


def found(celsius, **known):
    celsius = np.broadcast_to(np.asarray(celsius, float), len(TIMES)).copy()
    known = {
        name: np.broadcast_to(np.asarray(value, float), len(TIMES))
        if name in ("humidity_percent", "wind_m_s", "metal_celsius") else value
        for name, value in known.items()
    }  # fmt: skip
    return cautions(TIMES, celsius, **known)


def kinds(answers):
    return [caution.kind for caution in answers]


@pytest.mark.parametrize(
    ("fahrenheit", "band"),
    [(80, "caution band"), (90, "extreme caution"), (103, "danger"), (125, "extreme danger")],
)
def test_heat_bands_begin_where_published(fahrenheit, band, monkeypatch):
    # Bands of the NWS heat index chart: 80, 90, 103 and 125 °F (second-hand).
    for shift, reached in ((0.01, True), (-0.01, False)):
        index = np.full(5, float(celsius_of_fahrenheit(fahrenheit + shift)))
        monkeypatch.setattr("drift.gig.cautions.heat_index", lambda *_, index=index: index)
        answers = [
            caution_text(c) for c in found(20, humidity_percent=50) if c.kind == "heat index"
        ]
        assert any(text.startswith(band) for text in answers) is reached


def test_a_stretch_is_told_once_with_its_worst_value():
    answers = found([26, 30, 33, 33, 24], humidity_percent=60)
    heat = [c for c in answers if c.kind == "heat index"]
    # 86 °F at 60 % reads 91 on the NWS chart, 91.4 °F lies between 100 and 105.
    assert [caution_text(c).split(":")[0] for c in heat] == ["extreme caution band", "danger band"]
    assert heat[-1].time == TIMES[2].to_pydatetime()
    assert heat[-1].until == TIMES[3].to_pydatetime()
    assert heat[-1].value == pytest.approx(float(heat_index(33, 60)))


def test_sun_is_added_only_when_asked_for():
    shade, sun = (found(31, humidity_percent=55, sun=sun) for sun in (False, True))
    assert "heat index in full sun" not in kinds(shade)
    added = {c.kind: c.value for c in sun}
    # NWS: full sunshine can increase heat index values by up to 15 °F, 8.33 °C.
    assert added["heat index in full sun"] - added["heat index"] == pytest.approx(8.3333, abs=1e-3)
    assert "hot metal" in added


def test_no_humidity_is_said_and_no_index_is_made_up():
    answers = found(31)
    assert kinds(answers) == ["warm air"]
    assert "no humidity" in caution_text(answers[0])


@pytest.mark.parametrize(
    ("celsius", "minutes"), [(-28, "10 to 30"), (-40, "5 to 10"), (-48, "2 to 5"), (-55, "than 2")]
)
def test_frostbite_bands_begin_where_published(celsius, minutes, monkeypatch):
    # Environment Canada's wind chill hazards (second-hand): -28, -40, -48, -55.
    for shift, reached in ((-0.01, True), (0.01, False)):
        monkeypatch.setattr(
            "drift.gig.cautions.wind_chill", lambda *_, to=celsius + shift: np.full(5, float(to))
        )
        texts = [caution_text(c) for c in found(-20, wind_m_s=5) if c.kind == "wind chill"]
        assert any(minutes in text for text in texts) is reached


def test_calm_cold_is_not_passed_over():
    assert "cold air" in kinds(found(-12))
    assert "cold air" in kinds(found(-12, wind_m_s=0.5))
    assert "wind chill" in kinds(found(-12, wind_m_s=5))


def test_cold_metal_follows_the_instruments_not_the_air():
    assert "cold metal" in kinds(found(8, metal_celsius=3))
    assert "cold metal" not in kinds(found(3, metal_celsius=8))
    ice = next(c for c in found(-2) if c.kind == "cold metal")
    assert "freeze" in caution_text(ice)


def test_wood_in_cold_and_in_sudden_changes():
    assert "wood" in kinds(found(6, sections=[CLARINETS]))
    assert "wood" not in kinds(found(6, sections=[tuba()]))
    sudden = found([20, 20, 12, 8, 8], sections=[CLARINETS])
    change = next(c for c in sudden if c.kind == "sudden change")
    assert change.value == pytest.approx(-12)
    assert shown_value(change) == "−12 °C"
    assert shown_value(change, fahrenheit=True) == "−22 °F"
    assert shown_value(replace(change, kind="wood", value=-0.4, unit="°C")) == "0 °C"
    slow = found([20, 18, 16, 14, 12], sections=[CLARINETS])
    assert "sudden change" not in kinds(slow)


def test_a_sudden_change_is_named_at_the_door_and_each_way():
    times = pd.date_range("2026-12-12T16:00Z", periods=150, freq="min")
    celsius = np.full(150, 20.0)
    celsius[50:80] = 2.0
    there = cautions(times, celsius, sections=[CLARINETS])
    changes = [one for one in there if one.kind == "sudden change"]
    assert [one.value for one in changes] == [-18.0, 18.0]
    doors = [(one.time, one.until) for one in changes]
    assert doors == [(times[50], times[50]), (times[80], times[80])]


def test_a_measured_wbgt_is_handed_on_and_not_judged():
    when = datetime(2026, 7, 18, 13, 0, tzinfo=UTC)
    answers = found(20, humidity_percent=40, wbgt=[(when, 29.5)])
    assert kinds(answers) == ["measured WBGT"]
    assert (answers[0].value, answers[0].time) == (29.5, when)
    assert "your own policy" in caution_text(answers[0])
    # Nine degrees above the air is taken, eleven is doubted and still handed on.
    texts = [
        caution_text(found(air, humidity_percent=40, wbgt=[(when, 27.5)])[-1])
        for air in (18.5, 16.5)
    ]
    assert ["can hardly be" in text for text in texts] == [False, True]
    assert all("your own policy" in text for text in texts)


def test_stuck_slides_are_not_forced():
    answers = found(20, sections=[tuba(stuck=("main",))])
    assert kinds(answers) == ["stuck slide"]
    assert "Do not force" in caution_text(answers[0])
    assert shown_value(answers[0]) == ""


def test_a_caution_in_short_says_when_it_is_at_its_worst():
    heat = found([36, 36, 31, 31, 31], humidity_percent=50)
    spans = [(c.time, c.until) for c in heat if c.kind == "heat index"]
    assert len(spans) == 2
    (told, _) = brief_cautions(SimpleNamespace(cautions=heat))
    assert told.startswith("12:00–14:00 heat index at worst ")
    assert f"({hours_of(*spans[0])}): danger band" in told
    (steady, _) = brief_cautions(SimpleNamespace(cautions=found(36, humidity_percent=50)))
    assert "at worst" not in steady


def test_every_caution_has_a_source_and_none_promises():
    weathers = itertools.product(
        (-60, -50, -42, -30, -12, -1, 4, 12, 22, 30, 36, 45), (None, 10, 60, 95), (None, 1, 12),
        (False, True),
    )  # fmt: skip
    seen = set()
    for celsius, humidity, wind, sun in weathers:
        known = {"humidity_percent": humidity, "wind_m_s": wind}
        known = {name: value for name, value in known.items() if value is not None}
        answers = found(
            celsius, **known, sun=sun, sections=[CLARINETS, tuba(stuck=("main",))],
            wbgt=[(TIMES[0].to_pydatetime(), 28.0)],
        )  # fmt: skip
        for caution in answers:
            seen.add(caution.kind)
            assert source_of(caution)
            assert not PROMISES.search(caution_text(caution)), caution_text(caution)
            if caution.kind in ("heat index", "wind chill", "cold air", "measured WBGT"):
                assert DEFER in caution_text(caution)
    assert len(seen) == 10
    assert "licensed staff" in DEFER
    assert "policy" in DEFER


def test_a_caution_in_short_leaves_out_the_hours_between_its_stretches():
    at = TIMES.to_pydatetime()
    heat = [
        Caution(at[first], at[last], "heat index", 36.0, "°C", 2)
        for first, last in ((0, 1), (3, 4))
    ]
    (told, _) = brief_cautions(SimpleNamespace(cautions=heat))
    assert told.startswith("12:00–12:30, 13:30–14:00 heat index at worst 36 °C (12:00–12:30): ")
