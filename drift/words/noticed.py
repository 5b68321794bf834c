"""What a study shows to be spoilt, in words: for `drift check`, the report and the page."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, tzinfo

from drift.pairing.examination import Finding
from drift.pairing.spoilt import Spoilt
from drift.regression.notices import Notice
from drift.study import Study
from drift.words.notices import notice_in_words
from drift.words.spoilt import spoilt_in_words

__all__ = ["findings", "in_words", "sentences"]


def findings(study: Study, zone: tzinfo = UTC) -> list[Finding]:
    """Return what is spoilt in a study, each thing as a line of `drift check`.

    Parameters
    ----------
    study : Study
        What was logged.
    zone : tzinfo
        Where times of day are told.
    """
    found: tuple[Spoilt | Notice, ...] = (*study.spoilt, *study.notices)
    return [Finding(one.kind.value, in_words(one, zone)) for one in found]


def in_words(found: Spoilt | Notice, zone: tzinfo = UTC) -> str:
    """Return one finding in a few sentences."""
    if isinstance(found, Spoilt):
        return spoilt_in_words(found, zone)
    return notice_in_words(found, zone)


def sentences(
    spoilt: Iterable[Spoilt],
    notices: Iterable[Notice],
    rehearsal: str | None = None,
    zone: tzinfo = UTC,
) -> list[str]:
    """Return findings as sentences, those of one rehearsal where one is named.

    Parameters
    ----------
    spoilt : iterable of Spoilt
        What the tables of a study show.
    notices : iterable of Notice
        What its regression noticed.
    rehearsal : str, optional
        Leave out what lies in others.
    zone : tzinfo
        Where times of day are told.
    """
    found: list[Spoilt | Notice] = [*spoilt, *notices]
    return [
        in_words(one, zone)
        for one in found
        if rehearsal is None or one.rehearsal in ("", rehearsal)
    ]
