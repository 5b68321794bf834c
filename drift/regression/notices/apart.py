"""A fit in which what was noticed has pitches of its own, so that it bends nothing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.findings import Finding
from drift.instruments import Catalogue
from drift.regression.fits import fit
from drift.regression.notices.faults import Notice, NoticeKind
from drift.regression.results import Fit

__all__ = ["APART", "fitted_apart", "readings_of"]

APART = (NoticeKind.SLIDE, NoticeKind.SWAP)
"""What moves the pitch of each note from a moment on, and leaves its drift alone."""


def fitted_apart(found: Fit, catalogue: Catalogue | None = None) -> Fit:
    """Return the fit in which readings after a fault count as other notes.

    Parameters
    ----------
    found : Fit
        Of the Bayesian method.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.

    Returns
    -------
    Fit
        The same one where nothing of the kinds in `APART` was noticed. Else one in which those
        readings have pitches of their own, and a warning that they do; what they say of drift
        counts as before.
    """
    rows = found.rows.drop(columns=["drift", "residual", "weight", "intercept"])
    notices = [one for one in found.notices if one.kind in APART]
    if not notices:
        return found
    touched = np.zeros(len(rows), dtype=bool)
    note = rows["note"].astype(str)
    for number, one in enumerate(notices):
        here = readings_of(one, rows)
        note = note.mask(here, note + f" (apart {number + 1})")
        touched |= here
    made = found.settings
    again = fit(
        rows.assign(note=note), start=made.start, covariates=made.covariates, priors=made.priors,
        catalogue=catalogue,
    )  # fmt: skip
    values = {
        "count": int(touched.sum()),
        "players": list(dict.fromkeys(one.player for one in notices)),
        "rehearsals": list(dict.fromkeys(one.rehearsal for one in notices)),
    }
    warned = Finding("fitted_apart", values), *again.warnings
    return replace(again, left_out=found.left_out, warnings=warned)


def readings_of(notice: Notice, rows: pd.DataFrame) -> npt.NDArray[np.bool_]:
    """Return which rows of a fit a slide that moved, or another instrument, is about."""
    mine = (rows["player"] == notice.player) & (rows["instrument"] == notice.instrument)
    if notice.side:
        mine &= rows["side"] == notice.side
    there = rows["rehearsal"] == notice.rehearsal
    when = rows["time"] if "time" in rows else pd.Series(np.arange(len(rows)), rows.index)
    first = when[there].min() if notice.kind is NoticeKind.SWAP else when.iloc[notice.row]
    late = when >= first
    if notice.kind is NoticeKind.SLIDE:
        late &= there
    return np.asarray(mine & late)
