"""Coverage-guided fuzzing of what may be typed, down into the logbook.

    pip install atheris
    python tests/fuzz/fuzz_entries.py -max_total_time=60 -dict=tests/fuzz/entries.dict NEW_FOLDER

The folder takes what is found on the way; options are those of libFuzzer. A run that finds nothing
ends with exit status 0; a finding is written to a file ``crash-...`` that can be given as the only
argument to repeat it.

What must hold for any bytes: no exception but ours, one line of answer, and one entry more in the
book where it says ``saved``, none where it does not.
"""

from __future__ import annotations

import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path

import atheris

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

with atheris.instrument_imports(include=["drift"]):
    from drift.capture.desk import Desk
    from drift.capture.entries import parse_entry
    from drift.errors import InputError
    from drift.logbook.book import Logbook
    from tests.entered import more_entries

TIME = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)


def check_grammar(line: str) -> None:
    """Read one line, whatever is in it."""
    try:
        parse_entry(line)
    except InputError as refusal:
        if not (refusal.problem and refusal.remedy):
            raise AssertionError(f"a refusal without a reason: {line!r}") from None


def check_desk(desk: Desk, line: str) -> None:
    """Enter one line, and look at what was kept."""
    before = desk.book.last_entry
    answer = desk.enter(line, TIME)
    more = desk.book.last_entry - before
    if more != more_entries(answer):
        raise AssertionError(f"{more} entries kept, answered {answer.text!r}: {line!r}")
    if len(answer.text.splitlines()) > 1:
        raise AssertionError(f"more than one line of answer: {answer.text!r}")
    if not (answer.text.startswith("saved" if answer.saved else "not saved: ") or answer.asks):
        raise AssertionError(f"neither kept nor not saved: {answer.text!r}")


def main() -> None:
    """Fuzz until libFuzzer has had enough; it ends the process, so nothing is tidied up after."""
    memory = Path("/dev/shm")
    folder = memory if memory.is_dir() else Path(tempfile.gettempdir())
    for old in folder.glob("drift-fuzz-entries.logbook*"):
        old.unlink()
    with Logbook(folder / "drift-fuzz-entries.logbook", writer="fuzz") as book:
        desk = Desk(book, "hall")
        desk.start(TIME, player="Rowan", instrument="double horn")

        def one_input(data: bytes) -> None:
            line = data.decode("utf-8", "surrogateescape")
            check_grammar(line)
            check_desk(desk, line)

        atheris.Setup(sys.argv, one_input)
        atheris.Fuzz()


if __name__ == "__main__":
    main()
