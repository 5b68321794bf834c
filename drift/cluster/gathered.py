"""The answer of a fit whose readings are elsewhere."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NoReturn

import pandas as pd

from drift.errors import InputError
from drift.regression.notices import Notice
from drift.regression.results import Fit

__all__ = ["Gathered", "no_rows"]


@dataclass(frozen=True)
class Gathered(Fit):
    """A fit of a data set that was read elsewhere: what it answers is that of any other fit.

    Its ``rows`` are empty, and what looks at single readings cannot be asked: notices, joint draws,
    the fit of one player alone. Readings that look like outliers are listed.

    Parameters
    ----------
    counted : tuple of int
        How many players and rehearsals there are.
    thermometers : tuple of str
        Where the temperatures are from.
    scatter : mapping of str to float
        Those that scatter, as in `drift.pairing.Paired`.
    listed : DataFrame
        The readings that look like outliers, as `Fit.outliers` lists them.
    """

    counted: tuple[int, int] = (0, 0)
    thermometers: tuple[str, ...] = ()
    scatter: Mapping[str, float] = field(default_factory=dict, repr=False)
    listed: pd.DataFrame = field(default_factory=pd.DataFrame, repr=False)

    def __repr__(self) -> str:
        kinds = ", ".join(f"{name}: {kind.readings}" for name, kind in self.kinds.items())
        total = sum(kind.readings for kind in self.kinds.values())
        return f"<Fit {self.method}, {total} readings elsewhere ({kinds})>"

    @property
    def players(self) -> int:
        """Number of players."""
        return self.counted[0]

    @property
    def rehearsals(self) -> int:
        """Number of rehearsals."""
        return self.counted[1]

    @property
    def notices(self) -> tuple[Notice, ...]:
        """Nothing: faults of single readings are not looked for elsewhere."""
        return ()

    @property
    def outliers(self) -> pd.DataFrame:
        """The readings that look like outliers."""
        return self.listed.copy()

    def only(self, player: str) -> NoReturn:
        """Refuse: the readings of one player are not here.

        Raises
        ------
        InputError
            Always.
        """
        raise InputError(
            f"the readings of {player!r} are not in this fit, which was made elsewhere",
            "ask change or predict for the player, or fit without an engine",
        )


def no_rows() -> pd.DataFrame:
    """Return rows of a fit, none."""
    numbers = ("reference_cents", "celsius", "playing_minutes", "drift", "residual", "weight")
    texts = ("rehearsal", "player", "instrument", "side", "note")
    return pd.DataFrame(
        {name: pd.Series(dtype=float) for name in numbers}
        | {name: pd.Series(dtype="str") for name in texts}
    )
