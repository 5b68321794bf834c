"""What the numbers of a section rest on, in a few words."""

from __future__ import annotations

from drift.gig.basis import Basis, BasisKind

__all__ = ["basis_text"]


def basis_text(basis: Basis) -> str:
    """Return what the course of a section rests on.

    Examples
    --------
    >>> basis_text(Basis(BasisKind.OWN, 0.81, 120, read=1, players=3))
    'own of 1 in 3, 81 %'
    >>> basis_text(Basis(BasisKind.FEW_READINGS, 0.3, 1))
    'acoustics, 1 reading'
    """
    share = f"{100 * (basis.from_readings or 0.0):.0f} %"
    if basis.kind is BasisKind.OTHERS:
        return f"learnt from others, {share}"
    if basis.kind is BasisKind.FEW_READINGS:
        readings = f"{basis.readings} reading{'s' if basis.readings != 1 else ''}"
        return f"acoustics, {readings}{' of others' if basis.of_others else ''}"
    if basis.kind is BasisKind.OWN:
        some = 0 < basis.read < basis.players
        return f"own{f' of {basis.read} in {basis.players}' if some else ''}, {share}"
    if basis.kind is BasisKind.REHEARSALS:
        return "own rehearsals"
    return str(basis.kind.value)
