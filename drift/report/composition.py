"""A report: its parts, in order, from the evidence."""

from __future__ import annotations

from datetime import UTC, tzinfo

from drift.evidence import Evidence
from drift.report.document import Document
from drift.report.found import charts, checks, in_numbers, in_short, residuals, warnings
from drift.report.material import Made, Material
from drift.report.measured import left_out, measured, rehearsals
from drift.report.method import method
from drift.report.moved import care, slide_tables
from drift.words import report_measured as words
from drift.words.zones import days_here

__all__ = ["Made", "compose"]

NO_MADE = Made()


def compose(
    evidence: Evidence,
    *,
    title: str = "",
    about: str = "",
    zone: tzinfo = UTC,
    made: Made = NO_MADE,
    fahrenheit: bool = False,
) -> Document:
    """Compose the report of everything, of one player or of one rehearsal.

    Parameters
    ----------
    evidence : Evidence
        What it is made of, as `drift.study.Study.report` gives it.
    title : str
        The title (default: what the report covers).
    about : str
        Where the readings come from, such as that they are simulated; printed first of all.
    zone : tzinfo
        The zone that times are told in.
    made : Made
        The command and the versions, to print.
    fahrenheit : bool
        Whether the answer in a few sentences is in °F; tables and charts are in °C.

    Returns
    -------
    Document
        The report, for `drift.report.to_html` or `drift.report.pdf.to_pdf`.

    Examples
    --------
    >>> import drift
    >>> study = drift.Study.open(drift.shipped.folder("datasets/cold-hall-season"))
    >>> compose(study.report(player="Rowan")).title
    'Pitch and temperature: Rowan'
    """
    material = Material(**vars(evidence), zone=zone, made=made, fahrenheit=fahrenheit)
    parts = (
        in_short(material),
        warnings(material),
        in_numbers(material),
        slide_tables(material),
        measured(material),
        charts(material),
        rehearsals(material),
        left_out(material),
        care(material),
        checks(material),
        residuals(material),
        method(material),
    )
    covers = _covers(material)
    return Document(
        title or words.title(evidence.rehearsal or evidence.player),
        f"{about.rstrip('.')}. {covers}" if about else covers,
        tuple(part for part in parts if part is not None),
    )


def _covers(material: Material) -> str:
    readings = material.rehearsals.readings
    first, last = (readings["time"].agg(which) for which in ("min", "max"))
    return words.covers(
        len(readings),
        readings["rehearsal"].nunique(),
        days_here(first, last, material.zone),
        material.player,
        material.rehearsal,
    )
