"""Priors as an argument: from Python, from TOML, flat, and what is no prior refused."""

import pytest

from drift.errors import InputError
from drift.regression.fits import fit
from drift.regression.priors import InstrumentPriors, Priors
from tests.bands import band_season


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
    with pytest.raises(InputError, match="mixed takes neither covariates nor priors"):
        fit(rows, "mixed", priors=Priors())
