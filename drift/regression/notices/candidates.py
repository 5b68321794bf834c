"""Every fault as columns of cents on the readings that it would have touched."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, pairwise

import numpy as np
import numpy.typing as npt

from drift.regression.notices.batch import Batch, Where
from drift.regression.notices.faults import NoticeKind
from drift.regression.notices.null import Null, Piece
from drift.regression.notices.season import Season
from drift.regression.notices.tendencies import Tendencies

__all__ = ["WATCHED", "batches", "swaps"]

Array = npt.NDArray[np.float64]
Rows = npt.NDArray[np.intp]
Flags = npt.NDArray[np.bool_]
Codes = npt.NDArray[np.int64]

FEWEST = 3
"""A slide is looked for with so many readings on each side of the move."""
SLIDE_MM, DAY_CENTS, A4_CENTS, THERMOMETER_CELSIUS, OUTLIER_CENTS = 8.0, 8.0, 0.7, 2.0, 20.0
"""Standard deviations of effects."""
A4_HZ = (442.0, 438.0)
USUAL_A4_HZ = 440.0
TURNED_SD, NOTE_SD, NAMES_SD, WATCHED_SD, REST_SD = 0.0, 0.15, 0.1, 0.1, 0.3
"""Spread of effects of one. A sign is turned exactly: were there any spread, a factor that makes
all readings smaller would explain them better, and pass for a turned sign."""
APART_CENTS = 6.0
"""Notes whose tendencies differ by less cannot be told apart."""
WATCHED = 0.5
"""A player who watches the tuner drifts about half as much."""
LIKELY_OUTLIERS = 100
MOST_PLAYERS = 24
"""Exchanged names are looked for in rehearsals with no more players on an instrument."""
LIKELY_NAMES = 20
"""So many pairs are weighed, those whose exchange fits best; the others only count."""
REST_BEGINS, REST_LASTS = np.arange(18.0, 80.0, 3.0), (6.0, 11.0)


def batches(null: Null) -> Iterator[tuple[Batch, int]]:
    """Yield columns of faults, and for how many columns of that fault the batch stands."""
    season = null.season
    days = _days(season)
    residual = null.residual()
    for rows in days:
        for batch in (*_slides(season, rows), *_of_a_day(season, rows)):
            yield batch, len(batch.where)
    for batch in _of_a_rehearsal(null, days):
        yield batch, len(batch.where)
    likely = _far_off(residual)
    yield from _outliers(season, days, likely)
    intercepts = null.intercepts()
    for rows in days:
        for batch in _wrong_notes(season, rows, intercepts):
            yield batch, 1
    yield from _wrong_readings(season, days, intercepts, likely)
    yield from _names(null, days, intercepts, residual)
    for batch in (*_watchers(null), *_always_turned(season)):
        yield batch, 1
    for batch in _rests(null, days):
        yield batch, len(batch.where)


def swaps(season: Season) -> Iterator[tuple[Piece, Where]]:
    """Yield the notes of a player from a rehearsal on, each with a column of its own."""
    for rows in _runs(season.unit):
        for first in np.unique(season.rehearsal[rows])[1:]:
            late = season.rehearsal[rows] >= first
            groups = np.unique(season.group[rows][late])
            if len(groups) < 2 or late.sum() < 5:
                continue
            values = (season.group[rows][:, None] == groups) & late[:, None]
            unit = int(season.unit[rows[0]])
            yield Piece(unit, rows, values.astype(float)), Where(rows[late], int(first), unit)


def _days(season: Season) -> list[Rows]:
    return _runs(season.day)


def _runs(codes: Codes) -> list[Rows]:
    cuts = np.append(np.flatnonzero(np.diff(codes, prepend=-1)), len(codes))
    return [np.arange(low, high) for low, high in pairwise(cuts.tolist())]


def _place(season: Season, rows: Rows) -> tuple[int, int]:
    return int(season.unit[rows[0]]), int(season.rehearsal[rows[0]])


def _slides(season: Season, rows: Rows) -> Iterator[Batch]:
    """Yield a move of the common slide, or of one side's, after each reading of a day."""
    unit, rehearsal = _place(season, rows)
    cuts = np.arange(FEWEST, len(rows) - FEWEST + 1)
    if not len(cuts):
        return
    late = np.arange(len(rows))[:, None] >= cuts
    chosen: list[npt.NDArray[np.bool_]] = [late]
    sides: list[int | None] = [None] * len(cuts)
    for side in np.unique(season.side[rows]):
        own = late & (season.side[rows] == side)[:, None]
        some = (own.sum(axis=0) >= FEWEST) & (own.sum(axis=0) < late.sum(axis=0))
        chosen.append(own[:, some])
        sides += [int(side)] * int(some.sum())
    moved = np.column_stack(chosen)
    where = tuple(
        Where(rows[moved[:, column]], rehearsal, unit, side=side)
        for column, side in enumerate(sides)
    )
    piece = Piece(unit, rows, season.pull[rows][:, None] * moved)
    yield Batch(NoticeKind.SLIDE, (piece,), 0.0, SLIDE_MM, where)


def _of_a_day(season: Season, rows: Rows) -> Iterator[Batch]:
    """Yield what spoils one player's day as a whole."""
    if len(rows) <= FEWEST:
        return
    unit, rehearsal = _place(season, rows)
    where = Where(rows, rehearsal, unit)
    whole = np.ones((len(rows), 1))
    yield Batch(NoticeKind.DAY, (Piece(unit, rows, whole),), 0.0, DAY_CENTS, (where,))
    turned = Piece(unit, rows, 2.0 * season.as_read[rows][:, None])
    yield Batch(NoticeKind.SIGN, (turned,), 1.0, TURNED_SD, (where,))
    if season.alone:
        yield from _a4(season, [rows])


def _a4(season: Season, days: list[Rows], *, section: bool = False) -> Iterator[Batch]:
    rows = np.concatenate(days)
    rehearsal, *more = np.unique(season.rehearsal[rows]).tolist()
    for hertz in A4_HZ:
        pieces = tuple(Piece(int(season.unit[one[0]]), one, np.ones((len(one), 1))) for one in days)
        cents = -1200.0 * np.log2(hertz / USUAL_A4_HZ)
        where = Where(rows, rehearsal, size=hertz, more=tuple(more), section=section)
        yield Batch(NoticeKind.A4, pieces, float(cents), A4_CENTS, (where,))


def _of_a_rehearsal(null: Null, days: list[Rows]) -> Iterator[Batch]:
    """Yield what spoils a rehearsal for everybody."""
    season, slope = null.season, _slopes(null)
    for rehearsal, here in _by_rehearsal(season, days).items():
        rows = np.concatenate(here)
        where = (Where(rows, rehearsal),)
        warmer = _pieces(season, here, slope)
        yield Batch(NoticeKind.THERMOMETER, warmer, 0.0, THERMOMETER_CELSIUS, where)
        if not season.alone:
            turned = _pieces(season, here, 2.0 * season.as_read)
            yield Batch(NoticeKind.SIGN, turned, 1.0, TURNED_SD, where)
            yield from _a4(season, here)
            for members in _sections(season, here):
                yield from _a4(season, members, section=True)
    if not season.alone:
        for evening in _evenings(season, days):
            yield from _a4(season, evening)


def _evenings(season: Season, days: list[Rows]) -> Iterator[list[Rows]]:
    """Yield the days of rehearsals of one evening, in two rooms say, where there are several."""
    for here in _grouped(days, season.evening).values():
        if len({int(season.rehearsal[rows[0]]) for rows in here}) > 1:
            yield here


def _sections(season: Season, days: list[Rows]) -> Iterator[list[Rows]]:
    """Yield the days of all who play one instrument, where several do, and others play another."""
    for members in _grouped(days, season.kind).values():
        if 1 < len(members) < len(days):
            yield members


def _by_rehearsal(season: Season, days: list[Rows]) -> dict[int, list[Rows]]:
    return dict(sorted(_grouped(days, season.rehearsal).items()))


def _grouped(days: list[Rows], codes: Codes) -> dict[int, list[Rows]]:
    """Return the days by a code that all readings of a day share."""
    found: dict[int, list[Rows]] = {}
    for rows in days:
        found.setdefault(int(codes[rows[0]]), []).append(rows)
    return found


def _pieces(season: Season, days: list[Rows], values: Array) -> tuple[Piece, ...]:
    return tuple(Piece(int(season.unit[rows[0]]), rows, values[rows][:, None]) for rows in days)


def _slopes(null: Null) -> Array:
    """Return by how much a degree of the air would move each reading [cents/°C]."""
    season = null.season
    found = null.coefficients()[season.kind]
    warmth = (season.base[:, 1] + 1.0) * 14.0 / np.maximum(34.0 - season.celsius, 1.0)
    rise = season.rise_mean + found[:, 1]
    return np.asarray(season.cold_mean + found[:, 0] - rise / 14.0 * warmth)


def _far_off(residual: Array) -> Flags:
    """Return the readings that lie farthest off."""
    likely = np.zeros(len(residual), dtype=bool)
    likely[np.argsort(-np.abs(residual))[:LIKELY_OUTLIERS]] = True
    return likely


def _outliers(season: Season, days: list[Rows], likely: Flags) -> Iterator[tuple[Batch, int]]:
    """Yield single readings, those that lie far off; the others count as if they did not matter."""
    rest = len(season) - int(likely.sum())
    for rows in days:
        here = np.flatnonzero(likely[rows])
        if len(here):
            unit, rehearsal = _place(season, rows)
            piece = Piece(unit, rows, np.eye(len(rows))[:, here])
            where = tuple(Where(rows[[one]], rehearsal, unit) for one in here)
            yield Batch(NoticeKind.OUTLIER, (piece,), 0.0, OUTLIER_CENTS, where), len(here) + rest
            rest = 0


def _wrong_notes(season: Season, rows: Rows, intercepts: Array) -> Iterator[Batch]:
    """Yield all readings of a note on a day taken for another note, where there are several."""
    for group in np.unique(season.group[rows]):
        here = season.group[rows] == group
        if here.sum() > 1:
            yield from _taken_for_another(season, rows, here, intercepts)


def _wrong_readings(
    season: Season, days: list[Rows], intercepts: Array, likely: Flags
) -> Iterator[tuple[Batch, int]]:
    """Yield single readings taken for another note; those that do not lie far off only count."""
    stands_for = max(round(len(season) / likely.sum()), 1)
    for rows in days:
        for place in np.flatnonzero(likely[rows]):
            here = np.arange(len(rows)) == place
            for batch in _taken_for_another(season, rows, here, intercepts):
                yield batch, stands_for


def _taken_for_another(
    season: Season, rows: Rows, here: Flags, intercepts: Array
) -> Iterator[Batch]:
    """Yield readings of one note of a day as each other note of that player on the same side."""
    unit, rehearsal = _place(season, rows)
    mine = np.arange(*np.searchsorted(season.unit, [unit, unit + 1]))
    first = mine[np.unique(season.group[mine], return_index=True)[1]]
    entered = rows[here][0]
    apart = intercepts[first] - intercepts[entered]
    possible = (season.side[first] == season.side[entered]) & (np.abs(apart) > APART_CENTS)
    for other in np.flatnonzero(possible):
        piece = Piece(unit, rows, (apart[other] * here)[:, None])
        where = Where(rows[here], rehearsal, unit, int(first[other]))
        yield Batch(NoticeKind.WRONG_NOTE, (piece,), 1.0, NOTE_SD, (where,))


def _names(
    null: Null, days: list[Rows], intercepts: Array, residual: Array
) -> Iterator[tuple[Batch, int]]:
    """Yield two players' readings exchanged, before or after a moment of a rehearsal."""
    season = null.season
    tendencies = Tendencies.of(season, intercepts, residual)
    found: list[tuple[float, Batch]] = []
    for rehearsal, here in _by_rehearsal(season, days).items():
        for one, other in _pairs(season, here):
            batch = _exchanges(season, rehearsal, (one, other), tendencies)
            if batch is not None:
                found.append((_gain(null, batch, residual), batch))
    found.sort(key=lambda item: -item[0])
    left = sum(len(batch.where) for _, batch in found[LIKELY_NAMES:])
    for _, batch in found[:LIKELY_NAMES]:
        yield batch, len(batch.where) + left
        left = 0


def _pairs(season: Season, here: list[Rows]) -> Iterator[tuple[Rows, Rows]]:
    for members in _grouped(here, season.kind).values():
        if len(members) <= MOST_PLAYERS:
            yield from combinations(members, 2)


def _exchanges(
    season: Season, rehearsal: int, days: tuple[Rows, Rows], tendencies: Tendencies
) -> Batch | None:
    """Return two players' readings exchanged before and after each reading, and throughout."""
    rows = np.concatenate(days)
    minutes = season.minutes[rows]
    late = minutes[:, None] >= np.unique(minutes)
    chosen = np.column_stack([late, ~late])
    first = len(days[0])
    # The tendencies are estimated from the same readings, so that a few could fit by chance.
    of_each = np.minimum(chosen[:first].sum(axis=0), chosen[first:].sum(axis=0))
    chosen = chosen[:, of_each >= FEWEST]
    if not chosen.shape[1]:
        return None
    one, other = (int(season.unit[day[0]]) for day in days)
    values = tendencies.apart(rows, (one, other), chosen)
    if not values.any():
        return None
    pieces = Piece(one, days[0], values[:first]), Piece(other, days[1], values[first:])
    where = tuple(Where(rows[column], rehearsal, one, other) for column in chosen.T)
    # Half of what a pair can have exchanged is all of the rehearsal.
    count, whole = chosen.shape[1], chosen.all(axis=0)
    odds = np.where(whole, count / 2.0, count / 2.0 / max(count - 1, 1))
    return Batch(NoticeKind.NAMES, pieces, 1.0, NAMES_SD, where, tuple(odds.tolist()))


def _gain(null: Null, batch: Batch, residual: Array) -> float:
    """Return by how much the likeliest column lessens the squares, roughly."""
    return float(np.max(sum(null.gain(piece, residual) for piece in batch.pieces)))


def _watchers(null: Null) -> Iterator[Batch]:
    """Yield half of the drift of everybody taken from each player."""
    season = null.season
    drift = season.mean.copy()
    if len(season.players) > 2:
        found = null.coefficients()[season.kind]
        drift += (season.base[:, :2] * found[:, :2]).sum(axis=1)
    for rows in _runs(season.unit):
        unit = int(season.unit[rows[0]])
        piece = Piece(unit, rows, -WATCHED * drift[rows][:, None])
        yield Batch(NoticeKind.WATCHES, (piece,), 1.0, WATCHED_SD, (Where(rows, None, unit),))


def _always_turned(season: Season) -> Iterator[Batch]:
    """Yield every reading of a player, of an instrument, and of everybody, with its sign turned.

    Only where there are several rehearsals. Each day is a column of its own too, but once some are
    turned and some are not yet, what is left looks like a player who drifts less, or like another
    A4 on the warmest and the coldest days.
    """
    units = _runs(season.unit)
    for rows in units:
        yield from _turned(season, [rows], int(season.unit[rows[0]]))
    for members in _sections(season, units):
        yield from _turned(season, members, section=True)
    if not season.alone:
        yield from _turned(season, units)


def _turned(
    season: Season, units: list[Rows], unit: int | None = None, *, section: bool = False
) -> Iterator[Batch]:
    rows = np.concatenate(units)
    if season.rehearsal[rows].min() < season.rehearsal[rows].max():
        pieces = _pieces(season, units, 2.0 * season.as_read)
        yield Batch(
            NoticeKind.SIGN, pieces, 1.0, TURNED_SD, (Where(rows, None, unit, section=section),)
        )


def _rests(null: Null, days: list[Rows]) -> Iterator[Batch]:
    """Yield a rest of everybody in a gap between readings, in rehearsals without any."""
    season = null.season
    rise = season.rise_mean + null.coefficients()[season.kind, 1]
    room = rise * (34.0 - season.celsius) / 14.0
    for rehearsal, here in _by_rehearsal(season, days).items():
        rows = np.concatenate(here)
        if not season.unrested[rows].all():
            continue
        minutes = season.minutes[rows]
        for begin in REST_BEGINS:
            for length in REST_LASTS:
                within = (minutes > begin) & (minutes < begin + length)
                late = rows[minutes >= begin + length]
                if within.any() or not len(late):
                    continue
                cents = np.zeros(len(season))
                cents[late] = room[late] * _cooled(season, late, begin, length)
                if np.abs(cents).max() > 1.0:
                    where = Where(late, rehearsal, size=length)
                    pieces = _pieces(season, here, cents)
                    yield Batch(NoticeKind.REST, pieces, 1.0, REST_SD, (where,))


def _cooled(season: Season, rows: Rows, begin: float, length: float) -> Array:
    """Return how much less warm an instrument is after a rest than without it."""
    warm, cool = season.warm_minutes[rows], season.cool_minutes[rows]
    lacking = 1.0 - season.initial[rows]
    minutes = season.minutes[rows]
    rested = (1.0 - lacking * np.exp(-begin / warm)) * np.exp(-length / cool)
    after = 1.0 - (1.0 - rested) * np.exp(-(minutes - begin - length) / warm)
    return np.asarray(after - (1.0 - lacking * np.exp(-minutes / warm)))
