"""Which answers lean on the prior: with few readings the rise does, with many it does not."""

from drift.regression.fits import fit
from drift.regression.priors import InstrumentPriors, Priors
from tests.bands import band_season


def shifts(rows, **options):
    table = fit(rows, **options).sensitivity()
    return table.set_index("quantity").loc["warm_up_cents"]


def test_with_many_readings_the_prior_hardly_matters():
    rows, _ = band_season(31, 4, 10)
    many, few = shifts(rows), shifts(rows.iloc[:4])
    assert abs(many["prior"]) < 0.5
    assert abs(few["likelihood"]) < 0.1


def test_a_prior_that_the_readings_contradict_is_seen():
    """Doubling the power of a normal prior doubles its precision: with the prior k standard
    deviations from the readings, the mean moves towards it, to first order by ln 2 of the share
    that the prior has in the precision."""
    rows, _ = band_season(32, 4, 8)
    usual = shifts(rows)
    wrong = Priors(instruments={"Bb trumpet": InstrumentPriors(rise_mean=60.0, rise_sd=6.0)})
    contradicted = shifts(rows, priors=wrong)
    assert contradicted["prior"] > abs(usual["prior"]) + 0.2
    assert contradicted["likelihood"] < 0.0


def test_a_line_has_no_prior_to_be_sensitive_to():
    rows, _ = band_season(33, 2, 4)
    assert fit(rows, "least-squares").sensitivity().empty
