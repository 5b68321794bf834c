"""The sections of a band: what they play, where their slides stand and how far those go."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from drift.errors import InstrumentError
from drift.findings import Finding
from drift.gig.rows import Row, read_rows
from drift.gig.unpitched import has_no_pitch
from drift.instruments import Catalogue, Instrument, find
from drift.instruments.anatomy import Slide
from drift.quantities import HERTZ, LENGTH

__all__ = ["Roster", "Section", "read_roster", "read_whole_roster"]

_COLUMNS = ("players", "names", "slide", "position_mm", "travel_mm", "stuck", "built_a4_hz",
            "leader", "remark")  # fmt: skip
#: Columns by names that they had before.
_FORMER = {"at_mm": "position_mm"}
#: Rows that add up the others.
_TOTALS = ("total", "totals", "sum", "all")
#: Words beside the name of a slide.
_OF_A_SLIDE = ("joint", "tuning", "slide", "crook")
_YES, _NO = ("yes", "true", "1", "stuck", "x"), ("", "no", "false", "0")


@dataclass(frozen=True)
class Section:
    """A section of the band: players of one instrument with slides in one place.

    Attributes
    ----------
    name : str
        What the band calls it.
    instrument : Instrument
        From the catalogue.
    players : int
        How many play in it.
    slides : tuple of str
        Slides that may be moved or are stuck; others stay where they are.
    at_mm : mapping of str to float
        Where slides stand before the performance, from fully in [mm]; missing where not known.
    travel_mm : mapping of str to float
        How far slides come out, from fully in [mm]; missing where not known.
    stuck : tuple of str
        Slides that cannot be moved.
    names : tuple of str
        Its players as the logbook names them, where the roster says; their own readings count.
    built_a4_hz : float
        The A4 that a fixed-pitch instrument was built to, at its reference temperature [Hz].
    from_catalogue : bool
        Whether the slides are the instrument's own, because the roster names none.
    """

    name: str
    instrument: Instrument
    players: int = 1
    slides: tuple[str, ...] = ()
    at_mm: Mapping[str, float] = field(default_factory=dict)
    travel_mm: Mapping[str, float] = field(default_factory=dict)
    stuck: tuple[str, ...] = ()
    built_a4_hz: float = 440.0
    from_catalogue: bool = False
    names: tuple[str, ...] = ()

    @property
    def movable(self) -> tuple[str, ...]:
        """Slides that can be moved."""
        return tuple(slide for slide in self.slides if slide not in self.stuck)

    @property
    def held(self) -> tuple[str, ...]:
        """Slides of the instrument that stay where they are: stuck or not on the roster."""
        return tuple(s.name for s in self.instrument.slides if s.name not in self.movable)


@dataclass(frozen=True)
class Roster:
    """What a roster holds.

    Attributes
    ----------
    sections : tuple of Section
        In the order of the file.
    not_planned : tuple of (str, int)
        Drums and cymbals, which have no pitch to tune, and how many play them.
    notices : tuple of Finding
        What was left out in reading.
    """

    sections: tuple[Section, ...]
    not_planned: tuple[tuple[str, int], ...] = ()
    notices: tuple[Finding, ...] = ()


def read_roster(
    path: Path,
    catalogue: Catalogue | None = None,
    columns: Mapping[str, str] | None = None,
) -> tuple[Section, ...]:
    """Read ``roster.csv``: one row a section and slide.

    Parameters
    ----------
    path : Path
        A CSV file with ``section, instrument`` and if known ``players, names, slide,
        position_mm, travel_mm, stuck, built_a4_hz``. ``players`` is how many there are; ``names``
        are those of the logbook, separated by semicolons.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.
    columns : mapping of str to str, optional
        Names of columns by what is written over them.

    Returns
    -------
    tuple of Section
        In the order of the file.

    Raises
    ------
    TablesRefused
        When cells cannot be taken (each with line and value), or two rows disagree.

    Notes
    -----
    A section without any slide takes those of its instrument, and says so. Otherwise a slide that
    is not listed stays where it is. A slide without ``position_mm`` or ``travel_mm`` is
    moved as if it went far enough. Drums and cymbals are passed over.
    """
    return read_whole_roster(path, catalogue, columns).sections


def read_whole_roster(
    path: Path,
    catalogue: Catalogue | None = None,
    columns: Mapping[str, str] | None = None,
) -> Roster:
    """Read ``roster.csv`` as `read_roster` does, with what was passed over.

    Parameters
    ----------
    path, catalogue, columns
        As in `read_roster`.

    Returns
    -------
    Roster
        Its sections, drums, and the columns that were left out.
    """
    sections: dict[str, Section] = {}
    drums: dict[str, int] = {}

    def take(row: Row) -> None:
        if has_no_pitch(row.text("instrument") or row.text("section")):
            name = row.text("section") or row.text("instrument")
            drums[name] = drums.get(name, 0) + int(row.number("players", 0, 1000) or 1)
            return
        if row.text("section").casefold() in _TOTALS and not row.text("instrument"):
            return
        new = _section(row, catalogue)
        if new is not None:
            old = sections.get(new.name)
            sections[new.name] = new if old is None else _joined(row, old, new)

    given = {**_FORMER, **(columns or {})}
    rows = read_rows(path, ["section", "instrument"], _COLUMNS, given, kind="roster")
    rows.taken(take)
    notices = rows.notices
    if drums:
        notices += (Finding("not_planned", {"sections": [[n, c] for n, c in drums.items()]}),)
    return Roster(tuple(map(_with_slides, sections.values())), tuple(drums.items()), notices)


def _with_slides(section: Section) -> Section:
    """Give a section whose slides are left blank those of its instrument."""
    if section.slides or section.instrument.fixed_pitch is not None:
        return section
    slides = tuple(slide.name for slide in section.instrument.slides)
    return replace(section, slides=slides, from_catalogue=bool(slides))


def _section(row: Row, catalogue: Catalogue | None) -> Section | None:
    """Return what a row says of a section, None where it is not one; what is wrong is noted."""
    name = row.text("section")
    if not name:
        row.note("the section has no name", "write what the band calls it", "section")
    instrument, slide = _instrument(row, catalogue)
    players, names = row.number("players", 0, 1000), _names(row)
    built = row.number("built_a4_hz", 380, 480, HERTZ)
    at, travel = (row.number(name, 0, 2000, LENGTH) for name in ("position_mm", "travel_mm"))
    if at is not None and travel is not None and at > travel:
        row.note(
            f"position_mm {at:g} is beyond travel_mm {travel:g}",
            "both are measured from fully in; travel_mm is how far the slide comes out",
        )
    if not slide and instrument is not None and _measured(row):
        row.note("position_mm or travel_mm without a slide", "name the slide")
    stuck = _stuck(row)
    if instrument is None or not name:
        return None
    return Section(
        name=name,
        instrument=instrument,
        players=max(1, len(names)) if players is None else int(players),
        names=names,
        slides=(slide,) if slide else (),
        at_mm={slide: at} if at is not None else {},
        travel_mm={slide: travel} if travel is not None else {},
        stuck=(slide,) if stuck else (),
        built_a4_hz=440.0 if built is None else built,
    )


def _instrument(row: Row, catalogue: Catalogue | None) -> tuple[Instrument | None, str]:
    """Return the instrument of a row and the name of its slide."""
    instrument, slide = None, row.text("slide")
    try:
        instrument = find(row.text("instrument"), catalogue)
        slide = _slide(instrument, slide).name if slide else ""
    except InstrumentError as error:
        row.note(error.problem, error.remedy, "instrument" if instrument is None else "slide")
    if not slide and instrument and len(instrument.slides) == 1 and _measured(row):
        slide = instrument.slides[0].name  # there is no other that it could be
    return instrument, slide


def _measured(row: Row) -> bool:
    return bool(row.text("position_mm") or row.text("travel_mm"))


def _slide(instrument: Instrument, text: str) -> Slide:
    """Return a slide by its name, also with what it is: ``head joint``, ``main tuning slide``."""
    try:
        return instrument.slide(text)
    except InstrumentError:
        short = " ".join(word for word in text.split() if word.casefold() not in _OF_A_SLIDE)
        if not short and len(instrument.slides) == 1:  # "tuning slide"
            return instrument.slides[0]
        if short == text or not short:
            raise
        return instrument.slide(short)


def _names(row: Row) -> tuple[str, ...]:
    """Return the names of players in a cell, each once."""
    names = (name.strip() for name in row.text("names").split(";"))
    return tuple(dict.fromkeys(name for name in names if name))


def _stuck(row: Row) -> bool:
    text = row.text("stuck").lower()
    if text not in _YES + _NO:
        row.note(f"stuck {row.text('stuck')!r} is neither yes nor no", "write yes or no", "stuck")
    if text in _YES and not row.text("slide"):
        row.note("stuck without a slide", "name the slide that is stuck", "stuck")
    return text in _YES


def _joined(row: Row, old: Section, new: Section) -> Section:
    """Add one more slide to a section."""
    if new.instrument.name != old.instrument.name:
        row.note(
            f"section {new.name!r} plays {new.instrument.name} here, {old.instrument.name} above",
            "give each instrument a section of its own, such as 'low brass: tubas'",
        )
    if not new.slides or new.slides[0] in old.slides:
        what = f"slide {new.slides[0]!r}" if new.slides else "no slide"
        row.note(
            f"section {new.name!r} is there already, with {what}",
            "write one row a section and slide",
        )
    return replace(
        old,
        players=new.players if row.text("players") else max(old.players, len(new.names)),
        names=old.names + tuple(name for name in new.names if name not in old.names),
        slides=old.slides + new.slides,
        at_mm={**old.at_mm, **new.at_mm},
        travel_mm={**old.travel_mm, **new.travel_mm},
        stuck=old.stuck + new.stuck,
    )
