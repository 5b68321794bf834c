"""The letters of what is printed, and how wide a text is in them."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from pathlib import Path

import matplotlib as mpl
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import Flowable

__all__ = ["BOLD", "PLAIN", "escaped", "height_of", "register_faces", "width"]

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


def escaped(text: str) -> str:
    """Return a text as a paragraph takes it, a name with a bracket in it too.

    Examples
    --------
    >>> escaped("A & <B>")
    'A &amp; &lt;B&gt;'
    """
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def height_of(story: Iterable[Flowable], page_width: float) -> float:
    """Return how high parts are below each other, with the space around them [pt]."""
    return sum(
        float(part.wrap(page_width, 10_000.0)[1] + part.getSpaceBefore() + part.getSpaceAfter())
        for part in story
    )
