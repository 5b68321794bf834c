"""What was measured, by whom and when, and what of it was not used."""

from __future__ import annotations

from collections.abc import Hashable
from typing import Any

import pandas as pd

from drift.charts import Scale, common_scale, rehearsal_figure
from drift.charts.marks import slide_moves
from drift.notes import midi_of, shown
from drift.report.document import Block, Items, Picture, Section, Table, Words
from drift.report.material import Material, day, hour, number, plural

__all__ = ["left_out", "measured", "rehearsals"]

MOST_CHARTS = 12
"""A report shows so many rehearsals at most; one rehearsal has a report of its own on request."""


MOST_SUSPECTED = 20


def measured(material: Material) -> Section:
    """Tell what was measured: rehearsals, players, thermometers."""
    blocks: list[Block] = [
        Table(
            f"Rehearsals{_zone(material)}",
            ("rehearsal", "date", "time", "readings", "players", "air (°C)"),
            tuple(_rehearsal(material, name) for name in material.names),
            texts=3,
        ),
        Table(
            "Players: readings that could be used, and the slide positions they are brought to",
            ("player", "instrument", "notes read", "slides at (mm)", "readings", "rehearsals"),
            tuple(_player(material, who, what) for who, what in material.players),
            texts=4,
        ),
        Items(tuple(_thermometers(material))),
    ]
    return Section("What was measured", tuple(blocks))


def rehearsals(material: Material) -> Section:
    """Show drift and temperature of each rehearsal against time."""
    with_readings = [n for n in material.names if len(material.of(material.fit.rows, n))]
    names = with_readings[-MOST_CHARTS:]
    blocks: list[Block] = [
        Words(
            "Points are readings: slide moves and each note's own tendency are taken out. Lines "
            "are the drift that the fit expects at the same moments. Rests are shaded, slide "
            "moves marked."
        )
    ]
    if len(names) < len(with_readings):
        blocks.append(
            Words(
                f"The last {len(names)} of {len(with_readings)} rehearsals are shown; the option "
                "--rehearsal gives any other one."
            )
        )
    if not names:
        blocks = [Words("None of its readings could be used; see what was left out.")]
    here = material.rehearsals.temperatures
    scale = common_scale(material.fit.rows, here[here["rehearsal"].isin(with_readings)])
    blocks += [_chart(material, name, scale) for name in names]
    moves = slide_moves(material.rehearsals.events, [who for who, _ in material.players])
    moves = moves[moves["rehearsal"].isin(material.names)]
    if len(moves):
        blocks.append(_moves(material, moves))
    return Section("Each rehearsal", tuple(blocks))


def left_out(material: Material) -> Section:
    """Tell which readings were not used, and which ones look wild."""
    counts = [(item.reason.text, str(item.count)) for item in material.fit.left_out]
    blocks: list[Block] = [
        Words(
            f"Used: {len(material.fit.rows)} of "
            f"{plural(len(material.rehearsals.readings), 'reading')}."
        )
    ]
    if counts:
        blocks.append(Table("Left out", ("reason", "readings"), tuple(counts)))
    suspected = material.fit.suspected
    if len(suspected):
        rows = tuple(
            _suspect(material, row) for row in suspected.head(MOST_SUSPECTED).to_dict("records")
        )
        blocks.append(
            Table(
                f"{plural(len(suspected), 'possible outlier')}, given less weight; correct the log "
                "if they were mistakes"
                + (f" (the first {MOST_SUSPECTED})" if len(suspected) > MOST_SUSPECTED else ""),
                ("date", "time", "player", "note", "read (cents)", "off by (cents)"),
                rows,
                texts=4,
            )
        )
    return Section("What was left out", tuple(blocks))


def _zone(material: Material) -> str:
    readings = material.rehearsals.readings
    shown_here = readings[readings["rehearsal"].isin(material.names)]
    starts = shown_here.groupby("rehearsal")["time"].min().sort_values()
    names = [start.astimezone(material.zone).tzname() or "UTC" for start in starts]
    return f"; times of day in {' and '.join(dict.fromkeys(names))}" if names else ""


def _rehearsal(material: Material, name: str) -> tuple[str, ...]:
    readings = material.of(material.rehearsals.readings, name)
    celsius = material.of(material.rehearsals.temperatures, name)["celsius"]
    times = pd.concat(
        [readings["time"], material.of(material.rehearsals.temperatures, name)["time"]]
    )
    air = f"{number(celsius.min())} to {number(celsius.max())}" if len(celsius) else "–"
    when = [day(times.min(), material.zone), _from_to(material, times)] if len(times) else ["", ""]
    return (name, *when, str(len(readings)), str(readings["player"].nunique()), air)


def _from_to(material: Material, times: pd.Series[pd.Timestamp]) -> str:
    return f"{hour(times.min(), material.zone)} to {hour(times.max(), material.zone)}"


def _player(material: Material, player: str, instrument: str) -> tuple[str, ...]:
    rows = material.fit.rows
    mine = rows[(rows["player"] == player) & (rows["instrument"] == instrument)]
    pairs = mine[["side", "note"]].drop_duplicates().itertuples(index=False)
    notes = sorted(pairs, key=lambda pair: (pair.side, midi_of(str(pair.note))))
    at = material.reference_mm[player, instrument]
    return (
        player,
        shown(instrument),
        ", ".join(shown(f"{note} ({side})" if side else str(note)) for side, note in notes),
        ", ".join(f"{shown(slide)} {millimetres:g}" for slide, millimetres in at.items()) or "–",
        str(len(mine)),
        str(mine["rehearsal"].nunique()),
    )


def _thermometers(material: Material) -> list[str]:
    temperatures = material.rehearsals.temperatures
    temperatures = temperatures[temperatures["rehearsal"].isin(material.names)]
    counts = temperatures["source"].value_counts(sort=True)
    said = [
        f"Thermometer {source or 'without a name'}: {plural(int(count), 'temperature')}"
        for source, count in counts.items()
    ]
    notices = material.rehearsals.notices
    notices = notices[notices["rehearsal"].isin(material.names)]
    kinds = notices.groupby(["source", "kind"]).size()
    said += [
        f"Thermometer {key[0] or 'without a name'}, notices of the kind “{key[1]}”: {count}"
        for key, count in kinds.items()
        if isinstance(key, tuple)
    ]
    return said or ["No temperature was logged."]


def _chart(material: Material, name: str, scale: Scale) -> Picture:
    rows = material.of(material.fit.rows, name)
    temperatures = material.of(material.rehearsals.temperatures, name)
    figure = rehearsal_figure(
        rows,
        temperatures,
        events=material.rehearsals.events,
        zone=material.zone,
        title=name,
        scale=scale,
    )
    read = (rows["drift"] + rows["residual"]).agg(["min", "max"])
    between = f"{number(read['min'], 0, sign=True)} and {number(read['max'], 0, sign=True)} cents"
    return Picture(
        figure,
        f"{day(rows['time'].min(), material.zone)}, {plural(len(rows), 'reading')} between "
        f"{between} from warmed-up at 20 °C.",
        f"Drift and temperature against time in {name}: {plural(len(rows), 'reading')} between "
        f"{between} from warmed-up at 20 °C.",
    )


def _moves(material: Material, moves: pd.DataFrame) -> Table:
    return Table(
        "Slide moves, from fully in; they are taken out of the readings before the fit",
        ("date", "time", "player", "slide", "from (mm)", "to (mm)"),
        tuple(
            (
                day(move["time"], material.zone),
                hour(move["time"], material.zone),
                move["player"] or "everyone",
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
