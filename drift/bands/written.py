"""What a band wrote before: a record beside its logbook, which is never sent.

The difference of two files of one season, of six players and of seven, is what the newcomer added.
So a season is written anew only when at least three players of a section changed.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from drift.errors import InputError
from drift.writing import written_file

__all__ = ["Written"]

FORMAT = "drift-band-written"
FEWEST_CHANGED = 3

Version = Mapping[str, tuple[str, ...]]
"""Digests of the players' readings by section (`drift.bands.summaries.fingerprints`)."""


@dataclass(frozen=True)
class Written:
    """The number of a band, and what its files were made of.

    Parameters
    ----------
    band : str
        The random number that stands for it in every file.
    seasons : mapping of str to tuple of mappings
        Every version that was written, by season.

    Examples
    --------
    >>> written = Written("0").with_version("2026", {"flute": ("a", "b", "c")})
    >>> written.refuse_small_change("2026", {"flute": ("a", "b", "c")})
    >>> written.refuse_small_change("2026", {"flute": ("a", "b", "c", "d")})
    Traceback (most recent call last):
    ...
    drift.errors.InputError: the summary of 2026 was written before, and since then 1 of the flute \
players changed: its difference from the earlier file could show them
    hand on the file there is; a season is written anew when 3 or more players of each section \
that changed did
    """

    band: str
    seasons: Mapping[str, tuple[Version, ...]] = field(default_factory=dict)

    def refuse_small_change(self, season: str, now: Version) -> None:
        """Refuse a version that differs from any earlier one by one or two players.

        Raises
        ------
        InputError
            If it does in some section.
        """
        for earlier in self.seasons.get(season, ()):
            for section in sorted(set(earlier) | set(now)):
                count = _changed(earlier.get(section, ()), now.get(section, ()))
                if 0 < count < FEWEST_CHANGED:
                    raise InputError(
                        f"the summary of {season} was written before, and since then {count} of "
                        f"the {section} players changed: its difference from the earlier file "
                        "could show them",
                        f"hand on the file there is; a season is written anew when "
                        f"{FEWEST_CHANGED} or more players of each section that changed did",
                    )

    def with_version(self, season: str, now: Version) -> Written:
        """Return the record with one more version, unless it is there."""
        before = self.seasons.get(season, ())
        if now in before:
            return self
        return replace(self, seasons={**self.seasons, season: (*before, now)})

    @classmethod
    def read(cls, path: Path | str, band: str) -> Written:
        """Read the record, or begin one with the given number where there is none.

        Raises
        ------
        InputError
            If the file is not such a record.
        """
        file = Path(path)
        if not file.exists():
            return cls(band)
        try:
            found = json.loads(file.read_text(encoding="utf-8"))
            if found["format"] != FORMAT:
                raise ValueError("it is another file")
            seasons = {
                str(season): tuple(
                    {str(name): tuple(map(str, digests)) for name, digests in one.items()}
                    for one in versions
                )
                for season, versions in found["seasons"].items()
            }
            return cls(str(found["band"]), seasons)
        except (OSError, ValueError, KeyError, TypeError, AttributeError) as failure:
            raise InputError(
                f"{file} is not the record of the summaries written before: {failure}",
                "put it back from a backup; without it a later summary could show one player",
            ) from failure

    def write(self, path: Path | str) -> None:
        """Write the record."""
        answer = {"format": FORMAT, "band": self.band, "seasons": self.seasons}
        with written_file(path) as unfinished:
            unfinished.write_text(json.dumps(answer, indent=1) + "\n", encoding="utf-8")


def _changed(earlier: tuple[str, ...], now: tuple[str, ...]) -> int:
    """Return how many players changed, at least: each took a digest away, or brought one."""
    return max(len(set(earlier) - set(now)), len(set(now) - set(earlier)))
