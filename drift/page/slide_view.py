"""Slides: choose instrument and temperature, see positions and the order of work."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from starlette.requests import Request
from starlette.responses import Response

from drift.errors import DriftError
from drift.instruments import find
from drift.instruments.anatomy import Instrument
from drift.page.room import Room
from drift.page.views import page, state_of
from drift.quantities import (
    LENGTH,
    METRIC,
    MINUTES,
    TEMPERATURE,
    Quantity,
    Units,
    degrees_in,
    in_inches,
    parse_quantity,
    parse_units,
    with_units,
)
from drift.study import Study
from drift.words import slide_table
from drift.words.cents import a4, degrees
from drift.words.intervals import in_brackets
from drift.words.now import basis
from drift.words.remaining_error import what_remains
from drift.words.slides import notices, steps
from drift.words.where_tuned import tuned_at, tuned_to

if TYPE_CHECKING:
    from drift.slides.correction import Correction
    from drift.slides.positions import PositionTable

__all__ = ["Question", "slides"]

#: What people play in [°C], and for how long without a break [min].
CELSIUS = (-60.0, 70.0)
PLAYING = (0.0, 600.0)
MILLIMETRES = (0.0, 1000.0)
ANYWHERE_CELSIUS = 20.0  # it is of no account where only the tuning is asked for


@dataclass(frozen=True)
class Question:
    """What is asked: which instrument, where it was tuned, where it is going.

    Attributes
    ----------
    instrument : Instrument
    player : str
        Whose logged positions and measured slides; may be empty.
    source : str
        ``logbook`` or ``physics``.
    celsius : float or None
        Temperature there [°C]; without it only the table of positions is shown.
    minutes : float
        Minutes of playing there.
    tuned_celsius, tuned_minutes : float or None
        Where it was tuned, if not as the log has it.
    at, travel : mapping of str to float
        Positions when tuned, and usable travel [mm].
    stuck : tuple of str
    units : Units
        In which it was typed, and is answered.
    """

    instrument: Instrument
    player: str = ""
    source: str = "logbook"
    celsius: float | None = None
    minutes: float = 30.0
    tuned_celsius: float | None = None
    tuned_minutes: float | None = None
    at: Mapping[str, float] = field(default_factory=dict)
    travel: Mapping[str, float] = field(default_factory=dict)
    stuck: tuple[str, ...] = ()
    units: Units = METRIC

    def degrees(self, celsius: float) -> str:
        """Return a temperature as it is typed."""
        return f"{degrees_in(celsius, self.units):.4g}"

    def filled_in(self, answer: Correction) -> dict[str, str]:
        """Return what the fields hold that say how it was tuned."""
        return {
            "tuned_celsius": self.degrees(answer.tuned_celsius),
            "tuned_minutes": "" if answer.tuned_warm else f"{answer.tuned_minutes:g}",
            **{f"at-{slide}": self.length(mm) for slide, mm in answer.at.items()},
        }

    def length(self, length_mm: float) -> str:
        """Return a length as it is typed or set."""
        return in_inches(length_mm, 32) if self.units.inches else f"{length_mm:g}"


async def slides(request: Request) -> Response:
    """Answer where the slides go."""
    state = state_of(request)
    study = await state.look_up()
    return await state.slowly(_answer, state.room, study, dict(request.query_params))  # type: ignore[no-any-return]


def _of_the_last(room: Room) -> dict[str, str]:
    """Return the player and the instrument that the program was last told of."""
    desk = room.desk
    return {"player": desk.player, "instrument": desk.instrument} if desk else {}


def _answer(room: Room, study: Study, asked: Mapping[str, str]) -> Response:
    known = room.catalogue
    asked = asked or _of_the_last(room)
    # Those in which the form was shown, whoever is chosen in it; else those of who sits here.
    units = parse_units(asked.get("units", "")) or room.units_of(asked.get("player", ""))
    players = set(study.rehearsals.readings["player"].unique())
    if asked.get("player") not in players:  # sits here, and has not read a note yet
        asked = {**asked, "player": ""}
    chosen = asked.get("instrument", "")[:100]
    correction: Correction | None = None
    table: PositionTable | None = None
    refusal: DriftError | None = None
    first = find(chosen, room.catalogue) if chosen in known else _first(known)
    question = Question(first, units=units)
    try:
        if chosen:
            question = question_of(asked, find(chosen, room.catalogue), study, units)
        correction, table = _answered(question, study)
    except DriftError as problem:
        refusal = problem
    return page(
        "slides.html",
        here="/slides",
        key=room.key,
        book=room.path.name,
        catalogue=list(known.values()),
        players=sorted(players),
        asked=question,
        filled=question.filled_in(table.corrections[0]) if table else dict(asked),
        basis="acoustics alone" if question.source == "physics" else basis(study.known),
        correction=correction,
        work=steps(correction, inches=units.inches) if correction else (),
        inches=units.inches,
        degrees=degrees,
        tuned_at=tuned_at,
        tuned_to=tuned_to,
        a4=a4,
        remains=_what_remains(correction, inches=units.inches) if correction else (),
        notices=notices(correction, inches=units.inches) if correction else (),
        words=slide_table,
        table=table,
        refusal=refusal,
        status=422 if refusal else 200,
    )


def _what_remains(correction: Correction, *, inches: bool) -> list[str]:
    """Return what remains, and what the brackets of the moves hold, where they have any."""
    brackets = "" if inches else in_brackets(correction)
    return [*what_remains(correction), *([brackets] if brackets else [])]


def question_of(
    asked: Mapping[str, str], instrument: Instrument, study: Study, units: Units = METRIC
) -> Question:
    """Return what was asked in a form, every number checked.

    A field that still holds what the log had filled in is as good as not typed; one that was
    emptied says that the position is not known.

    Raises
    ------
    InputError
        When a field is no number, or beyond what is possible.
    """
    names = [slide.name for slide in instrument.slides]
    asked = _typed(asked, study, units)
    player = asked.get("player", "")[:100]
    source = "physics" if asked.get("source") == "physics" else "logbook"
    temperature, length = with_units(TEMPERATURE, units), with_units(LENGTH, units)
    at = _by_slide(asked, "at", names, length)
    logged = _as_logged(study, player, instrument, source).at if player else {}
    at |= {name: mm for name, mm in logged.items() if f"at-{name}" not in asked}
    celsius, tuned = asked.get("celsius", "").strip(), asked.get("tuned_celsius", "").strip()
    played = asked.get("tuned_minutes", "").strip()
    return Question(
        instrument,
        player,
        source,
        _asked("temperature there", celsius, temperature, CELSIUS) if celsius else None,
        _asked("minutes there", asked.get("minutes") or "30", MINUTES, PLAYING),
        _asked("temperature when tuned", tuned, temperature, CELSIUS) if tuned else None,
        _asked("minutes when tuned", played, MINUTES, PLAYING) if played else None,
        at,
        _by_slide(asked, "travel", names, length),
        tuple(name for name in names if asked.get(f"stuck-{name}")),
        units,
    )


def _typed(asked: Mapping[str, str], study: Study, units: Units) -> dict[str, str]:
    """Return the fields of a form without those that hold what was filled in with it."""
    known, name = study.catalogue, asked.get("was_instrument", "")
    if name not in known:
        return dict(asked)
    before = Question(known.find(name), asked.get("was_player", ""), units=units)
    source = asked.get("was_source", "")
    filled = before.filled_in(_as_logged(study, before.player, before.instrument, source))
    same = {f"at-{slide.name}": "" for slide in before.instrument.slides} | filled
    return {field: text for field, text in asked.items() if same.get(field) != text.strip()}


def _as_logged(study: Study, player: str, instrument: Instrument, source: str) -> Correction:
    """Return an answer with everything as the log has it."""
    known = study.acoustics if source == "physics" else study.known
    at: dict[str, float] | None = None if player else {}
    return study.correction(instrument, ANYWHERE_CELSIUS, known=known, player=player, at=at)


def _answered(question: Question, study: Study) -> tuple[Correction | None, PositionTable]:
    asked: dict[str, Any] = {
        "known": study.acoustics if question.source == "physics" else study.known,
        "player": question.player,
        "minutes": question.minutes,
        "tuned_celsius": question.tuned_celsius,
        "tuned_minutes": question.tuned_minutes,
        "at": question.at,
        "travel": question.travel,
        "stuck": question.stuck,
    }
    correction = None
    if question.celsius is not None:
        correction = study.correction(question.instrument, question.celsius, **asked)
    return correction, study.positions(question.instrument, **asked)


def _first(known: Mapping[str, Instrument]) -> Instrument:
    return next(iter(known.values()))


def _by_slide(
    asked: Mapping[str, str], what: str, names: list[str], length: Quantity
) -> dict[str, float]:
    words = {"at": "position of the {} slide", "travel": "travel of the {} slide"}
    texts = {name: asked.get(f"{what}-{name}", "").strip() for name in names}
    return {
        name: _asked(words[what].format(name), text, length, MILLIMETRES)
        for name, text in texts.items()
        if text
    }


def _asked(what: str, text: str, quantity: Quantity, limits: tuple[float, float]) -> float:
    return parse_quantity(text, quantity, what=f"{what}:", lowest=limits[0], highest=limits[1])
