"""The plan as files: tables for a spreadsheet, a figure, sheets to print."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from drift.charts.style import png
from drift.degrees import fahrenheit_of_celsius
from drift.errors import InputError
from drift.gig.plan import Plan
from drift.gig.scenarios import Scenarios
from drift.sheets.plan_figure import courses_figure
from drift.sheets.plan_sheets import card_sheets, clipboard_page, save_pdf
from drift.writing import written_folder

__all__ = ["write_plan"]

DECIMALS = 3


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
        ``clipboard.pdf``, ``cards.pdf``, and with scenarios ``scenarios.csv, scenarios.png``.

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
    page = clipboard_page(plan, fahrenheit=fahrenheit, paper=paper)
    save_pdf([page], to("clipboard.pdf"))
    save_pdf(card_sheets(plan, paper=paper), to("cards.pdf"))
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
