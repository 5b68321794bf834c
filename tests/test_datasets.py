"""The shipped season: made by its simulator byte for byte, and as varied as it says."""

import importlib.util
from pathlib import Path

import drift

ROOT = Path(__file__).parent.parent
SEASON = ROOT / "datasets" / "cold-hall-season"


def test_the_simulator_makes_the_shipped_bytes(tmp_path):
    spec = importlib.util.spec_from_file_location("simulate", ROOT / "datasets" / "simulate.py")
    simulate = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(simulate)
    simulate.HERE = tmp_path
    simulate.main()
    for file in SEASON.iterdir():
        assert (tmp_path / file.name).read_bytes() == file.read_bytes(), file.name


def test_it_is_said_to_be_simulated():
    assert "simulated" in (SEASON / "datapackage.json").read_text(encoding="utf-8").lower()


def test_it_has_what_it_is_for():
    season = drift.load(SEASON)
    assert len(season.names) == 10
    assert season.readings["player"].nunique() == 2
    assert season.temperatures["celsius"].min() < 13
    assert season.temperatures["celsius"].max() > 30
    words = set(season.events["event"])
    assert {"play", "rest", "slide"} <= words
    gaps = season.temperatures.groupby("rehearsal")["time"].diff().dt.total_seconds() / 60
    assert gaps.max() > 20  # one gap in the temperatures
    assert drift.pair(season).left_out


def test_the_fit_finds_the_truth_of_the_simulation_again():
    """The intervals are 95 % intervals of ten quantities; two misses would be bad luck."""
    fit = drift.fit(drift.pair(drift.load(SEASON)))
    truths = {"double horn": (2.9, 16.0, 7.0, 13.0), "Bb trumpet": (2.9, 13.0, 4.5, 9.0)}
    names = ("cold_cents_per_celsius", "warm_up_cents", "warm_up_time_constant_minutes",
             "cool_down_time_constant_minutes")  # fmt: skip
    answer = fit.to_json()["instruments"]
    missed = [
        (instrument, name)
        for instrument, values in truths.items()
        for name, truth in zip(names, values, strict=True)
        for own in answer[instrument]["players"].values()
        if not own[name]["low"] <= truth <= own[name]["high"]
    ]
    assert len(missed) <= 1, missed
