"""The catalogue of instruments: the shipped one, and files of the user's own.

Examples
--------
>>> horn = find("double horn")
>>> [side.name for side in horn.sides], round(horn.side("Bb").length_m, 3)
(['F', 'Bb'], 2.952)
>>> round(horn.cents_of_moves("F", {"main": 10.0}), 2)
-8.77
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache, lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

from drift.errors import InputError, InstrumentError
from drift.notes import shown
from drift.spelling import near

if TYPE_CHECKING:
    from drift.instruments.anatomy import Instrument
    from drift.instruments.catalogue_file import CatalogueFile

__all__ = ["canonical_name", "catalogue", "entry_text", "find", "known_name"]

SHIPPED = Path(__file__).with_name("catalogue.toml")


def canonical_name(text: str) -> str:
    """Return the ASCII spelling of an instrument's name, which need not exist.

    Parameters
    ----------
    text : str
        A name as typed, such as ``B♭ trumpet``.

    Returns
    -------
    str
        ``Bb trumpet``; the catalogue's own name where the catalogue has it.

    Examples
    --------
    >>> canonical_name(" b♭  Trumpet "), canonical_name("trombone")
    ('Bb trumpet', 'tenor trombone')
    """
    plain = " ".join(text.replace("♭", "b").replace("♯", "#").split())
    return _by_fold().get(plain.casefold(), plain)


def catalogue(extra: Path | None = None) -> Mapping[str, Instrument]:
    """Return every known instrument by name.

    Parameters
    ----------
    extra : Path, optional
        A TOML file of the user's own; its instruments replace shipped ones of the same name.

    Returns
    -------
    mapping of str to Instrument
        In the order of the files; read only.

    Raises
    ------
    InputError
        If the file cannot be read or an entry is wrong; names file, line and key.
    """
    if extra is None:
        return _shipped()
    return MappingProxyType({**_shipped(), **_own(Path(extra)).instruments})


def find(name: str, extra: Path | None = None) -> Instrument:
    """Return an instrument by name.

    Parameters
    ----------
    name : str
        Its name; capitals do not matter, ``♭`` and ``b`` are the same.
    extra : Path, optional
        A TOML file of the user's own instruments.

    Returns
    -------
    Instrument
        The entry.

    Raises
    ------
    InstrumentError
        If there is none; the remedy lists names that are near.

    Examples
    --------
    >>> find("B♭ Trumpet").name
    'Bb trumpet'
    """
    known = catalogue(extra)
    wanted = canonical_name(name).casefold()
    for instrument in known.values():
        if instrument.name.casefold() == wanted:
            return instrument
    spelt = near(wanted, {**dict.fromkeys(_by_fold()), **known})
    close = [shown(name) for name in dict.fromkeys(map(canonical_name, spelt))]
    remedy = f"did you mean {' or '.join(close)}?" if close else ""
    raise InstrumentError(
        f"no instrument {name!r} in the catalogue",
        remedy or "drift instruments lists them; add your own with --instruments FILE",
    )


def known_name(name: str, extra: Path | None = None) -> str:
    """Return the catalogue's own name of an instrument.

    Parameters
    ----------
    name : str
        Its name; capitals do not matter, ``♭`` and ``b`` are the same.
    extra : Path, optional
        A TOML file of the user's own instruments.

    Returns
    -------
    str
        What `find` has as the name, without reading the shipped instruments themselves.

    Raises
    ------
    InstrumentError
        If there is none; the remedy lists names that are near.

    Examples
    --------
    >>> known_name("B♭ Trumpet"), known_name("trombone")
    ('Bb trumpet', 'tenor trombone')
    """
    name_here = canonical_name(name)
    if extra is None and name_here.casefold() in _by_fold():
        return name_here
    return find(name, extra).name


def entry_text(name: str, extra: Path | None = None) -> str:
    """Return the entry of an instrument as it is written in its file.

    Parameters
    ----------
    name : str
        Its name.
    extra : Path, optional
        A TOML file of the user's own instruments.

    Returns
    -------
    str
        TOML that a file of the user's own can begin with.

    Examples
    --------
    >>> entry_text("cornet").splitlines()[1]
    'name = "cornet"'
    """
    wanted = find(name, extra).name
    own = _own(extra).texts if extra else {}
    return own.get(wanted) or _shipped_file().texts[wanted]


def _own(path: Path) -> CatalogueFile:
    try:
        return _read(path, path.stat().st_mtime_ns)
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(
            f"{path}: the file cannot be read ({type(error).__name__})",
            "give --instruments a TOML file in UTF-8",
        ) from error


@lru_cache(maxsize=4)
def _read(path: Path, _changed_ns: int) -> CatalogueFile:
    from drift.instruments.catalogue_file import read_catalogue  # as below

    return read_catalogue(path.read_text(encoding="utf-8"), str(path), _shipped_file().sizes)


@cache
def _shipped_file() -> CatalogueFile:
    # Not at the head: a log starts with the names alone, and need not wait for the instruments.
    from drift.instruments.catalogue_file import read_catalogue

    return read_catalogue(SHIPPED.read_text(encoding="utf-8"), SHIPPED.name)


@cache
def _shipped() -> Mapping[str, Instrument]:
    return MappingProxyType(_shipped_file().instruments)


@cache
def _by_fold() -> dict[str, str]:
    """Return the shipped names by whatever they go by, read without the instruments.

    TOML allows more than the quoted texts that are looked for here; a test holds the shipped file
    to them.
    """
    names: dict[str, str] = {}
    name = ""
    for line in SHIPPED.read_text(encoding="utf-8").splitlines():
        key, _, value = line.partition(" = ")
        if key in ("name", "aliases"):
            spellings = re.findall(r'"(.+?)"', value)
            name = spellings[0] if key == "name" else name
            names.update((spelling.casefold(), name) for spelling in spellings)
    return names
