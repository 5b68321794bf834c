"""What a study shows to be spoilt, in words: for `drift check`, the report and the page."""

from __future__ import annotations

import shlex
from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import UTC, tzinfo

from drift.logbook.records import TYPED
from drift.pairing.nearest import GAP_MINUTES, TYPED_MINUTES
from drift.pairing.spoilt import Spoilt, SpoiltKind
from drift.pairing.thermometers import in_rooms_of_their_own
from drift.regression.notices import MOST_READINGS, Notice
from drift.regression.results import Fit
from drift.study import Study
from drift.words.letters import capital
from drift.words.notices import notice_in_words
from drift.words.numbers import some
from drift.words.spoilt import WARNED, all_in_words, beginning_assumed

__all__ = [
    "beside",
    "findings",
    "not_searched",
    "of_player",
    "playing_assumed",
    "scattering",
    "sentences",
    "several_thermometers",
    "under_other_names",
    "without_temperature",
]


def findings(
    study: Study, zone: tzinfo | None = UTC, but: Collection[SpoiltKind] = ()
) -> list[tuple[str, str]]:
    """Return kind and text of what is spoilt in a study, each a line of `drift check`.

    Parameters
    ----------
    study : Study
        What was logged.
    zone : tzinfo or None
        Where times of day are told; None: where this computer is.
    but : collection of SpoiltKind
        What was told already.
    """
    readings = len(study.paired.frame)
    searched = readings <= MOST_READINGS  # no fit is made for nothing
    noticed = study.notices if searched else ()
    assumed = playing_assumed(study.rehearsals.without_a_beginning)
    return [
        *all_in_words((one for one in study.spoilt if one.kind not in but), zone),
        *((one.kind.value, notice_in_words(one, zone)) for one in noticed),
        *(("several thermometers", text) for text in _served(study)),
        *(("temperatures scatter", text) for text in scattering(study.paired.scatter)),
        *(("playing assumed", text) for text in assumed),
        *(() if searched else [("not searched", not_searched(readings))]),
    ]


def beside(study: Study, fit: Fit, zone: tzinfo | None = UTC) -> list[str]:
    """Return what there is to look at beside a fit, less what its own warnings tell.

    Parameters
    ----------
    study : Study
        What was logged.
    fit : Fit
        Of it, or of one of its players.
    zone : tzinfo or None
        Where times of day are told; None: where this computer is.
    """
    spoilt = [one for one in study.spoilt if one.kind not in WARNED]
    return [
        *sentences(spoilt, fit.notices, zone=zone),
        *_served(study),
        *scattering(study.paired.scatter),
        *playing_assumed(study.rehearsals.without_a_beginning),
    ]


def _served(study: Study) -> list[str]:
    """Return which thermometer the temperatures are of, where there could be a doubt."""
    serving = study.paired.thermometers
    disagree = [one for one in study.spoilt if one.kind is SpoiltKind.TWO_THERMOMETERS]
    if in_rooms_of_their_own(study.rehearsals, serving):
        return []
    if len(serving) != 1 or not disagree:
        return several_thermometers(serving)
    return [f"Temperatures are those of {serving[0]}; --thermometer NAME takes another one's."]


def of_player(notices: Iterable[Notice], instrument: str, player: str = "") -> list[Notice]:
    """Return the notices that concern an instrument, and one of its players where one is named."""
    return [
        notice
        for notice in notices
        if notice.instrument in ("", instrument)
        and (not player or not notice.player or player in (notice.player, notice.other))
    ]


def not_searched(readings: int) -> str:
    """Return that faults of readings were not searched for, and what to do.

    Examples
    --------
    >>> not_searched(250_000)  # doctest: +NORMALIZE_WHITESPACE
    'Slides moved and not logged, exchanged names and other faults were not searched for: 250000
    readings are more than 100000. Check the logbooks of single seasons to have them named.'
    """
    return (
        "Slides moved and not logged, exchanged names and other faults were not searched for: "
        f"{readings} readings are more than {MOST_READINGS}. Check the logbooks of single seasons "
        "to have them named."
    )


def playing_assumed(rehearsals: Sequence[str]) -> list[str]:
    """Return a sentence where no event says when playing began.

    Examples
    --------
    >>> playing_assumed(["7 May"])  # doctest: +NORMALIZE_WHITESPACE
    ['No event says when playing began on 7 May: taken as a minute before each first reading, which
    makes the rise too small where people had played for longer; say it with a row play and its
    time, in the table events.']
    """
    if not rehearsals:
        return []
    return [
        f"{capital(beginning_assumed(rehearsals))}, which makes the rise too small where people "
        "had played for longer; say it with a row play and its time, in the table events."
    ]


def without_temperature(missing: Mapping[str, int], readings: int) -> list[str]:
    """Return a sentence where readings have no temperature, so that no fit can use them.

    Parameters
    ----------
    missing : mapping of str to int
        How many, by rehearsal.
    readings : int
        How many there are with one or without.

    Examples
    --------
    >>> (text,) = without_temperature({"7 May": 12, "9 May": 3}, 40)
    >>> text.partition(": ")[0]
    '15 of 40 readings (7 May, 9 May) have no temperature near enough'
    """
    if not missing:
        return []
    return [
        f"{sum(missing.values())} of {readings} readings ({some([*missing])}) have no temperature "
        f"near enough: {GAP_MINUTES:g} minutes of a thermometer's, {TYPED_MINUTES:g} of a typed "
        "one. A fit leaves them out; add rows to the table temperatures."
    ]


def under_other_names(others: Mapping[tuple[str, str], int], readings: int) -> list[str]:
    """Return a sentence where the temperatures beside readings are of another rehearsal's name.

    Parameters
    ----------
    others : mapping of (str, str) to int
        How many readings, by their rehearsal and the one that has temperatures then.
    readings : int
        How many there are in all.

    Examples
    --------
    >>> (text,) = under_other_names({("Tuesday", "2026-03-03"): 12}, 40)
    >>> text.partition(". ")[0]
    '12 of 40 readings have their temperatures under another rehearsal (Tuesday under 2026-03-03)'
    """
    if not others:
        return []
    pairs = some([f"{own} under {other}" for own, other in others])
    return [
        f"{sum(others.values())} of {readings} readings have their temperatures under another "
        f"rehearsal ({pairs}). A fit leaves them out; give one rehearsal one name in every table, "
        "or leave the column rehearsal out of the temperatures, which then go by time."
    ]


def several_thermometers(serving: tuple[str, ...]) -> list[str]:
    """Return a sentence where temperatures are of more than one thermometer.

    Examples
    --------
    >>> several_thermometers(("hall", "/dev/ttyUSB1"))  # doctest: +NORMALIZE_WHITESPACE
    ['Temperatures are those of hall; where it was not there, of /dev/ttyUSB1. Compare them side by
    side; --thermometer hall leaves what was read without it out.']
    """
    named = [name or "the thermometer without a name" for name in serving]
    if len(named) < 2:
        return []
    return [
        f"Temperatures are those of {named[0]}; where it was not there, of "
        f"{', '.join(named[1:])}. Compare them side by side; --thermometer "
        f"{shlex.quote(serving[0])} leaves what was read without it out."
    ]


def scattering(scatter: Mapping[str, float]) -> list[str]:
    """Return a sentence for each thermometer whose temperatures scatter [°C].

    Examples
    --------
    >>> scattering({"typed": 0.32})  # doctest: +NORMALIZE_WHITESPACE
    ['Typed temperatures scatter by 0.3 °C (0.6 °F) about an even course. Readings are paired with
    that course, for slopes come out too shallow with the scatter.']
    """
    return [
        f"{_temperatures_of(name)} scatter by {celsius:.1f} °C ({1.8 * celsius:.1f} °F) about an "
        "even course. Readings are paired with that course, for slopes come out too shallow with "
        "the scatter."
        for name, celsius in scatter.items()
    ]


def _temperatures_of(name: str) -> str:
    if name == TYPED:
        return "Typed temperatures"
    return f"Temperatures of {name or 'the thermometer without a name'}"


def sentences(
    spoilt: Iterable[Spoilt],
    notices: Iterable[Notice],
    rehearsal: str | None = None,
    zone: tzinfo | None = UTC,
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
    zone : tzinfo or None
        Where times of day are told; None: where this computer is.
    """
    where = {"", rehearsal}
    here = (one for one in spoilt if rehearsal is None or one.rehearsal in where)
    noticed = (one for one in notices if rehearsal is None or one.rehearsal in where)
    return [
        *(text for _, text in all_in_words(here, zone)),
        *(notice_in_words(one, zone) for one in noticed),
    ]
