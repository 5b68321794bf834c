"""Build the package, install it from nothing on every Python there is, and try it.

Usage: python tests/packages.py [--extras]      needs the packages build and uv

For each Python from 3.11 on: an empty environment, the wheel (and, on the oldest, the sdist),
``drift --version`` and ``drift demo``; prints how long both take and how much room the environment
takes, and fails where that is more than the README says. With
``--extras``, each extra by itself as well, and whether what it is for can be imported.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parent.parent
VERSIONS = ("3.11", "3.12", "3.13", "3.14")
CEILING_MB = 600  # as the README says
EXTRAS = {
    "modbus": "minimalmodbus", "microphone": "sounddevice", "phone": "av",
    "sheets": "python_calamine", "calendar": "icalendar", "forecast": "xarray, cfgrib",
    "formula": "formulaic", "cluster": "dask, distributed", "completion": "shtab",
    "docs": "sphinx",
}  # fmt: skip


def run(*words: str | Path, place: Path) -> str:
    """Run a program away from the source, with nothing of this environment; return its output."""
    clean = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    done = subprocess.run(
        [str(word) for word in words], cwd=place, env=clean, capture_output=True, text=True
    )
    if done.returncode:
        raise SystemExit(f"{' '.join(map(str, words))}\n{done.stdout}{done.stderr}")
    return done.stdout


def environment(place: Path, python: Path, package: str) -> Path:
    """Install one package into an empty environment; return its folder of programs."""
    run(sys.executable, "-m", "uv", "venv", "-q", "--python", python, place, place=place.parent)
    programs = place / ("Scripts" if os.name == "nt" else "bin")
    run(sys.executable, "-m", "uv", "pip", "install", "-q", "--python", programs / "python",
        package, place=place.parent)  # fmt: skip
    return programs


def megabytes(place: Path) -> float:
    """Return the size of an environment [MB]."""
    return sum(path.lstat().st_size for path in place.rglob("*") if path.is_file()) / 1e6


def pythons() -> dict[str, Path]:
    """Return the interpreters that really run, by version (a shim may only pretend)."""
    found = {}
    for version in VERSIONS:
        own = sorted(Path.home().glob(f".pyenv/versions/{version}.*/bin/python"))
        for candidate in [*map(Path, filter(None, [shutil.which(f"python{version}")])), *own]:
            says = subprocess.run([candidate, "--version"], capture_output=True, text=True).stdout
            if says.startswith(f"Python {version}."):
                found.setdefault(version, candidate)
    return found


def tried(name: str, place: Path, python: Path, package: Path) -> None:
    """Install a package, run the demonstration and print a row."""
    programs = environment(place, python, str(package))
    began = time.monotonic()
    version = run(programs / "drift", "--version", place=place).strip()
    started = time.monotonic()
    printed = run(programs / "drift", "demo", "--out", place / "made", place=place)
    if "cents/°C" not in printed or not (place / "made" / "season.logbook").exists():
        raise SystemExit(f"{name} on {python}: the demonstration gave\n{printed}")
    took, size = time.monotonic() - started, megabytes(place)
    print(f"{place.name:12} {name:6} {version:14} starts in {started - began:.1f} s, "
          f"demo {took:4.0f} s  {size:5.0f} MB")  # fmt: skip
    if size > CEILING_MB:
        raise SystemExit(f"{size:.0f} MB is more than the {CEILING_MB} MB of the README")


def importing(python: Path, modules: str, place: Path) -> str:
    """Import what an extra is for; return in words which library of the system it lacks."""
    done = subprocess.run(
        [python, "-c", f"import {modules}"], cwd=place, capture_output=True, text=True
    )
    if done.returncode and "library not found" not in done.stderr:
        raise SystemExit(f"import {modules}\n{done.stderr}")
    return f" ({done.stderr.strip().splitlines()[-1]})" if done.returncode else ""


def main() -> None:
    """Build and try."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--extras", action="store_true")
    given = ask.parse_args()
    here = pythons()
    oldest = next(iter(here))
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        run(sys.executable, "-m", "build", "-o", place / "dist", ROOT, place=place)
        (wheel,), (sdist,) = (place / "dist").glob("*.whl"), (place / "dist").glob("*.tar.gz")
        for version in here:
            tried("wheel", place / f"wheel-{version}", here[version], wheel)
        tried("sdist", place / "sdist", here[oldest], sdist)
        for extra, modules in EXTRAS.items() if given.extras else ():
            alone = place / extra
            programs = environment(alone, here[oldest], f"{wheel}[{extra}]")
            lacks = importing(programs / "python", modules, alone)
            print(f"{oldest} [{extra}]: import {modules}{lacks}; {megabytes(alone):.0f} MB")


if __name__ == "__main__":
    main()
