"""The season without a fault: solved by blocks, it is what dense algebra gives."""

import numpy as np
import pytest

import drift
from drift.regression.notices import NoticeKind
from drift.regression.notices.null import SCALE_CENTS, Null, Piece, log_bayes_factor
from drift.regression.notices.season import OWN_SD, population_sd, season_of
from tests.spoilt_seasons import clean, sides_apart

TIMES = {"double horn": (6.0, 12.0), "Bb trumpet": (5.0, 10.0)}


@pytest.fixture(scope="module")
def season():
    made = clean((5, 5), rehearsals=3, players=5)
    return season_of(drift.pair(drift.load(made.tables())).frame, TIMES)


def dense(season, null, day, rehearsal):
    """Return y and its precision matrix with notes swept out, in units of the scale."""
    n = len(season)
    noise = null.scatter[season.unit] ** 2
    covariance = np.diag(noise)

    def same(codes):
        return (codes[:, None] == codes).astype(float)

    covariance += day**2 * same(season.day) + rehearsal**2 * same(season.rehearsal)
    several = [len(set(season.side[season.day == one])) > 1 for one in season.day]
    covariance += null.of_sides**2 * same(season.day) * same(season.side) * several
    kinds, units = same(season.kind), same(season.unit)
    for column, sd, own in zip(season.base.T, population_sd(), OWN_SD, strict=True):
        outer = np.outer(column, column) / SCALE_CENTS**2
        covariance += outer * (sd**2 * kinds + own**2 * units)
    covariance += 1e6 * same(season.group)
    y = (season.cents - season.mean) / SCALE_CENTS
    return y, np.linalg.inv(covariance), n


def test_blocks_give_what_dense_algebra_gives(season):
    null = Null(season)
    node = null.nodes[6]
    y, precision, _ = dense(season, null, *null.ratios[6])
    assert node.left == pytest.approx(float(y @ precision @ y), rel=1e-5)
    random = np.random.default_rng(1)
    rows = [np.flatnonzero(season.unit == unit) for unit in (0, 2)]
    pieces = tuple(
        Piece(unit, here, random.normal(size=(len(here), 2)))
        for unit, here in zip((0, 2), rows, strict=True)
    )
    columns = np.zeros((len(season), 2))
    for piece in pieces:
        columns[piece.rows] = piece.values / SCALE_CENTS
    right, size = null.parts(node, pieces)
    assert right == pytest.approx(columns.T @ precision @ y, rel=1e-4, abs=1e-6)
    assert size == pytest.approx(np.diag(columns.T @ precision @ columns), rel=1e-5)
    alone = np.zeros_like(columns)
    alone[rows[0]] = columns[rows[0]]
    _, together = null.block(node, pieces[0])
    assert together == pytest.approx(alone.T @ precision @ alone, rel=1e-5, abs=1e-8)


def test_evidence_prefers_the_ratios_that_dense_algebra_prefers(season):
    null = Null(season)
    found = np.array([node.log for node in null.nodes])
    expected = []
    for ratios in null.ratios:
        y, precision, _ = dense(season, null, *ratios)
        half = 0.5 * np.linalg.slogdet(precision)[1]
        expected.append(half - 0.5 * (null.freedom + 2) * np.log(y @ precision @ y + 2))
    assert found - found[0] == pytest.approx(np.array(expected) - expected[0], abs=1e-3)


def test_bayes_factor_is_a_ratio_of_marginal_likelihoods(season):
    null = Null(season)
    node, ratios = null.best, null.ratios[int(null.weights.argmax())]
    y, precision, n = dense(season, null, *ratios)
    rows = np.flatnonzero(season.day == season.day[0])
    piece = Piece(int(season.unit[0]), rows, np.ones((len(rows), 1)))
    column = np.isin(np.arange(n), rows) / SCALE_CENTS
    mean, sd = 3.0, 5.0
    with_fault = np.linalg.inv(np.linalg.inv(precision) + sd**2 * np.outer(column, column))
    left = (y - mean * column) @ with_fault @ (y - mean * column)
    half = 0.5 * (np.linalg.slogdet(with_fault)[1] - np.linalg.slogdet(precision)[1])
    gain = np.log((left + 2) / (y @ precision @ y + 2))
    expected = half - 0.5 * (null.freedom + 2) * gain
    right, size = null.parts(node, (piece,))
    one = np.ones(1)
    found = log_bayes_factor(right, size, mean * one, sd * one, node.left, null.freedom)
    assert found[0] == pytest.approx(expected, abs=1e-3)


def test_a_fault_that_was_absorbed_is_no_fault_any_more(season):
    rows = np.flatnonzero(season.day == season.day[0])
    column = np.isin(np.arange(len(season)), rows).astype(float)
    piece = Piece(int(season.unit[0]), rows, np.ones((len(rows), 1)))
    null = Null(season, ((column, 15.0),), shift=30.0 * column)
    right, size = null.parts(null.best, (piece,))
    assert abs(float(right[0] / size[0])) < 1.0 or float(size[0]) < 0.1


def test_players_who_scatter_more_count_less(season):
    spread = season.cents.copy()
    rows = np.flatnonzero(season.unit == 0)
    spread[rows] += np.random.default_rng(2).normal(0.0, 12.0, len(rows))
    from dataclasses import replace

    null = Null(replace(season, cents=spread))
    assert null.scatter[0] > 1.5 * null.scatter[1:].max()


@pytest.mark.slow
@pytest.mark.parametrize(
    ("seed", "rehearsals", "players"), [((94000, 0), 3, 1), ((94000, 14), 6, 4)]
)
def test_sides_that_are_tuned_anew_each_day_are_no_fault(seed, rehearsals, players):
    made = clean(seed, rehearsals, players)
    sides_apart(made, 2.6)
    assert drift.fit(drift.pair(drift.load(made.tables()))).notices == ()


def test_a_slide_of_one_side_is_noticed_where_sides_are_tuned_anew_each_day():
    made = clean((94000, 3), 6, 1)
    sides_apart(made, 2.6)
    rows = made.readings
    late = (rows["k"] == 3) & (rows["side"] == "F") & (rows["minute"] > 40.0)
    rows.loc[late, "cents"] -= 20.0
    notice, *_ = drift.fit(drift.pair(drift.load(made.tables()))).notices
    assert (notice.kind, notice.rehearsal, notice.side) == (NoticeKind.SLIDE, "week 04", "F")
