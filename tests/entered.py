"""How many entries the logbook holds more after an answer."""

from drift.capture.answers import Kept, KeptAll


def more_entries(answer):
    """One for each record that was saved, one more where it is in place of another; else none."""
    if not answer.saved:
        return 0
    kept = answer.about.kept if isinstance(answer.about, KeptAll) else (answer.about,)
    return sum(2 if isinstance(one, Kept) and one.instead is not None else 1 for one in kept)
