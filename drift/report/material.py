"""What a report is composed from."""

from __future__ import annotations

import platform
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import tzinfo
from importlib.metadata import PackageNotFoundError, version

import pandas as pd

from drift.evidence import Evidence

__all__ = ["Made", "Material", "versions"]

PROGRAMS = ("rehearsal-drift", "numpy", "pandas", "scipy", "statsmodels", "matplotlib")


@dataclass(frozen=True)
class Made:
    """How a report came to be, as the outermost layer knows it.

    Attributes
    ----------
    command : str
        What was typed; empty where nothing was.
    versions : mapping of str to str
        Versions by name of the program.
    """

    command: str = ""
    versions: Mapping[str, str] = field(default_factory=dict)


def versions() -> dict[str, str]:
    """Return the versions of Python and of the programs that the numbers of a report rest on."""
    return {"Python": platform.python_version()} | {name: _version(name) for name in PROGRAMS}


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:  # run from a checkout without being installed
        return "not installed"


@dataclass(frozen=True, kw_only=True)
class Material(Evidence):
    """The evidence, and how a report tells it.

    Attributes
    ----------
    zone : tzinfo
        The zone that times are told in.
    made : Made
        How the report came to be.
    fahrenheit : bool
        Whether the answer in a few sentences is in °F.
    """

    zone: tzinfo
    made: Made
    fahrenheit: bool = False

    def of(self, table: pd.DataFrame, name: str) -> pd.DataFrame:
        """Return the rows of a table that belong to one rehearsal."""
        return table[table["rehearsal"] == name]
