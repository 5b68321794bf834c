"""A report from what was logged: pair, fit, tell."""

from __future__ import annotations

from datetime import UTC, tzinfo

from drift.errors import InputError
from drift.instruments import Catalogue
from drift.logbook.rehearsals import Rehearsals
from drift.pairing import pair
from drift.regression.comparison import compare
from drift.regression.fits import fit
from drift.report.document import Document
from drift.report.found import charts, in_numbers, in_short, residuals, warnings
from drift.report.material import Made, Material, day, plural
from drift.report.measured import left_out, measured, rehearsals
from drift.report.method import method
from drift.report.moved import care, slide_tables

__all__ = ["Made", "compose"]

NO_MADE = Made()


def compose(
    logged: Rehearsals,
    *,
    rehearsal: str | None = None,
    player: str | None = None,
    title: str = "",
    about: str = "",
    by: str = "anchored",
    zone: tzinfo = UTC,
    made: Made = NO_MADE,
    compared: bool = False,
    thermometer: str | None = None,
    catalogue: Catalogue | None = None,
) -> Document:
    """Compose the report of everything, of one player or of one rehearsal.

    Parameters
    ----------
    logged : Rehearsals
        What was logged.
    rehearsal : str, optional
        Show this rehearsal only; the fit is still of all of them, because one alone says little.
    player : str, optional
        Take this player's readings only.
    title : str
        The title (default: what the report covers).
    about : str
        Where the readings come from, such as that they are simulated; printed first of all.
    by : str
        The method of the fit: ``anchored``, ``least-squares`` or ``mixed``.
    zone : tzinfo
        The zone that times are told in.
    made : Made
        The command and the versions, to print.
    compared : bool
        Also leave out each rehearsal in turn and compare the methods on it; this fits every
        method once for each rehearsal.
    thermometer : str, optional
        The source of the temperatures to pair with (default: the one with most samples).
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.

    Returns
    -------
    Document
        The report, for `drift.report.to_html` or `drift.report.pdf.to_pdf`.

    Raises
    ------
    InputError
        If there is no such rehearsal or player, or there are no readings.
    TooLittleData
        If the readings cannot be fitted, or one rehearsal is to be compared with none.

    Examples
    --------
    >>> import drift
    >>> season = drift.load(drift.shipped.folder("datasets/cold-hall-season"))
    >>> compose(season, player="Rowan").title
    'Pitch and temperature: Rowan'
    """
    logged.only(rehearsals=None if rehearsal is None else [rehearsal])  # refuses unknown names
    scope = logged.only(players=None if player is None else [player])
    if not len(scope.readings):
        raise InputError("there are no readings to report", "log or import readings first")
    paired = pair(scope, thermometer=thermometer, catalogue=catalogue)
    found = fit(paired, by, catalogue=catalogue)
    names = (rehearsal,) if rehearsal is not None else _held(scope)
    material = Material(scope, paired, found, names, zone, made, catalogue)
    parts = (
        in_short(material),
        warnings(material),
        measured(material),
        charts(material),
        rehearsals(material),
        slide_tables(material),
        in_numbers(material),
        residuals(material, compare(paired, catalogue=catalogue) if compared else None),
        left_out(material),
        care(material),
        method(material),
    )
    covers = _covers(material, rehearsal, player)
    return Document(
        title or f"Pitch and temperature: {rehearsal or player or 'all rehearsals'}",
        f"{about.rstrip('.')}. {covers}" if about else covers,
        tuple(part for part in parts if part is not None),
    )


def _held(scope: Rehearsals) -> tuple[str, ...]:
    """Return the rehearsals in which anything was measured, in order of time."""
    measured_in = {*scope.readings["rehearsal"], *scope.temperatures["rehearsal"]}
    return tuple(name for name in scope.names if name in measured_in)


def _covers(material: Material, rehearsal: str | None, player: str | None) -> str:
    readings = material.rehearsals.readings
    first, last = (day(readings["time"].agg(which), material.zone) for which in ("min", "max"))
    who = f" of {player}" if player else ""
    all_of = f"{plural(len(readings), 'reading')}{who} in "
    all_of += plural(readings["rehearsal"].nunique(), "rehearsal")
    span = first if first == last else f"{first} to {last}"
    if rehearsal is None:
        return f"{all_of}, {span}."
    return f"Shows {rehearsal}; the fit is of {all_of}, {span}."
