"""What was measured, by whom and when, and what of it was not used."""

from __future__ import annotations

from collections.abc import Hashable
from typing import Any

import pandas as pd

from drift.charts import Scale, common_scale, rehearsal_figure
from drift.charts.marks import slide_moves
from drift.notes import midi_of, shown
from drift.report.document import Block, Items, Picture, Section, Table, Words
from drift.report.material import Material
from drift.times import EVENINGS_APART
from drift.words import left_out as reasons
from drift.words import report_measured as words
from drift.words.numbers import day, hour, number
from drift.words.report_fit import celsius_span
from drift.words.thermometers import called_apart, happened

__all__ = ["left_out", "measured", "rehearsals"]

MOST_CHARTS = 12
"""A report shows so many rehearsals at most; one rehearsal has a report of its own on request."""

MOST_OUTLIERS = 20


def measured(material: Material) -> Section:
    """Tell what was measured: rehearsals, players, thermometers."""
    blocks: list[Block] = [
        Table(
            words.rehearsals_caption(_zones(material)),
            words.REHEARSALS_HEADER,
            tuple(_rehearsal(material, name) for name in material.names),
            texts=3,
        ),
        Table(
            words.PLAYERS,
            words.PLAYERS_HEADER,
            tuple(_player(material, who, what) for who, what in material.players),
            texts=4,
        ),
        Items(tuple(_thermometers(material))),
    ]
    return Section(words.MEASURED, tuple(blocks))


def rehearsals(material: Material) -> Section:
    """Show drift and temperature of each rehearsal against time."""
    with_readings = [n for n in material.names if len(material.of(material.fit.rows, n))]
    names = with_readings[-MOST_CHARTS:]
    blocks: list[Block] = [Words(words.HOW_TO_READ if names else words.NONE_USED)]
    if len(names) < len(with_readings):
        blocks.append(Words(words.last_of_many(len(names), len(with_readings))))
    here = material.rehearsals.temperatures
    scale = common_scale(material.fit.rows, here[here["rehearsal"].isin(with_readings)])
    blocks += [_chart(material, name, scale) for name in names]
    moves = slide_moves(material.rehearsals.events, [who for who, _ in material.players])
    moves = moves[moves["rehearsal"].isin(material.names)]
    if len(moves):
        blocks.append(_moves(material, moves))
    return Section(words.EACH_REHEARSAL, tuple(blocks))


def left_out(material: Material) -> Section:
    """Tell which readings were not used, and which ones may be outliers."""
    counts = [(reasons.why(item), str(item.count)) for item in material.fit.left_out]
    blocks: list[Block] = [
        Words(
            words.used(
                len(material.fit.rows), len(material.rehearsals.readings), _flagged(material)
            )
        )
    ]
    if counts:
        blocks.append(Table(words.REASONS, words.REASONS_HEADER, tuple(counts)))
    outliers = material.fit.outliers
    if len(outliers):
        rows = tuple(
            _suspect(material, row) for row in outliers.head(MOST_OUTLIERS).to_dict("records")
        )
        caption = words.outliers(len(outliers), MOST_OUTLIERS)
        blocks.append(Table(caption, words.OUTLIERS_HEADER, rows, texts=4))
    return Section(words.LEFT_OUT, tuple(blocks))


def _flagged(material: Material) -> int:
    """Return how many of the readings of the fit are flagged."""
    rows = material.fit.rows
    return int(rows["flagged"].sum()) if "flagged" in rows else 0


def _zones(material: Material) -> list[str]:
    """Return the zones of the times that are shown, in their order."""
    readings = material.rehearsals.readings
    shown_here = readings[readings["rehearsal"].isin(material.names)]
    starts = shown_here.groupby("rehearsal")["time"].min().sort_values()
    return [start.astimezone(material.zone).tzname() or "UTC" for start in starts]


def _rehearsal(material: Material, name: str) -> tuple[str, ...]:
    readings = material.of(material.rehearsals.readings, name)
    celsius = material.of(material.rehearsals.temperatures, name)["celsius"]
    logged = (
        readings,
        *(
            material.of(table, name)
            for table in (material.rehearsals.temperatures, material.rehearsals.events)
        ),
    )
    times = pd.concat([table["time"] for table in logged])
    air = celsius_span(celsius.min(), celsius.max()) if len(celsius) else "–"
    when = [day(times.min(), material.zone), _from_to(material, times)] if len(times) else ["", ""]
    return (name, *when, str(len(readings)), str(readings["player"].nunique()), air)


def _from_to(material: Material, times: pd.Series[pd.Timestamp]) -> str:
    """Return from when to when a rehearsal went, without what was entered a day later."""
    times = times.sort_values()
    evening = times[(times.diff() > EVENINGS_APART).cumsum() == 0]
    return f"{hour(evening.min(), material.zone)} to {hour(evening.max(), material.zone)}"


def _player(material: Material, player: str, instrument: str) -> tuple[str, ...]:
    rows = material.fit.rows
    mine = rows[(rows["player"] == player) & (rows["instrument"] == instrument)]
    pairs = mine[["side", "note"]].drop_duplicates().itertuples(index=False)
    notes = sorted(pairs, key=lambda pair: (pair.side, midi_of(str(pair.note))))
    at = material.reference_mm[player, instrument]
    return (
        player,
        shown(instrument),
        words.notes_read((str(side), str(note)) for side, note in notes),
        words.slides_at(at),
        str(len(mine)),
        str(mine["rehearsal"].nunique()),
    )


def _thermometers(material: Material) -> list[str]:
    temperatures = material.rehearsals.temperatures
    temperatures = temperatures[temperatures["rehearsal"].isin(material.names)]
    counts, names = temperatures["source"].value_counts(sort=True), _names(material)
    lines = [words.temperatures_of(names[str(of)], int(count)) for of, count in counts.items()]
    notices = material.rehearsals.notices
    notices = notices[notices["rehearsal"].isin(material.names)]
    kinds = notices.groupby(["source", "kind"]).size().reset_index(name="count")
    lines += [
        happened(source, names[source], kind, int(count))
        for source, kind, count in kinds.itertuples(index=False)
    ]
    return [line for line in lines if line] or [words.NO_TEMPERATURE]


def _names(material: Material) -> dict[str, str]:
    """Return what the thermometers of all rehearsals are called."""
    here = material.rehearsals
    return called_apart(map(str, [*here.temperatures["source"], *here.notices["source"]]))


def _chart(material: Material, name: str, scale: Scale) -> Picture:
    rows = material.of(material.fit.rows, name)
    temperatures = material.of(material.rehearsals.temperatures, name)
    names = _names(material)
    figure = rehearsal_figure(
        rows,
        temperatures.assign(source=temperatures["source"].map(names)),
        events=material.rehearsals.events,
        zone=material.zone,
        title=name,
        scale=scale,
    )
    read = (rows["drift"] + rows["residual"]).agg(["min", "max"])
    spread = words.between(read["min"], read["max"])
    return Picture(
        figure,
        words.rehearsal_caption(day(rows["time"].min(), material.zone), len(rows), spread),
        words.rehearsal_alternative(name, len(rows), spread),
    )


def _moves(material: Material, moves: pd.DataFrame) -> Table:
    return Table(
        words.MOVES,
        words.MOVES_HEADER,
        tuple(
            (
                day(move["time"], material.zone),
                hour(move["time"], material.zone),
                move["player"] or words.EVERYONE,
                shown(move["slide"]),
                f"{move['from_mm']:g}",
                f"{move['to_mm']:g}",
            )
            for move in moves.to_dict("records")
        ),
        texts=4,
    )


def _suspect(material: Material, row: dict[Hashable, Any]) -> tuple[str, ...]:
    return (
        day(row["time"], material.zone),
        hour(row["time"], material.zone),
        row["player"],
        shown(row["note"]),
        number(row["cents"], sign=True),
        number(row["residual"], sign=True),
    )
