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
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from drift.errors import InputError, InstrumentError
from drift.instruments.names import SEVERAL, singular_of
from drift.notes import shown
from drift.spelling import near

if TYPE_CHECKING:
    from drift.instruments.anatomy import Instrument
    from drift.instruments.catalogue_file import CatalogueFile

__all__ = ["Catalogue", "canonical_name", "find", "known_name"]

SHIPPED = Path(__file__).with_name("catalogue.toml")


class Catalogue(Mapping[str, "Instrument"]):
    """The instruments that are known, by name.

    Iterating gives the names; `find` takes a name in any of its spellings. Made by `shipped` or
    by `read`; what the shipped file holds is read when the first instrument is asked for.

    Parameters
    ----------
    own : CatalogueFile, optional
        Instruments of the user's own; they replace shipped ones of the same name.

    Examples
    --------
    >>> catalogue = Catalogue.shipped()
    >>> "double horn" in catalogue, catalogue.find("B♭ Trumpet").name
    (True, 'Bb trumpet')
    """

    def __init__(self, own: CatalogueFile | None = None) -> None:
        self._own = own

    @classmethod
    def shipped(cls) -> Catalogue:
        """Return the catalogue that comes with the program.

        Returns
        -------
        Catalogue
            The same one each time.
        """
        return _shipped()

    @classmethod
    def read(cls, path: Path | str) -> Catalogue:
        """Return the shipped catalogue with the instruments of a file.

        Parameters
        ----------
        path : Path or str
            A TOML file of the user's own; its instruments replace shipped ones of the same name.

        Returns
        -------
        Catalogue
            What the file holds now; a later change of it is not seen.

        Raises
        ------
        InputError
            If the file cannot be read, an entry is wrong (names file, line and key), or a name
            means another instrument of the shipped catalogue.
        """
        from drift.instruments.catalogue_file import read_catalogue  # as in _shipped_file

        try:
            text = Path(path).read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError) as error:
            raise InputError(
                f"{path}: the file cannot be read ({type(error).__name__})",
                "give --instruments a TOML file in UTF-8",
            ) from error
        shipped = _shipped_file()
        own = read_catalogue(text, str(path), shipped.sizes, shipped.effects)
        for name in own.instruments:
            if (other := canonical_name(name)) != name and other in shipped.instruments:
                raise InputError(
                    f"{path}: {name!r} is another name of {other!r}, which is shipped",
                    f"name it {other!r} to replace that one, or give it a name of its own",
                )
        return cls(own)

    def __getitem__(self, name: str) -> Instrument:
        if self._own is not None and name in self._own.instruments:
            return self._own.instruments[name]
        return _shipped_file().instruments[name]

    def __iter__(self) -> Iterator[str]:
        own = self._own.instruments if self._own is not None else {}
        return iter(dict.fromkeys([*_shipped_file().instruments, *own]))

    def __len__(self) -> int:
        return sum(1 for _ in self)

    def find(self, name: str) -> Instrument:
        """Return an instrument by name.

        Parameters
        ----------
        name : str
            Its name, an everyday name (``bones``), or the plural of one; capitals do not matter,
            ``♭`` and ``b`` are the same.

        Returns
        -------
        Instrument
            The entry.

        Raises
        ------
        InstrumentError
            If there is none (the remedy lists names that are near), or the name means several
            instruments (``tubas``, ``low brass``; the remedy lists them).

        Examples
        --------
        >>> Catalogue.shipped().find("trombone").name
        'tenor trombone'
        """
        wanted = canonical_name(name).casefold()
        for instrument in self.values():
            if instrument.name.casefold() == wanted:
                return instrument
        if several := SEVERAL.get(singular_of(wanted, SEVERAL)):
            raise InstrumentError(
                f"{name!r} means more than one instrument",
                f"write which: {' or '.join(map(shown, several))}; each has its own section",
            )
        spelt = near(wanted, {**dict.fromkeys(_by_fold()), **self})
        close = [shown(name) for name in dict.fromkeys(map(canonical_name, spelt))]
        meant = f"did you mean {' or '.join(close)}? " if close else ""
        raise InstrumentError(
            f"no instrument {name!r} in the catalogue",
            f"{meant}drift instruments lists them; add your own with --instruments FILE",
        )

    def known_name(self, name: str) -> str:
        """Return the catalogue's own name of an instrument.

        Parameters
        ----------
        name : str
            Its name; capitals do not matter, ``♭`` and ``b`` are the same.

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
        >>> Catalogue.shipped().known_name("B♭ Trumpet")
        'Bb trumpet'
        """
        name_here = canonical_name(name)
        if self._own is None and name_here.casefold() in _by_fold():
            return name_here
        return self.find(name).name

    def entry_text(self, name: str) -> str:
        """Return the entry of an instrument as it is written in its file.

        Parameters
        ----------
        name : str
            Its name.

        Returns
        -------
        str
            TOML that a file of the user's own can begin with.

        Raises
        ------
        InstrumentError
            If there is none.

        Examples
        --------
        >>> Catalogue.shipped().entry_text("cornet").splitlines()[1]
        'name = "cornet"'
        """
        wanted = self.find(name).name
        own = self._own.texts if self._own is not None else {}
        return own.get(wanted) or _shipped_file().texts[wanted]


def canonical_name(text: str) -> str:
    """Return the ASCII spelling of an instrument's name, which need not exist.

    Parameters
    ----------
    text : str
        A name as typed, such as ``B♭ trumpet``.

    Returns
    -------
    str
        ``Bb trumpet``; the shipped catalogue's own name where it has one.

    Examples
    --------
    >>> canonical_name(" b♭  Trumpet "), canonical_name("trombone"), canonical_name("Sousas")
    ('Bb trumpet', 'tenor trombone', 'sousaphone')
    """
    plain = " ".join(text.replace("♭", "b").replace("♯", "#").split())
    names = _by_fold()
    return names.get(singular_of(plain.casefold(), names), plain)


def find(name: str, catalogue: Catalogue | None = None) -> Instrument:
    """Return an instrument by name.

    Parameters
    ----------
    name : str
        Its name; capitals do not matter, ``♭`` and ``b`` are the same.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.

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
    return (_shipped() if catalogue is None else catalogue).find(name)


def known_name(name: str, catalogue: Catalogue | None = None) -> str:
    """Return the catalogue's own name of an instrument, without reading the shipped ones.

    Parameters
    ----------
    name : str
        Its name; capitals do not matter, ``♭`` and ``b`` are the same.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.

    Returns
    -------
    str
        The name.

    Raises
    ------
    InstrumentError
        If there is none; the remedy lists names that are near.

    Examples
    --------
    >>> known_name("B♭ Trumpet"), known_name("trombone")
    ('Bb trumpet', 'tenor trombone')
    """
    return (_shipped() if catalogue is None else catalogue).known_name(name)


@cache
def _shipped() -> Catalogue:
    return Catalogue()


@cache
def _shipped_file() -> CatalogueFile:
    # Not at the head: a log starts with the names alone, and need not wait for the instruments.
    from drift.instruments.catalogue_file import read_catalogue

    return read_catalogue(SHIPPED.read_text(encoding="utf-8"), SHIPPED.name)


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
