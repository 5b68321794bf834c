"""Pages of the reference, made from the program itself each time the documentation is built."""

from __future__ import annotations

import contextlib
import inspect
import io
import os
from dataclasses import fields
from math import exp, inf
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from drift.logbook.records import Column

__all__ = ["write_pages"]


def write_pages(folder: Path) -> None:
    """Write the pages that are made from code into a folder, which need not exist.

    Parameters
    ----------
    folder : Path
        Where; pages of the same name are written over.
    """
    folder.mkdir(parents=True, exist_ok=True)
    pages = {
        "commands": _commands(),
        "files": _files(),
        "catalogue": _catalogue(),
        "answers": _answers(),
        "priors": _priors(),
    }
    for name, text in pages.items():
        if text:
            (folder / f"{name}.md").write_text(text, encoding="utf-8")


def _fenced(text: str) -> str:
    return f"```text\n{text.rstrip()}\n```\n"


def _commands() -> str:
    """Return what ``--help`` says of each command."""
    from drift.cli import COMMANDS, main

    os.environ["COLUMNS"] = "88"
    parts = ["# Commands\n\nWhat `drift COMMAND --help` prints.\n"]
    for words in [[], *([name] for name in COMMANDS)]:
        out = io.StringIO()
        with contextlib.redirect_stdout(out), contextlib.suppress(SystemExit):
            main([*words, "--help"])
        parts.append(f"## {' '.join(['drift', *words])}\n\n{_fenced(out.getvalue())}")
    return "\n".join(parts)


def _files() -> str:
    """Return the tables of a rehearsal folder and their columns."""
    from drift.logbook.records import RECORDS
    from drift.regression.brought import RULES
    from drift.tables.rules import ROW_RULES

    parts = ["# Files\n\nThe tables of a rehearsal folder, a Frictionless Data Package.\n"]
    for name, record in RECORDS.items():
        rows = [_row(column) for column in record.columns]
        head = "| column | type | required | limits | meaning |\n|---|---|---|---|---|"
        rules = [f"- {rule.asks} (`{rule.code}`)" for rule in ROW_RULES if name in rule.tables]
        asked = "\nOf its rows is asked:\n\n" + "\n".join(rules) + "\n" if rules else ""
        parts.append(f"## {name}.csv\n\n{head}\n" + "\n".join(rows) + f"\n{asked}")
    refused = [f"- `{rule.column}` {rule.problem}: {rule.remedy}" for rule in RULES]
    paired = "A table that `drift.pair` made, or one like it, is refused by `drift.fit` where"
    parts.append(f"## Paired tables\n\n{paired}\n\n" + "\n".join(refused) + "\n")
    return "\n".join(parts)


def _row(column: Column) -> str:
    unit = f" [{column.unit}]" if column.unit else ""
    required = "yes" if column.required else "no"
    limits = ", ".join(f"`{word}`" for word in column.choices)
    if column.lowest > -inf or column.highest < inf:
        limits = f"{column.lowest:g} to {column.highest:g}"
    return f"| `{column.name}` | {column.kind} | {required} | {limits} | {column.title}{unit} |"


def _catalogue() -> str:
    """Return everything the catalogue knows, with the source of every number."""
    from drift.instruments import Catalogue
    from drift.notes import shown
    from drift.words.instruments import described

    parts = ["# Instruments\n\nThe shipped catalogue.\n"]
    for entry in Catalogue.shipped().values():
        parts.append(f"## {shown(entry.name)}\n\n{_fenced(described(entry))}")
    return "\n".join(parts)


def _priors() -> str:
    """Return the value and the reason of every prior, of all instruments and of each."""
    from drift.instruments import Catalogue
    from drift.notes import shown
    from drift.regression.priors import InstrumentPriors, Priors, SpreadPrior

    parts = [
        "# Values of the priors\n\nWhat the Bayesian method believes before any reading, as "
        "`drift.Priors()` has it. What the names mean and how to give others: "
        "[priors](../priors.md).\n",
        f"## Of all instruments\n\n{_table_of(Priors)}",
        f"## Of one instrument\n\nWhere the catalogue says nothing else.\n\n"
        f"{_table_of(InstrumentPriors)}",
        f"## Of a standard deviation of which more is known\n\n{_table_of(SpreadPrior)}",
        "## Of each instrument of the catalogue\n\nMeans ± standard deviations of slope and rise "
        "[cents/°C, cents]; medians of the time constants [minutes], with a factor that holds two "
        "thirds. A slope's deviation is that of the kind by itself, beside `common_slope_sd`.\n",
        "| instrument | cold slope | rise | warms in | cools in | source |",
        "|---|---|---|---|---|---|",
    ]
    for entry in Catalogue.shipped().values():
        if entry.fixed_pitch is None:
            one = Priors().of(entry.name)
            parts.append(
                f"| {shown(entry.name)} | {one.cold_mean:g} ± {one.cold_sd:.2g} "
                f"| {one.rise_mean:g} ± {one.rise_sd:g} "
                f"| {one.warm_minutes:g} (× {exp(one.warm_log_sd):.1f}) "
                f"| {one.cool_minutes:g} (× {exp(one.cool_log_sd):.1f}) | {entry.priors.source} |"
            )
    return "\n".join(parts) + "\n"


def _table_of(record: type[Any]) -> str:
    """Return the numbers of a record with their defaults, described as its docstring does."""
    from numpydoc.docscrape import NumpyDocString

    defaults = {one.name: one.default for one in fields(record)}
    rows = ["| name | value | meaning |", "|---|---|---|"]
    for described in NumpyDocString(inspect.getdoc(record) or "")["Parameters"]:
        names = [name.strip() for name in described.name.split(",")]
        values = [defaults[name] for name in names]
        if any(isinstance(value, int | float) or value is None for value in values):
            shown = ", ".join("none" if value is None else f"{value:g}" for value in values)
            title = ", ".join(f"`{name}`" for name in names)
            rows.append(f"| {title} | {shown} | {' '.join(described.desc)} |")
    return "\n".join(rows) + "\n"


def _answers() -> str:
    """Return the JSON Schemas of the answers, if the package has them."""
    from importlib.resources import files

    schemas = files("drift").joinpath("schemas")
    if not schemas.is_dir():
        return ""
    parts = ["# Answers in JSON\n\nThe schema of what each command prints with `--json`.\n"]
    found = (entry for entry in schemas.iterdir() if entry.name.endswith(".json"))
    for entry in sorted(found, key=lambda one: one.name):
        text = entry.read_text(encoding="utf-8").rstrip()
        parts.append(f"## {entry.name.split('.')[0]}\n\n```json\n{text}\n```\n")
    return "\n".join(parts)
