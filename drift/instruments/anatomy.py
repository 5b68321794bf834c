"""What an instrument is made of: sides, slides, valves, and how long its air column is.

A *side* is one complete air column (a double horn has two, F and B♭; most instruments have one,
named ``""``). A *slide* is anything the player pulls to lengthen it: a tuning slide, a head
joint, a barrel. This module knows no particular instrument; `drift.instruments.catalogue` has
those.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace

from drift.errors import InstrumentError, ReachError
from drift.instruments.effects import SlideEffect
from drift.notes import shown

__all__ = [
    "SPEED_AT_20_CELSIUS",
    "FixedPitch",
    "Instrument",
    "MeasuredSlopes",
    "Priors",
    "Side",
    "Slide",
    "Valve",
]

# drift.air.speed_of_sound(20.0), 50 % humidity; a test keeps the two equal. Written out because
# the logbook needs the instruments at once, and numpy takes longer to start than Python itself.
SPEED_AT_20_CELSIUS = 343.98688734488263

CENTS_PER_OCTAVE = 1200.0

# Measured cents per millimetre of a slide on a side, keyed (slide, side); negative for a pull.
MeasuredSlopes = Mapping[tuple[str, str], float]


@dataclass(frozen=True, slots=True)
class Side:
    """One complete air column of an instrument.

    Attributes
    ----------
    name : str
        ``F`` or ``Bb`` on a double horn; ``""`` where there is one.
    fundamental_hz : float
        Nominal fundamental [Hz] at the tuned positions: of the open brass instrument, or of the
        fingering of the tuning note on a woodwind.
    tuning_notes : tuple of str
        Sounding notes to tune on, the usual one first; open ones on brass.
    quarter_wave : bool
        Whether the column is closed at one end and cylindrical (a clarinet).
    source : str
        Where the values come from.
    """

    name: str
    fundamental_hz: float
    tuning_notes: tuple[str, ...] = ()
    quarter_wave: bool = False
    source: str = ""

    @property
    def length_m(self) -> float:
        """Acoustic length [m] at the tuned positions, at 20 °C and 50 % humidity.

        ``c / (2 f1)``, and ``c / (4 f1)`` for a clarinet: the length of the ideal tube, end
        corrections and mouthpiece included.
        """
        return SPEED_AT_20_CELSIUS / ((4.0 if self.quarter_wave else 2.0) * self.fundamental_hz)


@dataclass(frozen=True, slots=True)
class Slide:
    """Something the player pulls out or pushes in to change the length of the air column.

    Attributes
    ----------
    name : str
        One word: ``main``, ``F``, ``barrel``.
    sides : tuple of str
        Names of the sides it changes.
    path_factor : float
        Millimetres of air path for each millimetre of pull: 2 for a U-shaped slide, 1 for a
        telescoping joint.
    effect : SlideEffect
        What a millimetre does on a real bore, over what the plain tube says.
    source : str
        Where the values come from.
    usual_travel_mm : float or None
        How far it comes out on most models [mm], where that is known.
    """

    name: str
    sides: tuple[str, ...]
    path_factor: float = 2.0
    source: str = ""
    effect: SlideEffect = field(default_factory=SlideEffect)
    usual_travel_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Valve:
    """The loop of tube that a valve adds.

    Attributes
    ----------
    name : str
        ``1``, ``2``, ``3``, ``4``, or ``F`` for a trombone's attachment.
    fraction : float
        Length of the loop as a fraction of the open side.
    source : str
        Where the value comes from.
    """

    name: str
    fraction: float
    source: str = ""


@dataclass(frozen=True, slots=True)
class Priors:
    """What acoustics and practice expect of an instrument's drift before any reading.

    Attributes
    ----------
    cold_mean, cold_sd : float
        Slope of the unplayed instrument [cents/°C].
    rise_mean, rise_sd : float
        Rise of pitch from cold to warmed up at 20 °C [cents].
    warm_minutes, cool_minutes : float
        Medians of the time constants of warming and cooling [min].
    warm_log_sd, cool_log_sd : float
        Spread of the logarithms of the two.
    source : str
        Where the values come from.
    """

    cold_mean: float = 2.95
    cold_sd: float = 0.4
    rise_mean: float = 14.0
    rise_sd: float = 8.0
    warm_minutes: float = 6.0
    warm_log_sd: float = 0.6
    cool_minutes: float = 12.0
    cool_log_sd: float = 0.6
    source: str = ""


@dataclass(frozen=True, slots=True)
class FixedPitch:
    """How the pitch of bars follows the temperature; nothing on them can be pulled.

    Attributes
    ----------
    cents_per_celsius : float
        Slope [cents/°C]; negative, because warm bars are flat.
    low, high : float
        The range that the sources span [cents/°C].
    source : str
        Where the values come from.
    """

    cents_per_celsius: float
    low: float
    high: float
    source: str = ""


@dataclass(frozen=True, slots=True)
class Instrument:
    """One kind of instrument.

    Attributes
    ----------
    name, family : str
        ``double horn``; ``brass``, ``woodwind`` or ``fixed pitch``.
    sides : tuple of Side
        Its air columns; one without tuning notes on fixed pitch.
    slides : tuple of Slide
        What can be moved, in the order players use.
    valves : tuple of Valve
        Loops of the valves.
    written_semitones : int
        Written minus sounding note [semitones]: 7 for a horn in F.
    treble_clef_semitones : int
        The same in parts in treble clef, where the instrument has such parts too, else 0.
    compass : tuple of str
        Lowest and highest sounding note in ordinary use.
    priors : Priors
        Expectations for the regression.
    fixed_pitch : FixedPitch or None
        Set for instruments with bars.
    wooden : bool
        Whether cold and sudden changes can crack it.
    aliases : tuple of str
        Other names it goes by.
    habit, remark, source : str
        What the player keeps as usual while tuning; what to know; where the values come from.
    """

    name: str
    family: str
    sides: tuple[Side, ...]
    slides: tuple[Slide, ...] = ()
    valves: tuple[Valve, ...] = ()
    written_semitones: int = 0
    treble_clef_semitones: int = 0
    compass: tuple[str, str] = ("A0", "C8")
    priors: Priors = Priors()
    fixed_pitch: FixedPitch | None = None
    wooden: bool = False
    aliases: tuple[str, ...] = ()
    habit: str = ""
    remark: str = ""
    source: str = ""

    @property
    def step_mm(self) -> float:
        """Step in which its slides are set and shown [mm]: a millimetre of a flute is five cents.

        That a slide is set by eye to half a millimetre or so is common practice.
        """
        return 0.5 if self.family == "brass" else 0.25

    def side(self, name: str = "") -> Side:
        """Return a side by name; ``""`` is allowed where there is only one.

        Raises
        ------
        InstrumentError
            If the instrument has no such side.
        """
        wanted = name.strip().replace("♭", "b").casefold()
        for side in self.sides:
            if side.name.casefold() == wanted or (not wanted and len(self.sides) == 1):
                return side
        raise InstrumentError(
            f"{shown(self.name)} has no side {name!r}",
            _offer("side", [side.name for side in self.sides]),
        )

    def slide(self, name: str) -> Slide:
        """Return a slide by name.

        Raises
        ------
        InstrumentError
            If the instrument has no such slide.
        """
        wanted = name.strip().replace("♭", "b").casefold()
        for slide in self.slides:
            if slide.name.casefold() == wanted:
                return slide
        raise InstrumentError(
            f"{shown(self.name)} has no slide {name!r}",
            _offer("slide", [slide.name for slide in self.slides]),
        )

    def path_per_mm(
        self, side: str, slide: str, calibration: MeasuredSlopes | None = None
    ) -> float:
        """Return how much air path a millimetre of a slide adds to a side [mm/mm].

        Parameters
        ----------
        side, slide : str
            Names.
        calibration : mapping, optional
            Measured cents per millimetre, keyed ``(slide, side)``.

        Returns
        -------
        float
            The path factor, or the one that the measured cents per millimetre imply; 0 where
            the slide does not serve the side.
        """
        column, moved = self.side(side), self.slide(slide)
        if column.name not in moved.sides:
            return 0.0
        measured = (calibration or {}).get((moved.name, column.name))
        if measured is None:
            return moved.path_factor
        return -measured * 1000.0 * column.length_m * math.log(2.0) / CENTS_PER_OCTAVE

    def cents_per_mm(
        self, side: str, slide: str, calibration: MeasuredSlopes | None = None
    ) -> float:
        """Return the slope of pitch against a slide's position at the tuned positions.

        Parameters
        ----------
        side, slide : str
            Names.
        calibration : mapping, optional
            Measured cents per millimetre, keyed ``(slide, side)``.

        Returns
        -------
        float
            Slope [cents/mm], negative because a pull flattens; 0 where the slide does not serve
            the side.
        """
        path = self.path_per_mm(side, slide, calibration)
        return -CENTS_PER_OCTAVE / math.log(2.0) * path / (1000.0 * self.side(side).length_m)

    def cents_of_moves(
        self, side: str, moves: Mapping[str, float], calibration: MeasuredSlopes | None = None
    ) -> float:
        """Return what moves of slides do to the pitch of a side.

        Parameters
        ----------
        side : str
            Name of the side; ``""`` where there is one.
        moves : mapping of str to float
            Moves from the tuned positions [mm] by slide, positive when pulled out.
        calibration : mapping, optional
            Measured cents per millimetre, keyed ``(slide, side)``; the path factor is used
            where there is none.

        Returns
        -------
        float
            Change of pitch [cents], negative for a pull.

        Raises
        ------
        InstrumentError
            If a side or a slide does not exist.
        ReachError
            If the moves would leave no air column.

        Notes
        -----
        ``-1200 log2((L + k x) / L)``, exactly, with ``L`` the acoustic length and ``k`` the path
        factor. Every harmonic is taken to move alike; the flare of the bell and the taper of the
        leadpipe make real slides differ by some per cent, which a calibration measures.
        """
        added_mm = math.fsum(
            self.path_per_mm(side, slide, calibration) * move for slide, move in moves.items()
        )
        length_mm = 1000.0 * self.side(side).length_m
        if length_mm + added_mm <= 0.0:
            raise ReachError(
                f"moves of {added_mm:g} mm leave no air column of {length_mm:.0f} mm",
                "give moves in millimetres from the tuned position, pulled out positive",
            )
        return -CENTS_PER_OCTAVE * math.log2(1.0 + added_mm / length_mm)

    def serving(self, slide: str, sides: Collection[str]) -> Instrument:
        """Return the instrument with a slide that serves other sides than usual.

        Which slide of a double horn is common to both sides differs between models.

        Parameters
        ----------
        slide : str
            Name of the slide.
        sides : collection of str
            Names of the sides it changes on this model.

        Returns
        -------
        Instrument
            A copy.
        """
        changed = self.slide(slide)
        served = tuple(self.side(name).name for name in sides)
        return replace(
            self,
            slides=tuple(
                replace(s, sides=served, source="stated by the user") if s is changed else s
                for s in self.slides
            ),
        )


def _offer(kind: str, names: list[str]) -> str:
    names = [shown(name) for name in names if name]
    return f"it has {kind} {', '.join(names)}" if names else f"leave the {kind} out"
