"""What a fit is asked: players that were read, temperatures of air, levels that are shares."""

from __future__ import annotations

from collections.abc import Mapping
from numbers import Real
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from drift.errors import InputError
from drift.instruments import canonical_name
from drift.logbook.records import RECORDS
from drift.regression.estimates import NEW, ONLY, Curve, Kind
from drift.spelling import near
from drift.tables.sources import text_of

if TYPE_CHECKING:
    from drift.regression.results import Fit

__all__ = [
    "air_of",
    "curve_of",
    "level_of",
    "minutes_of",
    "named",
    "read_or_new",
    "refuse_unread",
    "size_of",
]

Array = npt.NDArray[np.float64]

NO_NAMES = (None, NEW, ONLY)
"""What may be asked of players beside a name."""

_AIR = next(one for one in RECORDS["temperatures"].columns if one.name == "celsius")


def curve_of(
    fit: Fit, instrument: str | None, player: str | None, at: Mapping[str, Any] | None = None
) -> Curve:
    """Return what is known of one instrument; by default of the one with most readings.

    Parameters
    ----------
    fit, instrument, player
        As in `Fit.curve`.
    at : mapping of str to number or text, optional
        Values of covariates on which slopes depend; by default their means, or the commonest.

    Raises
    ------
    InputError
        If the method needs readings of that instrument and there are none, or a player is named of
        whom there are none, or a covariate is named on which no slope depends.
    """
    found = _curve_of(fit, instrument, player)
    return found.at(at) if at else found


def _curve_of(fit: Fit, instrument: str | None, player: str | None) -> Curve:
    if instrument is None:
        if not fit.kinds:
            raise InputError(
                "no instrument is named and there are no readings to take one from",
                "name the instrument",
            )
        instrument = max(fit.kinds, key=lambda name: fit.kinds[name].readings)
    name, player = canonical_name(instrument), named(player)
    refuse_unread(fit, name, player)
    if name in fit.kinds:
        return fit.kinds[name].of(player)
    if fit.otherwise is None:
        raise InputError(
            f"there are no readings of a {name}, and {fit.method} answers from readings alone",
            "log readings of it, or use the method bayesian, which also knows the acoustics",
        )
    return fit.otherwise.belief(name, player)


def named(player: Any) -> Any:
    """Return a player as readings name them: a number as its text, none as none.

    Examples
    --------
    >>> named(25), named("Rowan"), named(None)
    ('25', 'Rowan', None)
    """
    return player if player is None else text_of(player)


def refuse_unread(fit: Fit, instrument: str, player: str | None) -> None:
    """Refuse a player of whom there are no readings on an instrument.

    Parameters
    ----------
    fit : Fit
    instrument : str
        Its name in the catalogue.
    player : str or None
        A name, ``"new"``, ``"only"`` or None; the last three are never refused.

    Raises
    ------
    InputError
        With those who were read, the nearest names first.
    """
    if player in NO_NAMES:
        return
    assert player is not None
    readers = _readers(fit, instrument)
    if readers is None or player in readers:
        return
    played = [name for name in fit.kinds if player in (_readers(fit, name) or ())]
    if played:
        raise InputError(
            f"there are no readings of {player} on a {instrument}",
            f'there are on a {", ".join(played)}: name it, or ask for player="{NEW}"',
        )
    known = near(player, readers) or readers
    there_are = f"there are {', '.join(known)}; " if known else ""
    raise InputError(
        f"there are no readings of {player!r}",
        f'{there_are}player="{NEW}" asks for somebody who was not read',
    )


def read_or_new(fit: Fit, instrument: str, player: str | None) -> str | None:
    """Return a player who was read on an instrument, as named; any other as a new one.

    Parameters
    ----------
    fit : Fit
    instrument : str
        Its name, however it is spelt.
    player : str or None
        As in `refuse_unread`.

    Examples
    --------
    >>> from drift.regression.fits import physics
    >>> read_or_new(physics(), "double horn", "Rowan"), read_or_new(physics(), "oboe", None)
    ('new', None)
    """
    player = named(player)
    if player in NO_NAMES:
        return player
    name = canonical_name(instrument)
    readers = _readers(fit, name)
    if readers is None or player in readers:
        return player
    # A line through several players answers for none of them, and says so itself.
    several = name in fit.kinds and fit.kinds[name].pooled_players > 1
    return player if several else NEW


def _readers(fit: Fit, instrument: str) -> list[str] | None:
    """Return who was read on an instrument; None where nobody can tell any more."""
    kind: Kind | None = fit.kinds.get(instrument)
    if kind is None:
        return []
    if kind.players:
        return sorted(kind.players)
    if kind.pooled_players != 1 or fit.rows.empty:
        return None
    return sorted(set(fit.rows.loc[fit.rows["instrument"] == instrument, "player"]))


def level_of(level: Any) -> float:
    """Return the share of an interval.

    Raises
    ------
    InputError
        If it does not lie between 0 and 1.

    Examples
    --------
    >>> level_of(0.5)
    0.5
    """
    if not _number(level) or not 0.0 < level < 1.0:
        percent = _number(level) and 1.0 < level < 100.0
        better = f"give {level / 100:g} for {level:g} %" if percent else "give a share such as 0.95"
        raise InputError(f"the level {level!r} is not between 0 and 1", better)
    return float(level)


def air_of(given: Mapping[str, Any]) -> list[Array]:
    """Return temperatures of air [°C], each as an array.

    Parameters
    ----------
    given : mapping of str to float or array
        By the name of the argument.

    Raises
    ------
    InputError
        If one is no number, or no temperature of air; says what it is if it is in °F.
    """
    found = []
    for name, value in given.items():
        celsius = _array(name, value)
        for one in celsius[~((celsius >= _AIR.lowest) & (celsius <= _AIR.highest))]:
            as_celsius = (one - 32.0) / 1.8
            known = f"; {one:g} °F are {as_celsius:.1f} °C" if one > _AIR.highest else ""
            raise InputError(
                f"{name} {one:g} is outside {_AIR.lowest:g} to {_AIR.highest:g} °C",
                f"give the temperature of the air in °C{known}",
            )
        found.append(celsius)
    return found


def minutes_of(given: Mapping[str, Any]) -> list[Array]:
    """Return minutes of playing, each as an array.

    Raises
    ------
    InputError
        If one is no number, or negative.
    """
    found = []
    for name, value in given.items():
        minutes = _array(name, value)
        for one in minutes[~(minutes >= 0.0)]:
            raise InputError(f"{name} {one:g} is not a time of playing", "give 0 for not yet")
        found.append(minutes)
    return found


def size_of(size: Any) -> int:
    """Return a number of draws.

    Raises
    ------
    InputError
        If it is not a whole number above zero.
    """
    if not isinstance(size, int | np.integer) or isinstance(size, bool) or size < 1:
        raise InputError(f"{size!r} is not a number of draws", "give a whole number, such as 1000")
    return int(size)


def _number(value: Any) -> bool:
    return isinstance(value, Real) and not isinstance(value, bool)


def _array(name: str, value: Any) -> Array:
    """Return numbers as an array; text is no number, though it can be read as one."""
    values = np.asarray(value)
    if values.dtype.kind not in "iuf":
        raise InputError(f"{name} {value!r} is not a number", "give a number")
    return values.astype(float)
