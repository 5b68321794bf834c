"""Sums without their intercepts and days, at the nodes of the ratio of standard deviations."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from drift.regression.blocks import Sums
from drift.regression.columns import Columns
from drift.regression.nodes import Box

__all__ = ["KindBlock", "Reduced", "Taken", "gathered", "reduce", "taken_out"]

Array = npt.NDArray[np.float64]

ANY_DAY = 1e6
"""A ``rho²`` at which a day may be off by anything: only what differs within days counts."""


@dataclass(frozen=True)
class KindBlock:
    """The units of one kind: L nodes of v, U units, m columns, R rehearsals.

    Parameters
    ----------
    units : array of shape (U,)
        Numbers of the units.
    products : array of shape (L + 1, U, m, m)
        Products of the columns, intercepts and days taken out. The last is where days may be off by
        anything; the others what is more than that, times `Reduced.flattening`.
    log_det : array of shape (L, U)
        Log determinants of the intercepts.
    cross : array of shape (L, U, m, R)
        Products with the indicator of each rehearsal, times `Reduced.flattening`; R = 0 where
        nothing is shared.
    """

    units: npt.NDArray[np.int64]
    products: Array
    log_det: Array
    cross: Array


@dataclass(frozen=True)
class Reduced:
    """All that the standard deviations and time constants need; no reading is touched again.

    Parameters
    ----------
    kinds : tuple of KindBlock
        One a kind of instrument.
    rehearsals : array of shape (L, R, R)
        Products of the indicators of rehearsals, summed over units, times `flattening`.
    free : float
        Readings less intercepts.
    day_weights, day_counts : arrays
        Sums of weights of a day that occur, and how often.
    """

    kinds: tuple[KindBlock, ...]
    rehearsals: Array
    free: float
    day_weights: Array
    day_counts: Array

    def flattening(self, ratio: Array) -> Array:
        """Return ``1 + rho² n`` of a typical day at ``rho²`` of shape (n,).

        What a rehearsal shares lies wholly between days, as does a temperature that was constant on
        each. Their products fall as the inverse of this; without it their polynomials would be far
        less exact than what they are added to, and could turn negative.
        """
        return 1.0 + ratio * _typical(self.day_weights, self.day_counts)


@dataclass(frozen=True)
class Taken:
    """What `Reduced` is made of, from some of the units; parts of different units go together.

    Parameters
    ----------
    kinds : tuple of KindBlock
        One a kind, whole and not yet flattened; of no unit where the part has none of that kind.
    rehearsals : array of shape (L, R, R)
        As in `Reduced`, not yet flattened.
    free : float
        Readings less intercepts.
    day_weights : array of shape (days,)
        Sum of weights of every day.
    """

    kinds: tuple[KindBlock, ...]
    rehearsals: Array
    free: float
    day_weights: Array


def reduce(sums: Mapping[int, Sums], names: Columns, box: Box, shared: bool) -> Reduced:
    """Return the sums with intercepts and days taken out.

    Notes
    -----
    With ``rho`` the ratio of a day's sd to a reading's, and sums ``S`` of the weighted columns by
    day, ``N`` of weights by day and intercept, ``n`` of weights by day (Woodbury)::

        c = rho²/(1 + rho² n)         A = M'WM - S'cS      B = G'WM - N'cS
        C = G'WG - N'cN               Q = A - B'C⁻¹B

    The indicator of a rehearsal is that of the unit's day in it, so its products need no readings
    either: its column has ``S = n`` and ``N`` of that day.
    """
    return gathered([taken_out(sums, names, box, shared)], box)


def taken_out(sums: Mapping[int, Sums], names: Columns, box: Box, shared: bool) -> Taken:
    """Return what some units add: all that depends on no other unit.

    Parameters
    ----------
    sums : mapping of int to Sums
        Of whole units, by their numbers.
    names : Columns
        The numbers of kinds, days and rehearsals; its readings are not looked at.
    box : Box
    shared : bool
        Whether rehearsals have an effect on everybody.
    """
    ratios = box.day_ratio_squared
    count = len(names.rehearsals) if shared else 0
    rehearsals = np.zeros((len(ratios), count, count))
    blocks = []
    for kind in range(len(names.kinds)):
        units = [unit for unit in sorted(sums) if names.kind_of_unit[unit] == kind]
        width = sums[units[0]].products.shape[0] if units else 0
        shape = (len(ratios), len(units))
        block = KindBlock(
            np.array(units, dtype=np.int64),
            np.zeros((len(ratios) + 1, len(units), width, width)),
            np.zeros(shape),
            np.zeros((*shape, width, count)),
        )
        wheres = [names.rehearsal_of_day[sums[unit].days] for unit in units]
        halves = [
            _absorb(sums[unit], ratios, where, block, place)
            for place, (unit, where) in enumerate(zip(units, wheres, strict=True))
        ]
        for node in range(len(ratios) if count else 0):
            here = [(half[node], own[node]) for half, own in halves]
            rehearsals[node] += _of_rehearsals(here, wheres, count)
        blocks.append(block)
    free = sum(float(np.maximum(one.counted - 1.0, 0.0).sum()) for one in sums.values())
    weights = [one.day_weight for one in sums.values()]
    return Taken(tuple(blocks), rehearsals, free, np.concatenate([*weights, np.zeros(0)]))


def gathered(parts: Sequence[Taken], box: Box) -> Reduced:
    """Return what all units say, from parts that have no unit in common.

    Parameters
    ----------
    parts : sequence of Taken
    box : Box
        The one that they were made at.
    """
    ratios = box.day_ratio_squared
    weights = np.concatenate([part.day_weights for part in parts])
    weights = np.round(weights, 6 if len(weights) < 2000 else 2)  # so that many days share one
    day_weights, counts = np.unique(weights, return_counts=True)
    day_counts = counts.astype(np.float64)
    flat = 1.0 + ratios * _typical(day_weights, day_counts)
    blocks = [_side_by_side(found) for found in zip(*(part.kinds for part in parts), strict=True)]
    for block in blocks:
        block.cross[:] *= flat[:, None, None, None]
        block.products[:-1] -= block.products[-1]
        block.products[:-1] *= flat[:, None, None, None]
    rehearsals = sum(part.rehearsals for part in parts) * flat[:, None, None]
    free = sum(part.free for part in parts)
    return Reduced(tuple(blocks), rehearsals, free, day_weights, day_counts)


def _side_by_side(blocks: Sequence[KindBlock]) -> KindBlock:
    """Return the blocks of one kind as one, its units in order of their numbers."""
    some = [block for block in blocks if len(block.units)]
    if len(some) < 2:
        return some[0] if some else blocks[0]
    units = np.concatenate([block.units for block in some])
    order = np.argsort(units)
    products, log_det, cross = (
        np.concatenate([getattr(block, name) for block in some], axis=1)[:, order]
        for name in ("products", "log_det", "cross")
    )
    return KindBlock(units[order], products, log_det, cross)


def _typical(weights: Array, counts: Array) -> float:
    """Return the mean weight of a day."""
    return float(weights @ counts / counts.sum())


def _absorb(
    one: Sums, ratios: Array, where: npt.NDArray[np.int64], block: KindBlock, place: int
) -> tuple[Array, Array]:
    """Fill in the products of one unit at all nodes, and return what its days are worth.

    Returns
    -------
    half : array of shape (L, groups, days)
    own : array of shape (L, days)
        The products of the days are ``diag(own) - half' half``.
    """
    nodes = np.append(ratios, ANY_DAY)[:, None]
    shrunk = 1.0 + nodes * one.day_weight
    scale = (nodes / shrunk)[:, :, None]
    scaled, scaled_group = scale * one.by_day, scale * one.day_group
    inner = np.diag(one.group_weight) - np.matmul(one.day_group.T, scaled_group)
    root = np.linalg.cholesky(inner + 1e-12 * np.eye(inner.shape[1]))
    half: Array = np.linalg.solve(root, one.by_group - np.matmul(one.day_group.T, scaled))
    turned = np.swapaxes(half, 1, 2)
    block.products[:, place] = one.products - np.matmul(one.by_day.T, scaled)
    block.products[:, place] -= np.matmul(turned, half)
    shrunk, root, turned = shrunk[:-1], root[:-1], turned[:-1]
    block.log_det[:, place] = 2.0 * np.log(np.diagonal(root, axis1=1, axis2=2)).sum(axis=1)
    if not block.cross.shape[-1]:
        return half, shrunk
    share = 1.0 / shrunk[:, :, None]
    half_days = np.asarray(
        np.linalg.solve(root, np.swapaxes(one.day_group * share, 1, 2)), dtype=np.float64
    )
    cross = np.swapaxes(one.by_day * share, 1, 2) - np.matmul(turned, half_days)
    block.cross[:, place][:, :, where] = cross
    return half_days, np.asarray(one.day_weight / shrunk)


def _of_rehearsals(
    halves: list[tuple[Array, Array]], wheres: list[npt.NDArray[np.int64]], count: int
) -> Array:
    """Return the products of the rehearsals with one another, of all units of a kind."""
    rows = np.zeros((sum(len(half) for half, _ in halves), count))
    own, first = np.zeros(count), 0
    for (half, weight), where in zip(halves, wheres, strict=True):
        rows[first : first + len(half), where] = half
        own[where] += weight
        first += len(half)
    return np.diag(own) - rows.T @ rows
