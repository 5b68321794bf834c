"""The file in which a band hands on what its instruments do: totals, and nobody's name."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from drift.bands.likelihood import Likelihood
from drift.bands.reference import MODEL, REFERENCE
from drift.errors import InputError
from drift.writing import written_file

__all__ = ["FORMAT", "BandSummary", "Section"]

FORMAT, VERSION = "drift-band-summary", 1
PLAYERS = ("3-5", "6-11", "12+")
REHEARSALS = ("1", "2-4", "5+")
LARGEST_FILE = 200_000
"""Bytes; a file of all instruments there are has less than a tenth of it."""

LARGEST_NUMBER = 1e6


@dataclass(frozen=True)
class Section:
    """What a band knows of one kind of instrument.

    Parameters
    ----------
    likelihood : Likelihood
    players, rehearsals : str
        How many, roughly: `PLAYERS`, `REHEARSALS` (of a player, on average).
    readings : int
        How many, to one digit.
    celsius : tuple of two ints
        From where to where most readings lie, in steps of 5 °C.
    """

    likelihood: Likelihood
    players: str
    rehearsals: str
    readings: int
    celsius: tuple[int, int]

    def to_json(self) -> dict[str, Any]:
        """Return it as the file holds it."""
        about: dict[str, Any] = {
            "players": self.players, "rehearsals": self.rehearsals,
            "readings": self.readings, "celsius": list(self.celsius),
        }  # fmt: skip
        return about | self.likelihood.packed()


@dataclass(frozen=True)
class BandSummary:
    """What one band knows from one season.

    Parameters
    ----------
    band : str
        A random number that stands for the band (UUID).
    season : str
        A year.
    sections : mapping of str to Section
        By kind of instrument.
    spreads : Likelihood
        Of the scores of the standard deviations, of all sections together.
    withheld : int
        How many kinds of instrument are not in the file, because it would say too much of one
        player.
    model, reference : str
        What the numbers are of (`drift.bands.reference`).
    """

    band: str
    season: str
    sections: Mapping[str, Section]
    spreads: Likelihood
    withheld: int = 0
    model: str = field(default=MODEL)
    reference: str = field(default=REFERENCE)

    def to_json(self) -> dict[str, Any]:
        """Return all that the file holds."""
        return {
            "format": FORMAT, "version": VERSION, "model": self.model, "reference": self.reference,
            "band": self.band, "season": self.season, "withheld": self.withheld,
            "spreads": self.spreads.packed(),
            "instruments": {name: one.to_json() for name, one in self.sections.items()},
        }  # fmt: skip

    def write(self, path: Path | str) -> None:
        """Write the file, a line a kind of instrument, so that it can be read before it is sent."""
        answer = self.to_json()
        sections = answer.pop("instruments")
        lines = [f"  {json.dumps(name)}: {json.dumps(value)}," for name, value in answer.items()]
        inner = [f"    {json.dumps(name)}: {json.dumps(one)}" for name, one in sections.items()]
        lines.append('  "instruments": {\n' + ",\n".join(inner) + "\n  }")
        with written_file(path) as unfinished:
            unfinished.write_text("{\n" + "\n".join(lines) + "\n}\n", encoding="utf-8")

    @classmethod
    def read(cls, path: Path | str) -> BandSummary:
        """Read a file.

        Raises
        ------
        InputError
            If it is not such a file; names all that is wrong with it.
        """
        file = Path(path)
        remedy = "give files that drift summary wrote, as they were written"
        try:
            if file.stat().st_size > LARGEST_FILE:
                raise InputError(f"{file}: too large for the summary of a band", remedy)
            found = json.loads(file.read_text(encoding="utf-8"))
        except (OSError, ValueError, RecursionError) as failure:
            raise InputError(f"{file}: {failure}", remedy) from failure
        if wrong := problems(found):
            raise InputError(f"{file}: {'; '.join(wrong[:8])}", remedy)
        return cls(
            band=found["band"], season=found["season"], withheld=found["withheld"],
            model=found["model"], reference=found["reference"],
            spreads=Likelihood.unpacked(found["spreads"]),
            sections={name: _section(one) for name, one in found["instruments"].items()},
        )  # fmt: skip


def _section(found: Mapping[str, Any]) -> Section:
    return Section(
        Likelihood.unpacked({name: found[name] for name in ("information", "pull")}),
        found["players"], found["rehearsals"], found["readings"],
        (found["celsius"][0], found["celsius"][1]),
    )  # fmt: skip


def problems(found: Any) -> list[str]:
    """Return all that keeps a JSON value from being a summary, in words."""
    wanted = {
        "format": lambda value: value == FORMAT,
        "version": lambda value: _is_whole(value, 1, VERSION),
        "model": lambda value: _is_text(value, r"[\w.-]{1,40}"),
        "reference": lambda value: _is_text(value, r"[\w.-]{1,40}"),
        "band": lambda value: _is_text(value, r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}"),
        "season": lambda value: _is_text(value, r"[0-9]{4}"),
        "withheld": lambda value: _is_whole(value, 0, 60),
        "spreads": lambda value: isinstance(value, dict) and not _wrong(value, NUMBERS),
        "instruments": lambda value: isinstance(value, dict) and len(value) <= 60,
    }
    if not isinstance(found, dict):
        return ["it is not an object"]
    wrong = _wrong(found, wanted)
    sections = found.get("instruments")
    for name, one in sections.items() if isinstance(sections, dict) else ():
        here = _wrong(one, NUMBERS | SECTION) if isinstance(one, dict) else ["not an object"]
        wrong += [f"instruments, {name[:40]!r}: {text}" for text in here]
    return wrong


def _wrong(found: Mapping[str, Any], wanted: Mapping[str, Any]) -> list[str]:
    """Return what is missing, what does not belong there, and what is not as it should be."""
    missing = [f"{name} is missing" for name in wanted if name not in found]
    strange = [f"{name[:40]!r} does not belong there" for name in found if name not in wanted]
    wrong = [f"{name} is not as it should be" for name in wanted
             if name in found and not wanted[name](found[name])]  # fmt: skip
    return missing + strange + wrong


def _is_text(value: Any, pattern: str) -> bool:
    return isinstance(value, str) and re.fullmatch(pattern, value, re.ASCII) is not None


def _is_whole(value: Any, low: float, high: float) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and low <= value <= high


def _are_numbers(value: Any, count: int) -> bool:
    return isinstance(value, list) and len(value) == count and all(
        isinstance(one, int | float) and not isinstance(one, bool) and math.isfinite(one)
        and abs(one) <= LARGEST_NUMBER for one in value
    )  # fmt: skip


NUMBERS = {
    "information": lambda value: _are_numbers(value, 21),
    "pull": lambda value: _are_numbers(value, 6),
}
SECTION = {
    "players": lambda value: value in PLAYERS,
    "rehearsals": lambda value: value in REHEARSALS,
    "readings": lambda value: _is_whole(value, 1, LARGEST_NUMBER),
    "celsius": lambda value: (
        isinstance(value, list) and len(value) == 2 and all(_is_whole(v, -40, 60) for v in value)
    ),
}
