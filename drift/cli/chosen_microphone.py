"""Which microphone this user listens with, and how late it hears: a small file of theirs."""

from __future__ import annotations

import json
import os
from dataclasses import asdict, dataclass
from pathlib import Path

from drift.errors import InputError
from drift.writing import written_file

__all__ = ["ChosenMicrophone", "chosen_microphone", "place", "remember"]

_MOST_S = 10.0


@dataclass(frozen=True, slots=True)
class ChosenMicrophone:
    """A microphone that was chosen.

    Attributes
    ----------
    device : str
        Name of an input; empty for the default of the system.
    delay_s : float
        How much later than it was heard a sound has its time [s]; 0 where not measured.
    """

    device: str = ""
    delay_s: float = 0.0


def place() -> Path:
    """Return where the choice is kept: in the user's folder of settings, as their system has it."""
    settings = os.environ.get("XDG_CONFIG_HOME") or os.environ.get("APPDATA")
    folder = Path(settings) if settings else Path.home() / ".config"
    return folder / "rehearsal-drift" / "microphone.json"


def chosen_microphone() -> ChosenMicrophone:
    """Return the microphone that was chosen; without a choice the default of the system.

    Raises
    ------
    InputError
        When the file is not one that `remember` writes.
    """
    path = place()
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
        chosen = ChosenMicrophone(str(found["device"]), float(found["delay_s"]))
    except FileNotFoundError:
        return ChosenMicrophone()
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise InputError(
            f"{path} cannot be used: {error}", "choose again with drift microphone, or delete it"
        ) from None
    if not abs(chosen.delay_s) <= _MOST_S:
        raise InputError(
            f"{path} holds a delay of {chosen.delay_s:g} s",
            "measure it again with drift microphone --test-tone",
        )
    return chosen


def remember(chosen: ChosenMicrophone) -> Path:
    """Keep a choice, and return where."""
    path = place()
    path.parent.mkdir(parents=True, exist_ok=True)
    text = json.dumps(asdict(chosen), ensure_ascii=False, indent=2) + "\n"
    with written_file(path) as unfinished:
        unfinished.write_text(text, encoding="utf-8")
    return path
