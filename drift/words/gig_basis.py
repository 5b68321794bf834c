"""What the numbers of a section rest on, in a few words."""

from __future__ import annotations

from drift.gig.basis import Basis, BasisKind
from drift.words.numbers import plural

__all__ = ["basis_in_words", "basis_text"]


def basis_text(basis: Basis) -> str:
    """Return what the course of a section rests on.

    Examples
    --------
    >>> basis_text(Basis(BasisKind.OWN, 0.81, 120, read=1, players=3))
    'own of 1 in 3, 81 %'
    >>> basis_text(Basis(BasisKind.FEW_READINGS, 0.3, 1))
    'acoustics, 1 reading'
    >>> [basis_text(Basis(BasisKind.OTHERS, 0.7, 90, of_others=known)) for known in (True, False)]
    ['other players, 70 %', 'other instruments, 70 %']
    """
    share = f"{100 * (basis.from_readings or 0.0):.0f} %"
    if basis.kind is BasisKind.OTHERS:
        return f"{'other players' if basis.of_others else 'other instruments'}, {share}"
    if basis.kind is BasisKind.FEW_READINGS:
        of_others = " of others" if basis.of_others else ""
        return f"acoustics, {plural(basis.readings, 'reading')}{of_others}"
    if basis.kind is BasisKind.OWN:
        some = 0 < basis.read < basis.players
        return f"own{f' of {basis.read} in {basis.players}' if some else ''}, {share}"
    if basis.kind is BasisKind.REHEARSALS:
        return "own rehearsals"
    return str(basis.kind.value)


def basis_in_words(basis: Basis) -> str:
    """Return what a course rests on for somebody who was not there when it was read.

    Examples
    --------
    >>> basis_in_words(Basis(BasisKind.OWN, 0.81, 120, read=1, players=3))
    'readings of 1 of its 3 players (81 % from readings, the rest from acoustics)'
    >>> basis_in_words(Basis(BasisKind.OTHERS, 0.3)), basis_in_words(Basis(BasisKind.ACOUSTICS))
    ('readings of other instruments (30 % from readings, the rest from acoustics)', 'acoustics')
    >>> basis_in_words(Basis(BasisKind.OTHERS, 0.7, 90, of_others=True))  # doctest: +ELLIPSIS
    'readings of other players on this instrument, because nobody of this section was read (70 % ...
    >>> basis_in_words(Basis(BasisKind.FEW_READINGS, 0.3, 9, of_others=True)).partition(",")[0]
    'acoustics and 9 readings of other players on this instrument'
    """
    of_players = "of other players on this instrument, because nobody of this section was read"
    if basis.kind is BasisKind.FEW_READINGS and basis.of_others:
        return f"acoustics and {plural(basis.readings, 'reading')} {of_players}"
    if basis.kind not in (BasisKind.OWN, BasisKind.OTHERS):
        return basis_text(basis)
    others = f"readings {of_players if basis.of_others else 'of other instruments'}"
    who = "its own readings" if basis.kind is BasisKind.OWN else others
    if basis.kind is BasisKind.OWN and 0 < basis.read < basis.players:
        who = f"readings of {basis.read} of its {basis.players} players"
    share = f"{100 * (basis.from_readings or 0.0):.0f} %"
    return f"{who} ({share} from readings, the rest from acoustics)"
