"""Names of several instruments at once, and names in the plural."""

from __future__ import annotations

from collections.abc import Container

__all__ = ["SEVERAL", "singular_of"]

_TUBAS = ("BBb tuba", "CC tuba", "Eb tuba", "F tuba")
_SAXOPHONES = ("alto saxophone", "tenor saxophone", "baritone saxophone")

#: Words that mean more than one instrument of the catalogue, and those they may mean: which of
#: them a section plays decides its lengths, so it is asked and not guessed.
SEVERAL = {
    "tuba": _TUBAS,
    "sax": _SAXOPHONES,
    "saxophone": _SAXOPHONES,
    "bari": ("baritone", "baritone saxophone"),
    "low brass": ("tenor trombone", "bass trombone", "baritone", "euphonium", *_TUBAS),
    "high brass": ("Bb trumpet", "cornet", "flugelhorn", "double horn", "mellophone"),
    "brass": ("Bb trumpet", "double horn", "tenor trombone", "euphonium", *_TUBAS),
    "woodwind": ("flute", "oboe", "Bb clarinet", "bassoon", *_SAXOPHONES),
    "low reed": ("bassoon", "baritone saxophone"),
    "mallet": ("rosewood marimba", "rosewood xylophone", "vibraphone", "glockenspiel"),
    "mallet percussion": ("rosewood marimba", "rosewood xylophone", "vibraphone", "glockenspiel"),
}


def singular_of(name: str, known: Container[str]) -> str:
    """Return the known name that a name is the plural of, or the name itself.

    Parameters
    ----------
    name : str
        In small letters.
    known : container of str
        Names in small letters.

    Returns
    -------
    str
        The name with an ``s`` or ``es`` taken from one of its words, where that is a known one.

    Examples
    --------
    >>> names = {"trumpet", "horn in f", "tenor sax", "brass"}
    >>> [singular_of(name, names) for name in ("trumpets", "horns in f", "tenor saxes", "brass")]
    ['trumpet', 'horn in f', 'tenor sax', 'brass']
    """
    if name in known:
        return name
    words = name.split()
    for place, word in enumerate(words):
        for ending in ("s", "es"):
            one = " ".join([*words[:place], word.removesuffix(ending), *words[place + 1 :]])
            if one in known:
                return one
    return name
