"""The plan as files: tables for a spreadsheet, a figure, sheets to print."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from itertools import repeat
from pathlib import Path

import pandas as pd

from drift.charts.style import png
from drift.degrees import fahrenheit_of_celsius
from drift.errors import InputError
from drift.gig.folder import WRITTEN
from drift.gig.plan import Plan
from drift.gig.scenarios import Scenarios
from drift.sheets.plan_figure import courses_figure
from drift.sheets.plan_page import plan_page
from drift.sheets.plan_sheets import director_sheet, section_cards
from drift.writing import written_folder

__all__ = ["write_plan", "write_plans"]

DECIMALS = 3


def write_plans(
    plans: Sequence[Plan],
    folder: Path,
    *,
    scenarios: Sequence[Scenarios] = (),
    fahrenheit: bool = False,
    paper: str = "a4",
) -> list[Path]:
    """Write the plans of an evening: a sheet carries one pitch, so each has a folder of its own.

    Files that an earlier plan left there are replaced or removed; all others stay.

    Parameters
    ----------
    plans : sequence of Plan
        One a pitch. A single plan goes into the folder itself.
    scenarios : sequence of Scenarios
        Other weather beside each plan, or nothing.
    folder, fahrenheit, paper
        As in `write_plan`.

    Returns
    -------
    list of Path
        The files.
    """
    written = []
    for plan, beside in zip(plans, scenarios or repeat(None), strict=False):
        own = f"A4-{plan.aim_a4_hz:.1f}" if len(plans) > 1 else ""
        written += write_plan(
            plan,
            Path(folder) / own,
            scenarios=beside,
            fahrenheit=fahrenheit,
            paper=paper,
        )
    _remove_earlier(Path(folder), set(written))
    return written


def _remove_earlier(folder: Path, written: set[Path]) -> None:
    """Remove the files of an earlier plan, so that nobody prints two pitches."""
    for place in (folder, *sorted(folder.glob("A4-*"))):
        for name in WRITTEN:
            if place / name not in written:
                (place / name).unlink(missing_ok=True)
        if place != folder:
            with suppress(OSError):  # something else is in it
                place.rmdir()


def write_plan(
    plan: Plan,
    folder: Path,
    *,
    scenarios: Scenarios | None = None,
    fahrenheit: bool = False,
    paper: str = "a4",
) -> list[Path]:
    """Write a plan into a folder.

    Parameters
    ----------
    plan : Plan
        The plan.
    folder : Path
        Made where it does not exist; files of an earlier plan are replaced.
    scenarios : Scenarios, optional
        Other weather beside it.
    fahrenheit : bool
        Whether temperatures are in °F.
    paper : str
        ``a4`` or ``letter``.

    Returns
    -------
    list of Path
        ``plan.csv`` (moves), ``timeline.csv`` (pitch against time), ``plan.png``,
        ``director.pdf``, ``section-cards.pdf``, ``plan.html``, and with
        scenarios ``scenarios.csv, scenarios.png``.

    Raises
    ------
    InputError
        When the folder cannot be written to.
    """
    folder = Path(folder)
    try:
        with written_folder(folder) as unfinished:
            files = _write_all(plan, unfinished, scenarios, fahrenheit, paper)
    except OSError as error:
        raise InputError(
            f"{folder} cannot be written to: {error.strerror or error}",
            "choose another folder with --out",
        ) from None
    return [folder / file.name for file in files]


def _write_all(
    plan: Plan, folder: Path, scenarios: Scenarios | None, fahrenheit: bool, paper: str
) -> list[Path]:
    written: list[Path] = []

    def to(name: str) -> Path:
        written.append(folder / name)
        return written[-1]

    _write_table(plan.moves_frame(), to("plan.csv"), fahrenheit)
    _write_table(plan.to_frame(), to("timeline.csv"), fahrenheit)
    to("plan.png").write_bytes(png(courses_figure(plan, fahrenheit)))
    director = director_sheet(plan, fahrenheit=fahrenheit, paper=paper, scenarios=scenarios)
    to("director.pdf").write_bytes(director)
    to("section-cards.pdf").write_bytes(section_cards(plan, fahrenheit=fahrenheit, paper=paper))
    to("plan.html").write_text(plan_page(plan, fahrenheit=fahrenheit), encoding="utf-8")
    if scenarios is not None:
        _write_table(scenarios.to_frame(), to("scenarios.csv"), fahrenheit)
        to("scenarios.png").write_bytes(png(scenarios.figure(fahrenheit)))
    return written


def _write_table(table: pd.DataFrame, path: Path, fahrenheit: bool) -> None:
    """Write a table with times in RFC 3339 and numbers that fit a page."""
    if fahrenheit and "celsius" in table:
        table["celsius"] = fahrenheit_of_celsius(table["celsius"])
        table = table.rename(columns={"celsius": "fahrenheit"})
    if "time" in table:
        table["time"] = [time.isoformat() for time in table["time"]]
    table.round(DECIMALS).to_csv(path, index=False, lineterminator="\n")
