"""A report as one HTML file that asks nobody for anything."""

from __future__ import annotations

from itertools import count

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from drift.charts.style import inline_svg
from drift.report.document import Document, Picture

__all__ = ["to_html"]


def to_html(document: Document) -> str:
    """Return a report as a self-contained HTML page.

    Parameters
    ----------
    document : Document
        The report.

    Returns
    -------
    str
        HTML with its style and its drawings inside: no request leaves it, which its own content
        security policy enforces, and no script runs in it. Every text is escaped.

    Examples
    --------
    >>> "&lt;b&gt;" in to_html(Document("<b>", "", ()))
    True
    """
    pages = Environment(
        loader=PackageLoader("drift.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    numbers = count(1)

    def drawing(picture: Picture) -> Markup:
        # matplotlib draws letters as outlines, so no text of a user gets into the markup.
        return Markup(inline_svg(picture.figure, f"chart{next(numbers)}"))

    return pages.get_template("report.html").render(document=document, drawing=drawing)
