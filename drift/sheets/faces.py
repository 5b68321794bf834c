"""The letters of what is printed, and how wide a text is in them."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import matplotlib as mpl
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

__all__ = ["BOLD", "PLAIN", "register_faces", "width"]

PLAIN, BOLD = "Sheet", "Sheet-Bold"
FILES = {PLAIN: "DejaVuSans.ttf", BOLD: "DejaVuSans-Bold.ttf"}


@cache
def register_faces() -> None:
    """Make the two faces known to ReportLab; they come with matplotlib and hold ♭ and °."""
    folder = Path(mpl.get_data_path()) / "fonts" / "ttf"
    for name, file in FILES.items():
        pdfmetrics.registerFont(TTFont(name, str(folder / file)))


def width(text: str, size: float, face: str = PLAIN) -> float:
    """Return how wide a line of text is.

    Parameters
    ----------
    text : str
        One line.
    size : float
        Size of the letters [pt].
    face : str
        ``PLAIN`` or ``BOLD``.

    Returns
    -------
    float
        Width [pt].
    """
    register_faces()
    return float(pdfmetrics.stringWidth(text, face, size))
