"""The licences of everything that the program needs, as its packages state them.

Usage: python tests/licences.py [extra ...]      a row a package: name, version, licence, size
"""

from __future__ import annotations

import re
import sys
from importlib.metadata import Distribution, PackageNotFoundError, distribution

from packaging.requirements import Requirement

PROGRAM = "rehearsal-drift"


def needed(name: str, extras: frozenset[str], seen: dict[str, Distribution]) -> None:
    """Collect a distribution and all that it requires here, with these extras."""
    key = re.sub(r"[-_.]+", "-", name).lower()
    if key in seen and not extras:
        return
    try:
        seen[key] = found = distribution(name)
    except PackageNotFoundError:
        print(f"{name}: not installed", file=sys.stderr)
        return
    for line in found.requires or []:
        wanted = Requirement(line)
        chosen = extras or frozenset({""})
        if wanted.marker is None or any(wanted.marker.evaluate({"extra": e}) for e in chosen):
            needed(wanted.name, frozenset(wanted.extras), seen)


def licence_of(found: Distribution) -> str:
    """Return what a distribution states, best as an SPDX expression, else by its classifiers."""
    stated = found.metadata.get("License-Expression")
    if stated:
        return stated
    classifiers = found.metadata.get_all("Classifier") or []
    named = [c.rpartition(" :: ")[2] for c in classifiers if c.startswith("License")]
    words = (found.metadata.get("License") or "not stated").strip().splitlines()[0][:60]
    return ", ".join(named) or words


def size_mb(found: Distribution) -> float:
    """Return how much room the files of a distribution take [MB]."""
    files = (found.locate_file(file) for file in found.files or [])
    return sum(file.stat().st_size for file in files if file.is_file()) / 1e6  # type: ignore[attr-defined]


def main() -> None:
    """Print the table and the sum of the sizes."""
    seen: dict[str, Distribution] = {}
    needed(PROGRAM, frozenset({"", *sys.argv[1:]}), seen)
    total = 0.0
    for key, found in sorted(seen.items()):
        total += (size := size_mb(found))
        print(f"{key:24} {found.version:14} {size:7.1f} MB  {licence_of(found)}")
    print(f"{len(seen)} packages, {total:.0f} MB")


if __name__ == "__main__":
    main()
