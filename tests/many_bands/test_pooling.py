"""Pooling against dense algebra, and what one odd band may do."""

import numpy as np
import pytest

from drift.bands.likelihood import Likelihood
from drift.bands.pooling import OF_INSTRUMENTS, OF_SPREADS, Item, _Model, pool
from drift.regression.scores import half_normal

FAMILY = {"flute": "woodwind", "oboe": "woodwind", "cornet": "brass"}
KINDS = list(FAMILY)


def item(random, number, kind, sharp=5.0, at=0.0):
    root = random.normal(size=(6, 6)) * sharp
    A = root @ root.T + np.eye(6)
    return Item(f"band-{number}", kind, Likelihood(A, A @ (at + 0.3 * random.normal(size=6))))


def model_of(items):
    return _Model(
        np.array([one.likelihood.information for one in items]),
        np.array([one.likelihood.pull for one in items]),
        np.array([KINDS.index(one.kind) for one in items]),
        np.array([[float(FAMILY[a] == FAMILY[b]) for a in KINDS] for b in KINDS]),
        OF_INSTRUMENTS,
        np.linspace(0.5, 1.5, len(items)),
    )


def dense(items, model, theta):
    """Return log density and posterior mean of the kinds, from the bands' own estimates."""
    scales = half_normal(theta)
    T = 0.15 * scales[:6] ** 2 + 1e-6
    C = 0.5 + 0.1 * scales[6] ** 2 * model.same + (0.25 * scales[7] ** 2 + 1e-6) * np.eye(3)
    size = 6 * len(items)
    V, cross, x = np.zeros((size, size)), np.zeros((18, size)), np.zeros(size)
    for a, one in enumerate(items):
        here = slice(6 * a, 6 * a + 6)
        inverse = np.linalg.inv(one.likelihood.information)
        x[here] = inverse @ one.likelihood.pull
        for b, other in enumerate(items):
            shared = C[KINDS.index(one.kind), KINDS.index(other.kind)]
            V[here, 6 * b : 6 * b + 6] = shared * np.eye(6)
        V[here, here] += np.diag(T / model.student[a]) + inverse
        cross[:, here] = np.kron(C[:, [KINDS.index(one.kind)]], np.eye(6))
    solved = np.linalg.solve(V, x)
    return -0.5 * (np.linalg.slogdet(V)[1] + x @ solved), (cross @ solved).reshape(3, 6)


def test_evidence_and_means_are_those_of_dense_algebra():
    random = np.random.default_rng(0)
    items = [item(random, k, KINDS[k % 2]) for k in range(7)]  # nobody has a cornet
    model = model_of(items)
    theta = random.normal(size=(4, 8))
    log, mean, _, _ = model.given(theta)
    expected = [dense(items, model, one) for one in theta]
    assert log - log[0] == pytest.approx([one[0] - expected[0][0] for one in expected], abs=1e-7)
    assert mean == pytest.approx(np.array([one[1] for one in expected]), abs=1e-8)


def test_leaving_out_kinds_without_items_changes_no_evidence():
    random = np.random.default_rng(1)
    model = model_of([item(random, k, "oboe") for k in range(3)])
    theta = random.normal(size=(5, 8))
    whole, part = model.log_posterior(theta), model.of_those_with_items().log_posterior(theta)
    assert whole - whole[0] == pytest.approx(part - part[0], abs=1e-8)


def test_no_files_expect_about_what_the_reference_does():
    mean, covariance = pool([], KINDS, FAMILY).of_new_band("flute")
    assert mean == pytest.approx(np.zeros(6), abs=1e-9)
    assert np.diag(covariance) == pytest.approx(np.ones(6), abs=0.15)


def test_inflation_widens_what_was_learned_and_nothing_beyond_the_reference():
    random = np.random.default_rng(7)
    sharp = np.diag([400.0, 400.0, 400.0, 0.0, 0.0, 0.0])
    items = [
        Item(f"{k}", "flute", Likelihood(sharp, sharp @ (0.3 * random.normal(size=6))))
        for k in range(30)
    ]
    found = pool(items, KINDS, FAMILY)
    plain, wide = (np.diag(found.of_kind("flute", factor)[1]) for factor in (1.0, 2.3))
    assert wide[:3] == pytest.approx(2.3 * plain[:3], rel=0.1)
    assert (wide[3:] <= 0.86).all()  # root, family and kind
    assert wide[3:] == pytest.approx(plain[3:], rel=0.15)
    assert (np.diag(found.of_new_band("flute", 2.3)[1]) < 1.15).all()


def test_what_is_not_known_of_a_band_changes_nothing():
    random = np.random.default_rng(2)
    items = [item(random, k, "flute") for k in range(4)]
    more = [*items, Item("silent", "flute", Likelihood.nothing())]
    for kind in KINDS:
        one, other = (pool(these, KINDS, FAMILY).of_new_band(kind) for these in (items, more))
        assert one[0] == pytest.approx(other[0], abs=1e-3)
        assert one[1] == pytest.approx(other[1], abs=1e-3)


def test_more_bands_know_the_mean_better_and_a_kind_nobody_has_a_little():
    random = np.random.default_rng(3)
    items = [item(random, k, "flute", at=0.5) for k in range(12)]
    few, many = (pool(items[:count], KINDS, FAMILY) for count in (2, 12))
    assert np.diag(many.of_kind("flute")[1]).max() < np.diag(few.of_kind("flute")[1]).max()
    mean, covariance = many.of_new_band("cornet")
    assert (mean > 0.1).all()
    assert (mean < many.of_kind("flute")[0]).all()
    assert (np.diag(covariance) > np.diag(many.of_new_band("flute")[1])).all()


def test_a_band_far_off_counts_less_and_moves_the_mean_less():
    random = np.random.default_rng(4)
    items = [item(random, k, "flute") for k in range(10)]
    liar = item(random, 99, "flute", sharp=40.0, at=6.0)
    honest = pool(items, KINDS, FAMILY).of_kind("flute")[0]
    robust, plain = (pool([*items, liar], KINDS, FAMILY, robust=how) for how in (True, False))
    assert robust.student[-1] < 0.3
    assert (robust.student[:-1] > 0.5).all()
    moved = [np.abs(one.of_kind("flute")[0] - honest).mean() for one in (robust, plain)]
    assert moved[0] < 0.6 * moved[1]


def test_how_bands_differ_is_found():
    random = np.random.default_rng(5)
    sds = np.array([0.6, 0.05, 0.3, 0.05, 0.6, 0.05])
    items = []
    for number in range(40):
        A = 400.0 * np.eye(6)
        truth = 0.3 + sds * random.normal(size=6)
        noisy = truth + random.normal(0.0, 0.05, 6)
        items.append(Item(f"{number}", "flute", Likelihood(A, A @ noisy)))
    found = pool(items, KINDS, FAMILY)
    between = np.sqrt(found.weights @ found.between)
    assert between[sds > 0.2] == pytest.approx(sds[sds > 0.2], rel=0.3)
    assert (between[sds < 0.1] < 0.12).all()


def test_spreads_have_no_kinds():
    random = np.random.default_rng(6)
    items = [item(random, k, "spreads", at=-0.5) for k in range(6)]
    mean, covariance = pool(items, ["spreads"], {"spreads": ""}, OF_SPREADS).of_new_band("spreads")
    assert mean == pytest.approx(np.full(6, -0.5), abs=0.35)
    assert (np.diag(covariance) < 0.6).all()
