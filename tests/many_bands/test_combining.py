"""Which files count, and that a new band's prior is better than the catalogue's."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from drift.bands.combining import RejectedReason, combine
from drift.bands.likelihood import Likelihood
from drift.bands.new_priors import heterogeneity, own_estimates, priors_of, write_priors
from drift.bands.reference import NAMES, REFERENCE, kinds, reference_of
from drift.errors import InputError
from drift.regression.fits import fit, physics
from drift.regression.priors import SDS, Priors
from drift.words.bands import about_priors, combination_in_words, rejected_in_words
from tests.collection import TRUE, band, change
from tests.many_bands.conftest import band_named, make

NUMBERS = Path(__file__).with_name("reference-1.json")


@pytest.fixture(scope="module")
def combined(collection):
    return combine(collection)


def reasons(found):
    return [one.reason for one in found.rejected]


def test_the_reference_never_changes_under_its_name():
    known = json.loads(NUMBERS.read_text("utf-8"))
    assert known["reference"] == REFERENCE
    for kind, (mean, sd) in known["kinds"].items():
        assert reference_of(kind).mean == pytest.approx(mean), "give the reference another name"
        assert reference_of(kind).sd == pytest.approx(sd), "give the reference another name"
    assert set(kinds()) >= set(known["kinds"])


def test_all_files_count(combined):
    assert (combined.files, combined.bands, combined.rejected) == (8, 8, ())
    assert combined.kinds == ("BBb tuba", "flute")
    assert (combined.bands_of("flute"), combined.bands_of("BBb tuba")) == (8, 4)


def test_the_order_of_the_files_changes_nothing(collection, combined):
    turned = combine(collection[::-1])
    assert turned.instruments.of_kind("flute")[0] == pytest.approx(
        combined.instruments.of_kind("flute")[0], abs=1e-6
    )


def test_the_truth_lies_in_the_intervals_of_the_means(combined):
    table = heterogeneity(combined).set_index(["instrument", "quantity"])
    for kind in combined.kinds:
        for name, true in zip(NAMES, TRUE[kind], strict=True):
            row = table.loc[(kind, name.removeprefix("log_"))]
            value = np.exp(true) if name.startswith("log_") else true
            assert row["mean_low"] < value < row["mean_high"], (kind, name)
            assert row["new_band_low"] < row["mean_low"] < row["mean_high"] < row["new_band_high"]


def test_another_model_is_refused(collection, combined):
    other = replace(collection[0], band=band_named(70), reference="catalogue-9")
    found = combine([*collection, other])
    assert reasons(found) == [RejectedReason.OTHER_MODEL]
    assert found.bands == combined.bands
    assert "ask for a new summary" in rejected_in_words(found.rejected[0])
    with pytest.raises(InputError, match="none of 1 files counts"):
        combine([other])
    with pytest.raises(InputError, match="there are no files"):
        combine([])


@pytest.mark.slow
def test_one_band_and_season_counts_once_with_the_most_readings(collection):
    less = make(0, players=3)
    assert less.band == collection[0].band
    for files in ([*collection, less], [less, *collection]):
        found = combine(files)
        assert reasons(found) == [RejectedReason.OLDER_VERSION]
        (kept,) = [one for one in found.instruments.items if one.band == less.band][:1]
        section = collection[0].sections[kept.kind]
        assert kept.likelihood.information == pytest.approx(section.likelihood.information, abs=0.1)


def test_copies_under_other_numbers_count_once(collection, combined):
    copies = [replace(collection[1], band=band_named(50 + k)) for k in range(10)]
    found = combine([*collection, *copies])
    assert reasons(found) == [RejectedReason.SAME_NUMBERS] * 10
    mean = found.instruments.of_kind("flute")[0]
    assert mean == pytest.approx(combined.instruments.of_kind("flute")[0], abs=1e-6)


def test_seasons_of_a_band_are_one_band(collection):
    again = make(40, kinds=("flute",))
    next_season = replace(again, band=collection[1].band, season="2027")
    found = combine([*collection, next_season])
    assert (found.files, found.bands) == (9, 8)
    (one,) = [one for one in found.instruments.items if one.band == collection[1].band]
    parts = collection[1].sections["flute"].likelihood + again.sections["flute"].likelihood
    assert one.likelihood.pull == pytest.approx(parts.pull, abs=0.3)


def impossible(section, factor):
    A = section.likelihood.information * factor
    return replace(section, likelihood=Likelihood(A, section.likelihood.pull * factor))


@pytest.mark.slow
@pytest.mark.parametrize("factor", [1e5, -1.0])
def test_numbers_that_readings_cannot_give_are_left_out(collection, combined, factor):
    wrong = replace(
        make(60, kinds=("flute",)),
        sections={"flute": impossible(collection[0].sections["flute"], factor)},
    )
    found = combine([*collection, wrong])
    assert reasons(found) == [RejectedReason.IMPOSSIBLE]
    assert found.bands == combined.bands


def test_an_unknown_instrument_is_left_out_alone(collection):
    strange = replace(
        collection[3],
        band=band_named(71),
        sections={"nose flute": make(41, ("flute",)).sections["flute"]},
    )
    assert reasons(combine([*collection, strange])) == [RejectedReason.UNKNOWN_INSTRUMENT]


def test_one_bad_file_is_resisted_and_named(collection, combined):
    # 24 cents too high in the rise, surely.
    bad = make(61, kinds=("flute",), players=12, rehearsals=8, shift=np.eye(6)[1] * 24.0)
    robust = combine([*collection, bad])
    plain = combine([*collection, bad], robust=False)
    rise = [one.instruments.of_kind("flute")[0][1] for one in (combined, robust, plain)]
    assert rise[1] - rise[0] < 0.7 * (rise[2] - rise[0])
    assert f"{bad.band[:8]} (flute)" in combination_in_words(robust, heterogeneity(robust))
    assert min(one.weight for one in own_estimates(robust, "flute", "rise_cents")) < 0.5


def test_the_priors_are_read_as_they_were_written(combined, tmp_path):
    priors = priors_of(combined)
    file = tmp_path / "priors.toml"
    write_priors(priors, file, about_priors(combined))
    assert Priors.read(file) == priors
    assert set(priors.instruments) == set(kinds())
    assert set(priors.spreads) == set(SDS)
    assert "8 bands" in file.read_text("utf-8")


@pytest.mark.slow
def test_a_new_band_is_expected_better_than_by_the_catalogue(combined):
    priors = priors_of(combined)
    errors, widths, held = {}, {}, []
    for seed in range(16):
        random = np.random.default_rng([33, seed])
        kind = ("flute", "BBb tuba")[seed % 2]
        new = band(random, kind, 3, 1)
        for name, given in (("catalogue", Priors()), ("bands", priors)):
            expected = physics(priors=given)
            for celsius, minutes in ((5.0, 10.0), (35.0, 40.0)):
                answer = expected.change(kind, celsius=celsius, minutes=minutes, player="new")
                for own in new.players.values():
                    true = float(change(own, celsius, minutes))
                    errors.setdefault(name, []).append(abs(answer.estimate - true))
                    widths.setdefault(name, []).append(answer.high - answer.low)
                    if name == "bands":
                        held.append(answer.low <= true <= answer.high)
    assert np.mean(errors["bands"]) < 0.9 * np.mean(errors["catalogue"])
    assert np.mean(widths["bands"]) < 0.7 * np.mean(widths["catalogue"])
    assert np.mean(held) > 0.9


@pytest.mark.slow
def test_a_new_band_that_has_rehearsed_is_answered_better_too(combined):
    priors = priors_of(combined)
    errors = {"catalogue": [], "bands": []}
    for seed in range(6):
        random = np.random.default_rng([34, seed])
        new = band(random, "flute", 3, 1)
        for name, given in (("catalogue", None), ("bands", priors)):
            found = fit(new.rows, priors=given)
            for player, own in new.players.items():
                for celsius, minutes in ((5.0, 10.0), (35.0, 40.0)):
                    answer = found.change(celsius=celsius, minutes=minutes, player=player)
                    errors[name].append(abs(answer.estimate - float(change(own, celsius, minutes))))
    assert np.mean(errors["bands"]) < np.mean(errors["catalogue"])


def test_a_kind_that_nobody_has_keeps_most_of_its_width(combined):
    priors = priors_of(combined)
    nobody, known = priors.of("oboe"), priors.of("flute")
    assert nobody.rise_sd > 1.5 * known.rise_sd
    assert nobody.rise_sd < Priors().of("oboe").rise_sd
