"""Priors as an argument: from Python, from TOML, flat, and what is no prior refused."""

import re
import sys
from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest

from drift.errors import InputError
from drift.regression.evidence import prior_of
from drift.regression.fits import fit, physics
from drift.regression.priors import InstrumentPriors, Priors, SpreadPrior
from drift.regression.scores import Scores, half_normal
from tests.bands import band_season

DOCS = Path(__file__).parents[2] / "docs"


def test_the_catalogue_holds_what_is_not_given():
    priors = Priors(instruments={"B♭ trumpet": InstrumentPriors(rise_mean=10.0)})
    assert priors.of("Bb trumpet").rise_mean == 10.0
    assert priors.of("BBb tuba").warm_minutes == 8.0  # a large instrument of the catalogue
    assert priors.of("nothing known").warm_minutes == 6.0


def test_they_are_read_from_toml(tmp_path):
    file = tmp_path / "priors.toml"
    text = 'slow_sd = 1.0\n[instruments."double horn"]\nrise_mean = 18\nrise_sd = 3.0\n'
    file.write_text(text, encoding="utf-8")
    priors = Priors.read(file)
    assert priors.slow_sd == 1.0
    assert priors.of("double horn").rise_mean == 18


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("speed = 3", "no prior is called speed"),
        ('[instruments."F horn"]\nrise = 3', "no prior is called instruments.F horn.rise"),
        ("slow_sd = -1.0", "not a prior: slow_sd -1.0"),
        ("slow_sd = nan", "not a prior: slow_sd nan"),
        ("slow_sd = 'wide'", "not a prior: slow_sd 'wide'"),
        ("outlier_share = 0.8", "outlier_share 0.8 is not a share below a half"),
        ("instruments = 3", "instruments is not a table"),
        ("slow_sd =", "priors.toml"),
    ],
)
def test_what_is_no_prior_is_refused(tmp_path, text, problem):
    file = tmp_path / "priors.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=problem):
        Priors.read(file)


def test_two_priors_of_one_instrument_are_refused():
    given = {"Bb trumpet": InstrumentPriors(), "B♭ trumpet": InstrumentPriors(rise_mean=9.0)}
    with pytest.raises(InputError, match="priors of a Bb trumpet are given twice"):
        Priors(instruments=given)


@pytest.mark.parametrize(
    ("title", "given", "name"),
    [("instruments", "Bb trumpet", "InstrumentPriors"), ("spreads", "rehearsal_sd", "SpreadPrior")],
)
def test_a_table_in_place_of_priors_is_refused_at_once(title, given, name):
    with pytest.raises(
        InputError, match=f"{title}: what is given for {given} is a dict"
    ) as refused:
        Priors(**{title: {given: {"cold_sd": 1.0}}})
    assert refused.value.remedy.startswith(f"give drift.regression.priors.{name}(...)")


def test_a_narrow_prior_rules_and_a_flat_one_does_not():
    rows, truth = band_season(41, 3, 8)
    rise = truth.population[1]
    narrow = Priors(instruments={"Bb trumpet": InstrumentPriors(rise_mean=rise + 20, rise_sd=0.5)})
    found = {
        name: fit(rows, priors=priors).kinds["Bb trumpet"].population.entries()["warm_up_cents"]
        for name, priors in {"narrow": narrow, "flat": Priors.flat()}.items()
    }
    assert found["narrow"].estimate > rise + 8.0
    assert found["flat"].low < rise < found["flat"].high


def test_methods_without_priors_refuse_them():
    rows, _ = band_season(42, 2, 4)
    with pytest.raises(InputError, match="mixed takes no priors"):
        fit(rows, "mixed", priors=Priors())


def test_slow_drift_and_correlations_of_an_instrument_count(tmp_path):
    file = tmp_path / "priors.toml"
    file.write_text(
        'slow_sd = 1.0\n[instruments."double horn"]\nslow_mean = -1.5\nslow_sd = 0.5\n'
        "cold_rise_correlation = 0.6\n[spreads.player_rise_sd]\nscore_mean = -0.7\n"
        "score_sd = 0.1\n",
        encoding="utf-8",
    )
    priors = Priors.read(file)
    kinds = (priors.of("double horn"), priors.of("Bb trumpet"))
    mean, covariance = prior_of(Scores(priors, kinds, True, False), 0)
    assert mean[[4, 5]] == pytest.approx([-1.5, 0.0])
    assert covariance[4, 4] == pytest.approx(0.25)
    assert covariance[5, 5] == pytest.approx(1.0)
    assert covariance[0, 2] == pytest.approx(0.6 * kinds[0].cold_sd * kinds[0].rise_sd)
    assert covariance[0, 1] == pytest.approx(priors.common_slope_sd**2)


def test_a_known_spread_is_believed():
    priors = Priors(spreads={"player_rise_sd": SpreadPrior(-0.7, 0.1)})
    scores = Scores(priors, (priors.of("Bb trumpet"),), True, False)
    theta = np.random.default_rng(0).standard_normal((4000, scores.count))
    known, usual = scores.sds(theta)[:, 3], scores.sds(theta)[:, 4]
    assert np.median(known) == pytest.approx(priors.player_rise_sd * half_normal(-0.7), rel=0.02)
    assert known.std() < 0.1 * priors.player_rise_sd
    assert np.median(usual) == pytest.approx(0.674, rel=0.05)  # a half-normal of scale 1


def test_a_known_slow_drift_is_expected_of_an_instrument_nobody_read():
    known = Priors(instruments={"Bb trumpet": InstrumentPriors(slow_mean=-3.0, slow_sd=0.2)})
    usual, told = (
        physics(priors=one).change("Bb trumpet", celsius=20, minutes=90).estimate
        for one in (Priors(), known)
    )
    assert told - usual == pytest.approx(-3.0, abs=0.3)  # an hour more than tuned


def test_correlations_that_cannot_be_are_refused():
    with pytest.raises(InputError, match="contradict each other"):
        InstrumentPriors(
            cold_rise_correlation=0.9, cold_slow_correlation=0.9, rise_slow_correlation=-0.9
        )


def test_the_prior_of_an_instrument_nobody_knows_is_refused_not_left_unused():
    rows, _ = band_season(3, 1, 2)
    trumpett = Priors(instruments={"Bb trumpett": InstrumentPriors(rise_mean=10.0)})
    for ask in (lambda: fit(rows, priors=trumpett), lambda: physics(priors=trumpett)):
        with pytest.raises(InputError, match="of a Bb trumpett, which the catalogue") as refusal:
            ask()
        assert "name Bb trumpet" in refusal.value.remedy
    own = Priors(instruments={"alphorn of ice": InstrumentPriors(rise_mean=10.0)})
    assert fit(rows.assign(instrument="alphorn of ice"), priors=own).kinds.keys() == {
        "alphorn of ice"
    }


def test_the_file_that_the_reference_shows_is_one(tmp_path):
    page = (DOCS / "reference" / "priors.md").read_text(encoding="utf-8")
    (block,) = re.findall(r"```toml\n(.*?)```", page, re.DOTALL)
    file = tmp_path / "p.toml"
    file.write_text(block, encoding="utf-8")
    priors = Priors.read(file)
    assert priors.player_rise_sd == 3.0
    assert priors.of("Bb trumpet").cold_sd == 0.2
    assert priors.spreads["day_sd"].score_sd == 0.4
    for one in fields(Priors):
        assert one.name in {"instruments", "spreads"} or f"`{one.name}`" in page, one.name


def test_the_reference_has_the_value_of_every_prior(tmp_path, monkeypatch):
    monkeypatch.setattr(sys, "path", [str(DOCS), *sys.path])
    from reference_pages import write_pages

    write_pages(tmp_path)
    page = (tmp_path / "priors.md").read_text(encoding="utf-8")
    for record in (Priors, InstrumentPriors, SpreadPrior):
        for one in fields(record):
            if isinstance(one.default, float):
                rows = [line for line in page.splitlines() if f"`{one.name}`" in line]
                assert any(f"{one.default:g}" in row.split("|")[2] for row in rows), one.name
    known = Priors().of("bass trombone")
    assert f"| bass trombone | {known.cold_mean:g} ± {known.cold_sd:.2g} | " in page


@pytest.mark.parametrize("priors", [{"player_slope_sd": 1.0}, "p.toml"])
def test_what_is_no_priors_is_refused(priors):
    with pytest.raises(InputError, match="are not Priors") as refusal:
        fit(band_season(3, 1, 2)[0], priors=priors)
    assert "drift.Priors.read" in refusal.value.remedy


def test_a_file_of_priors_that_is_not_there_is_told_without_numbers_of_errors(tmp_path):
    with pytest.raises(InputError, match="cannot be read: No such file") as refusal:
        Priors.read(tmp_path / "nosuch.toml")
    assert "Errno" not in refusal.value.problem


def test_a_spread_that_is_not_estimated_is_refused():
    with pytest.raises(InputError, match="no standard deviation is called slow_sd"):
        Priors(spreads={"slow_sd": SpreadPrior()})
