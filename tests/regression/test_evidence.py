"""The sums give what dense generalised least squares gives, wherever they are cut."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from drift.regression import players, triangles
from drift.regression.blocks import sums_of
from drift.regression.columns import columns_of
from drift.regression.covariates import covariates_of
from drift.regression.evidence import Evidence, prior_of
from drift.regression.nodes import Axis, Box, first_box
from drift.regression.priors import InstrumentPriors, Priors
from drift.regression.reduce import reduce
from drift.regression.scores import Scores

PRIORS = Priors(reading_sd=3.0)
KINDS = (InstrumentPriors(), InstrumentPriors(rise_mean=11.0, warm_minutes=9.0))


def band(course=False, seed=1):
    """Two kinds of instrument, five players, four rehearsals that share a humidity and a day."""
    random = np.random.default_rng(seed)
    records = []
    for player in range(5):
        for rehearsal in range(4):
            if (player + rehearsal) % 4 == 0:
                continue
            knots = ((0.0, 20.0), (25.0, 20.0 + 3.0 * rehearsal), (120.0, 12.0 + 4.0 * rehearsal))
            for _ in range(6):
                into = random.uniform(1.0, 40.0)
                spells = () if random.random() < 0.5 else (20.0, 8.0)
                records.append(
                    {
                        "instrument": ["Bb trumpet", "F horn"][player % 2],
                        "player": f"p{player}", "rehearsal": f"r{rehearsal}", "side": "",
                        "note": ["F4", "C4", "Bb3"][random.integers(3)],
                        "celsius": 12.0 + 4.0 * rehearsal + random.normal(0, 1.5),
                        "playing_minutes": into + sum(spells[::2]), "spells": spells,
                        "minutes_into_spell": into, "initial_warmth": 0.0,
                        "humidity": random.uniform(20, 80), "course": knots,
                        "reference_cents": random.normal(0.0, 12.0),
                    }
                )  # fmt: skip
    rows = pd.DataFrame(records)
    return rows if course else rows.drop(columns="course")


def single_node(theta, scores):
    """A box whose only node of each axis is theta itself: nothing is interpolated."""
    warm = tuple(Axis(*2 * [theta[scores.places(k)[0]]], 1) for k in range(2))
    cool = tuple(Axis(*2 * [theta[scores.places(k)[1]]], 1) for k in range(2))
    v = float(scores.v(theta[None])[0])
    return Box(warm, cool, Axis(v, v, 1))


def found_by_sums(columns, theta, weights, scores, parts=None, box=None):
    evidence = evidence_by_sums(columns, theta, weights, scores, parts, box)
    return evidence.given(theta[None], players=True)


def evidence_by_sums(columns, theta, weights, scores, parts=None, box=None):
    box = box or single_node(theta, scores)
    ones = np.ones(len(columns))
    parts = parts or [np.arange(len(columns))]
    sums = {}
    for part in parts:
        some = sums_of(columns.take(part), weights[part], ones[part], box, KINDS, scores.start)
        sums |= {unit: sums[unit] + one if unit in sums else one for unit, one in some.items()}
    reduced = reduce(sums, columns, box, scores.shared)
    return Evidence(reduced, box, scores, len(columns.covariates), columns.histories.carried)


def dense(columns, theta, weights, scores):
    """Return log evidence and the joint posterior of (common, each player's own, rehearsals)."""
    n = len(columns)
    sds = scores.sds(theta[None])[0]
    K, U = len(columns.kinds), len(columns.players)
    R = len(columns.rehearsals) if scores.shared else 0
    extra = columns.fixed.shape[1] - 2
    own = np.zeros((n, 3))
    for kind in range(K):
        rows = columns.kind_of_unit[columns.unit] == kind
        warm, cool = scores.times(theta[None], kind)
        start = scores.warmth_at_start(theta[None], kind)[0]
        cold, rise, begun = columns.histories.columns(warm, cool, True)
        own[rows] = np.column_stack(
            [cold[:, 0], rise[:, 0] + start * begun[:, 0], columns.fixed[:, 0]]
        )[rows]
    common = np.zeros((n, 3 * K + 1 + extra))
    for kind in range(K):
        rows = columns.kind_of_unit[columns.unit] == kind
        common[np.ix_(rows, [kind, K + kind, 2 * K + kind])] = own[rows]
    common[:, 3 * K :] = columns.fixed[:, 1:]
    players = np.zeros((n, 3 * U))
    for unit in range(U):
        rows = columns.unit == unit
        players[np.ix_(rows, range(3 * unit, 3 * unit + 3))] = own[rows]
    rehearsals = (columns.rehearsal_of_day[columns.day][:, None] == np.arange(R)).astype(float)
    days = (columns.day[:, None] == np.arange(columns.day.max() + 1)).astype(float)
    groups = (columns.group[:, None] == np.unique(columns.group)).astype(float)
    mean0, cov0 = prior_of(scores, extra)
    Z = np.hstack([common, players, rehearsals])
    size = len(mean0)
    prior = np.zeros((Z.shape[1], Z.shape[1]))
    prior[:size, :size] = cov0
    rest = [*np.tile(sds[2:5] ** 2, U), *np.full(R, sds[5] ** 2)]
    prior[range(size, Z.shape[1]), range(size, Z.shape[1])] = rest
    noise = np.diag(sds[0] ** 2 / weights) + sds[1] ** 2 * days @ days.T
    V = noise + Z @ prior @ Z.T
    y = columns.cents - common @ mean0
    inverse = np.linalg.inv(V)
    inner = groups.T @ inverse @ groups
    P = inverse - inverse @ groups @ np.linalg.solve(inner, groups.T @ inverse)
    log = -0.5 * (np.linalg.slogdet(V)[1] + np.linalg.slogdet(inner)[1] + y @ P @ y)
    mean = prior @ Z.T @ P @ y
    mean[:size] += mean0
    return log, mean, prior - prior @ Z.T @ P @ Z @ prior


def thetas(scores, count=3):
    return np.random.default_rng(8).normal(0.0, 0.7, (count, scores.count))


@pytest.mark.parametrize("shared", [False, True])
@pytest.mark.parametrize("course", [False, True])
@pytest.mark.parametrize("start", [False, True])
def test_sums_agree_with_dense_generalised_least_squares(shared, course, start):
    rows = band(course)
    columns = columns_of(rows, covariates_of(rows, ["humidity"]))
    scores = Scores(PRIORS, KINDS, shared, start)
    weights = np.random.default_rng(2).uniform(0.2, 1.5, len(columns))
    offsets = []
    for theta in thetas(scores):
        found = found_by_sums(columns, theta, weights, scores)
        log, mean, covariance = dense(columns, theta, weights, scores)
        offsets.append(found.log[0] - log)
        size = found.mean.shape[1]
        assert np.allclose(found.mean[0], mean[:size], atol=1e-7)
        assert np.allclose(found.covariance[0], covariance[:size, :size], atol=1e-7)
        if shared:
            assert np.allclose(found.rehearsals[0], mean[-4:], atol=1e-7)
        for kind in range(2):
            units = np.flatnonzero(columns.kind_of_unit == kind)
            place = [kind, 2 + kind, 4 + kind, 6, 7]
            for number, unit in enumerate(units):
                pick = np.zeros((5, len(mean)))
                pick[range(5), place] = 1.0
                pick[range(3), range(size + 3 * unit, size + 3 * unit + 3)] = 1.0
                assert np.allclose(found.players[kind][0][0, number], pick @ mean, atol=1e-7)
                expected = pick @ covariance @ pick.T
                assert np.allclose(found.players[kind][1][0, number], expected, atol=1e-7)
    assert np.ptp(offsets) < 1e-6  # a constant of the data is left out


def test_an_interval_ends_only_where_there_is_more_beyond():
    inner, whole = Axis(2.0, 3.0, 5), Axis(0.0, 9.0, 9)
    assert [inner.ends_at(x) for x in (1.9, 2.05, 2.5, 2.95)] == [
        (True, False), (True, False), (False, False), (False, True),
    ]  # fmt: skip
    assert not any(whole.ends_at(0.0) + whole.ends_at(9.0))


def test_interpolation_between_nodes_is_as_good_as_nodes():
    rows = band(course=True)
    columns = columns_of(rows.assign(reference_cents=rows["reference_cents"] / 4.0))
    scores = Scores(PRIORS, KINDS, True, False)
    weights = np.ones(len(columns))
    axes = [Axis(-1.5, 1.5, 6)] * 2
    box = Box(tuple(axes), tuple(axes), Axis(0.0, 6.0, 9))
    for theta in thetas(scores):
        exact = found_by_sums(columns, theta, weights, scores)
        near = found_by_sums(columns, theta, weights, scores, box=box)
        assert near.log[0] == pytest.approx(exact.log[0], abs=0.05)
        sd = np.sqrt(np.diagonal(exact.covariance[0]))
        assert (np.abs(near.mean[0] - exact.mean[0]) < 0.01 * sd).all()


@pytest.mark.parametrize("day_sd", [0.0, 2.0])
def test_between_nodes_one_temperature_a_rehearsal_is_as_good_as_at_nodes(day_sd):
    """What it says of the slope falls 4000 times over as days may differ, and must not turn."""
    random = np.random.default_rng(4)
    rows = band()
    rows["celsius"] = rows["rehearsal"].map({f"r{k}": 17.0 + 2.0 * k for k in range(4)})
    days = rows["player"] + rows["rehearsal"]
    off = dict(zip(days.unique(), random.normal(0.0, day_sd, days.nunique()), strict=True))
    rows["reference_cents"] = 2.0 * (rows["celsius"] - 20.0) + days.map(off)
    columns = columns_of(rows)
    scores = Scores(PRIORS, KINDS, True, False)
    weights, ends = np.ones(len(columns)), first_box(list(KINDS)).v
    for day in (-2.0, -1.0, 0.0, 1.0, 1.8):
        theta = np.zeros(scores.count)
        theta[:2] = -2.2, day  # little scatter of readings
        one = single_node(theta, scores)
        exact = found_by_sums(columns, theta, weights, scores, box=one)
        near = found_by_sums(columns, theta, weights, scores, box=replace(one, v=ends))
        assert near.log[0] == pytest.approx(exact.log[0], abs=0.02, rel=2e-4)
        sd = np.sqrt(np.diagonal(exact.covariance[0]))
        assert (np.abs(near.mean[0] - exact.mean[0]) < 0.01 * sd).all()


def test_parts_merge_to_the_same_numbers():
    """Any cut, through the middle of a player's day as well."""
    columns = columns_of(band(course=True))
    scores = Scores(PRIORS, KINDS, True, False)
    weights, theta = np.ones(len(columns)), thetas(scores)[0]
    cut = np.random.default_rng(3).integers(0, 4, len(columns))
    parts = [np.flatnonzero(cut == number) for number in range(4)]
    whole = found_by_sums(columns, theta, weights, scores)
    merged = found_by_sums(columns, theta, weights, scores, parts)
    assert np.allclose(merged.log, whole.log, rtol=0, atol=1e-8)
    assert np.allclose(merged.mean, whole.mean, rtol=0, atol=1e-8)
    assert np.allclose(merged.players[0][1], whole.players[0][1], rtol=0, atol=1e-8)


def wide(shared=True):
    """What theta is worth between nodes, and theta as they are asked for on the way to a mode."""
    columns = columns_of(band(course=True))
    scores = Scores(PRIORS, KINDS, shared, False)
    box = Box((Axis(-1.0, 1.0, 4),) * 2, (Axis(-1.0, 1.0, 3),) * 2, Axis(0.0, 3.0, 4))
    middle = np.clip(thetas(scores)[0], -0.8, 0.8)
    unit = 0.1 * np.eye(scores.count)
    pairs = [unit[i] + unit[j] for i in range(scores.count) for j in range(i)]
    asked = middle + np.array([0.0 * middle, *unit, *-unit, *pairs])
    return evidence_by_sums(columns, middle, np.ones(len(columns)), scores, box=box), asked


def same_population(one, other):
    for name in ("log", "mean", "covariance", "rehearsals"):
        np.testing.assert_allclose(getattr(one, name), getattr(other, name), rtol=1e-8, atol=1e-9)
    for ours, theirs in zip(one.players, other.players, strict=True):
        np.testing.assert_allclose(ours[0], theirs[0], rtol=1e-8, atol=1e-9)
        np.testing.assert_allclose(ours[1], theirs[1], rtol=1e-8, atol=1e-9)


def alone(evidence, theta):
    return [evidence.given(one[None], players=True) for one in theta]


def test_one_theta_answers_the_same_alone_and_among_others_like_it():
    """Those which differ in little share what was computed."""
    evidence, asked = wide()
    together = evidence.given(asked, players=True)
    for number, one in enumerate(alone(evidence, asked)):
        same_population(together.take(np.array([number])), one)


def test_many_rehearsals_are_solved_one_by_one_to_the_same_numbers(monkeypatch):
    evidence, asked = wide()
    all_at_once = evidence.given(asked, players=True)
    for module in (players, triangles):
        monkeypatch.setattr(module, "SMALL", 0)
    same_population(evidence.given(asked, players=True), all_at_once)


@pytest.mark.parametrize("small", [0, 40])
def test_a_matrix_without_a_root_makes_its_theta_hopeless_and_no_other(small, monkeypatch):
    monkeypatch.setattr(triangles, "SMALL", small)
    matrices = np.array([4.0 * np.eye(2), [[1.0, 2.0], [2.0, 1.0]], 9.0 * np.eye(2)])
    roots, log = triangles.cholesky(matrices, np.array([1.0, 2.0, 3.0]))
    assert log.tolist() == [1.0, triangles.HOPELESS, 3.0]
    np.testing.assert_allclose(np.diagonal(roots, axis1=1, axis2=2)[[0, 2]], [[2, 2], [3, 3]])


def test_the_order_of_the_rows_does_not_matter():
    rows = band()
    scores = Scores(PRIORS, KINDS, True, False)
    theta = thetas(scores)[0]
    shuffled = rows.sample(frac=1.0, random_state=4)
    one, other = (
        found_by_sums(columns_of(table), theta, np.ones(len(table)), scores)
        for table in (rows, shuffled)
    )
    assert np.allclose(one.log, other.log, rtol=0, atol=1e-8)
    assert np.allclose(one.mean, other.mean, rtol=0, atol=1e-8)


@pytest.mark.parametrize("outside", [-0.5, -0.1, 0.0, 0.1, 0.5])
def test_outside_the_box_the_posterior_falls_by_the_square_of_the_distance(outside):
    columns = columns_of(band())
    scores = Scores(PRIORS, KINDS, True, False)
    theta, weights = thetas(scores)[0], np.ones(len(columns))
    v = float(scores.v(theta[None])[0])
    low, high = (v + outside, v + 1.0) if outside > 0.0 else (v - 1.0, v + outside)
    node = single_node(theta, scores)
    box = Box(node.warm, node.cool, Axis(low, high, 3))
    evidence = evidence_by_sums(columns, theta, weights, scores, box=box)
    inside = evidence.given(theta[None]).log[0] - 0.5 * float(theta @ theta)
    fall = inside - float(evidence.log_posterior(theta[None])[0])
    assert fall == pytest.approx(50.0 * outside**2, abs=1e-9)


def test_slopes_of_all_kinds_share_what_is_common():
    """Two kinds vary together by the common part alone, and each by its own spread beside it."""
    apart, together = (
        prior_of(Scores(Priors(common_slope_sd=sd), KINDS, True, False), 0)[1] for sd in (0.1, 0.5)
    )
    assert apart[0, 1] == pytest.approx(0.01)
    np.testing.assert_allclose((together - apart)[:2, :2], 0.24)
    np.testing.assert_allclose((together - apart)[2:, :], 0.0)
