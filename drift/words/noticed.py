"""What a study shows to be spoilt, in words: for `drift check`, the report and the page."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, tzinfo

from drift.pairing.examination import Finding
from drift.pairing.spoilt import Spoilt
from drift.study import Study
from drift.words.spoilt import spoilt_in_words

__all__ = ["findings", "sentences"]


def findings(study: Study, zone: tzinfo = UTC) -> list[Finding]:
    """Return what is spoilt in a study, each thing as a line of `drift check`.

    Parameters
    ----------
    study : Study
        What was logged.
    zone : tzinfo
        Where times of day are told.
    """
    return [Finding(one.kind.value, spoilt_in_words(one, zone)) for one in study.spoilt]


def sentences(
    found: Iterable[Spoilt], rehearsal: str | None = None, zone: tzinfo = UTC
) -> list[str]:
    """Return findings as sentences, those of one rehearsal where one is named.

    Parameters
    ----------
    found : iterable of Spoilt
        What a study shows.
    rehearsal : str, optional
        Leave out what lies in others.
    zone : tzinfo
        Where times of day are told.
    """
    return [
        spoilt_in_words(one, zone)
        for one in found
        if rehearsal is None or one.rehearsal in ("", rehearsal)
    ]
