"""Random damages to the files of a logbook, and what its answer is then.

Run as a script, it prints the table in docs/explanation/reliability.md.
"""

from __future__ import annotations

import random
import shutil
import sys
import tempfile
from collections import Counter
from datetime import UTC, datetime, timedelta
from pathlib import Path

from drift import shipped
from drift.errors import DriftError
from drift.logbook.book import Logbook
from drift.logbook.bulk import import_tables
from drift.logbook.records import Reading
from drift.logbook.rehearsals import Rehearsals, load
from drift.logbook.salvage import salvage
from drift.tables.taking import take_tables

KINDS = ("bit", "zeros", "cut")
#: The file that is damaged: of a book that was closed, or the two of one that is being written.
TARGETS = ("closed", "open", "journal")
START = datetime(2026, 11, 1, 18, 0, tzinfo=UTC)
BOOK = "band.logbook"


def make_books(place: Path) -> None:
    """Make a book of a season and an evening: copies of it open, and of it closed."""
    working = place / "working"
    working.mkdir()
    with Logbook(working / BOOK, writer="the test") as book:
        import_tables(book, take_tables(shipped.folder("datasets/cold-hall-season")))
    with Logbook(working / BOOK, writer="the test") as book:  # the season is in the database now
        for number in range(40):
            time = START + timedelta(minutes=number)
            book.keep(Reading(time, "hall", "Rowan", "double horn", "F", "F4", number / 10))
        book.undo("hall", START + timedelta(hours=1))
        shutil.copytree(working, place / "open")
    shutil.copytree(working, place / "closed")


def spoil(file: Path, kind: str, chance: random.Random) -> None:
    """Flip a bit, zero a stretch or cut the end, each at random."""
    content = bytearray(file.read_bytes())
    where = chance.randrange(len(content))
    if kind == "bit":
        content[where] ^= 1 << chance.randrange(8)
    elif kind == "zeros":
        length = chance.choice((1, 16, 512, 4096, 20000))
        content[where : where + length] = bytes(min(length, len(content) - where))
    else:
        del content[where:]
    file.write_bytes(content)


def answer_of(book: Path, truth: Rehearsals) -> str:
    """Return what a damaged book answers: the same, refused, or what must never be."""
    try:
        found = load(book)
    except DriftError:
        return "refused"
    except Exception as error:
        return f"traceback: {type(error).__name__}: {error}"
    return "the same" if found.same_as(truth) else "DIFFERENT"


def salvaged(book: Path, whole: Counter[object]) -> str:
    """Return what salvaging gives: nothing but records that were saved, or what must not be."""
    try:
        found = salvage(book)
    except DriftError:
        return "cannot be opened"
    except Exception as error:
        return f"traceback: {type(error).__name__}: {error}"
    records = Counter([*found.folder.records, *(record for record, _ in found.folder.undone)])
    if records - whole:
        return "INVENTED"
    return "everything" if records == whole else "a part"


def try_damages(place: Path, count: int, seed: str) -> Counter[tuple[str, str, str, str]]:
    """Damage copies of a book so many times, and count what comes of it."""
    make_books(place)
    truth = load(place / "closed" / BOOK)
    found = salvage(place / "closed" / BOOK)
    whole = Counter([*found.folder.records, *(record for record, _ in found.folder.undone)])
    outcomes: Counter[tuple[str, str, str, str]] = Counter()
    for number in range(count):
        chance = random.Random(f"{seed} {number}")
        target, kind = chance.choice(TARGETS), KINDS[number % len(KINDS)]
        copy = place / "copy"
        shutil.copytree(place / ("closed" if target == "closed" else "open"), copy)
        spoil(copy / (f"{BOOK}-wal" if target == "journal" else BOOK), kind, chance)
        saved = salvaged(copy / BOOK, whole)
        outcomes[target, kind, answer_of(copy / BOOK, truth), saved] += 1
        shutil.rmtree(copy)
    return outcomes


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        counted = try_damages(Path(folder), int(sys.argv[1]), sys.argv[2])
    print("| file | damage | answer | salvage | times |\n|---|---|---|---|---|")
    for row, times in sorted(counted.items()):
        print("|", " | ".join((*row, str(times))), "|")
