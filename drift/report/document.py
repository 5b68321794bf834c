"""What a report is made of, whatever it will be written as."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar

from matplotlib.figure import Figure

__all__ = ["Block", "Document", "Items", "Picture", "Section", "Table", "Words"]


@dataclass(frozen=True)
class Words:
    """A paragraph."""

    text: str
    kind: ClassVar[str] = "words"


@dataclass(frozen=True)
class Items:
    """A list of sentences.

    Attributes
    ----------
    items : tuple of str
        The sentences.
    """

    items: tuple[str, ...]
    kind: ClassVar[str] = "items"


@dataclass(frozen=True)
class Table:
    """A table with a caption.

    Attributes
    ----------
    caption : str
        What it shows.
    header : tuple of str
        Names of the columns, with units.
    rows : tuple of tuples of str
        The cells.
    texts : int
        So many columns from the left hold text; the others hold numbers.
    """

    caption: str
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    texts: int = 1
    kind: ClassVar[str] = "table"


@dataclass(frozen=True)
class Picture:
    """A chart with a caption.

    Attributes
    ----------
    figure : Figure
        The chart.
    caption : str
        How to read it.
    alternative : str
        What it shows, for those who do not see it.
    """

    figure: Figure = field(repr=False)
    caption: str
    alternative: str
    kind: ClassVar[str] = "picture"


Block = Words | Items | Table | Picture


@dataclass(frozen=True)
class Section:
    """A heading and what stands below it."""

    heading: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class Document:
    """A report before it is written.

    Attributes
    ----------
    title, subtitle : str
        What it is called, and what it covers.
    sections : tuple of Section
        Its parts in order.
    """

    title: str
    subtitle: str
    sections: tuple[Section, ...]

    @property
    def text(self) -> str:
        """All its words, a line each, to search in."""
        lines = [self.title, self.subtitle]
        for section in self.sections:
            lines.append(section.heading)
            for block in section.blocks:
                lines.extend(_lines(block))
        return "\n".join(lines)


def _lines(block: Block) -> list[str]:
    if isinstance(block, Words):
        return [block.text]
    if isinstance(block, Items):
        return list(block.items)
    if isinstance(block, Picture):
        return [block.caption]
    return [block.caption, *("  ".join(row) for row in (block.header, *block.rows))]
