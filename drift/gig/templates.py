"""Files to start from: a forecast, a schedule and a roster to be filled in."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from drift.errors import InputError
from drift.writing import written_folder

__all__ = ["TEMPLATES", "write_templates"]

#: Text by name of the file. The numbers are invented and only show what goes where.
TEMPLATES = {
    "forecast.csv": """\
time,celsius,humidity_percent,wind_m_s,pressure_hpa
2026-10-09T18:00-04:00,12.5,60,3,1016
2026-10-09T19:00-04:00,10.8,66,3,1016
2026-10-09T20:00-04:00,9.1,72,2,1017
2026-10-09T21:00-04:00,7.9,76,2,1017
""",
    "schedule.csv": """\
start,end,activity,offset_celsius,celsius,remark
2026-10-09T18:10-04:00,18:25,play,,20,warm-up indoors: its own temperature
18:25,18:40,rest,,,walk to the field
18:40,18:50,tune,,,
18:50,19:05,play,,,
19:05,19:50,rest,1,,in the stand: a degree warmer than the forecast
19:50,20:00,tune,,,
20:00,20:15,play,,,
""",
    "roster.csv": """\
section,instrument,players,slide,position_mm,travel_mm,stuck,built_a4_hz
trumpets,Bb trumpet,6,main,15,35,,
horns,double horn,4,main,18,45,,
horns,double horn,,F,10,30,,
tuba,BBb tuba,1,main,35,80,yes,
clarinets,Bb clarinet,8,barrel,2,8,,
bells,glockenspiel,1,,,,,442
""",
}


def write_templates(folder: Path, texts: Mapping[str, str] = TEMPLATES) -> list[Path]:
    """Write the three files into a folder.

    Parameters
    ----------
    folder : Path
        Made where it does not exist.
    texts : mapping of str to str
        Their text by name; by default an example to be filled in.

    Returns
    -------
    list of Path
        The files.

    Raises
    ------
    InputError
        When one of them is there already; nothing is written then.
    """
    files = [Path(folder) / name for name in texts]
    if there := [str(file) for file in files if file.exists()]:
        raise InputError(f"{', '.join(there)} exists already", "choose another folder")
    with written_folder(folder) as unfinished:
        for name, text in texts.items():
            (unfinished / name).write_text(text, encoding="utf-8", newline="\n")
    return files
