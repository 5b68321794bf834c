"""What SOURCE holds, for every command that answers from it: tables as they are, or a logbook."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from datetime import tzinfo
from typing import TYPE_CHECKING

from drift.cli.progress import shown_progress
from drift.errors import InputError

if TYPE_CHECKING:
    from drift.instruments import Catalogue
    from drift.logbook.rehearsals import Rehearsals

__all__ = ["read_source"]


def read_source(
    options: argparse.Namespace,
    catalogue: Catalogue | None = None,
    *,
    zone: str | tzinfo | None = None,
    beside: Sequence[str] = (),
) -> Rehearsals | str:
    """Return what was logged, or the word for acoustics.

    Parameters
    ----------
    options : Namespace
        With ``source`` and those of `drift.cli.options.add_tables`.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.
    zone : str or tzinfo, optional
        The zone of times without an offset, where ``--zone`` has a use for any source, so that it
        is not refused for a logbook.
    beside : sequence of str
        Those of ``zone, dates, wide`` that other tables of the command have a use for.

    Raises
    ------
    InputError
        When it cannot be read, or how tables are written is given and it is none.
    """
    from drift.logbook.rehearsals import load
    from drift.study import ACOUSTICS
    from drift.tables.taking import is_tables

    if options.source in ACOUSTICS:
        return str(options.source)
    told = {name: getattr(options, name) for name in ("zone", "dates", "wide")}
    used_anyway = {*beside, *(["zone"] if zone is not None else [])}
    given = [f"--{name}" for name, value in told.items() if value and name not in used_anyway]
    if given and not is_tables(options.source):
        raise InputError(
            f"{', '.join(given)} says how tables are written, and {options.source} is no table",
            "leave it out",
        )
    show = shown_progress(f"{options.source}: reading")
    if zone is not None:
        told["zone"] = zone
    return load(options.source, catalogue, **told, progress=show)
