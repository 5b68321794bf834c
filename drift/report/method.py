"""How the numbers of a report came to be, for those who want to repeat them."""

from __future__ import annotations

from drift.report.document import Block, Items, Section, Table, Words
from drift.report.material import Material
from drift.words import report_method as words

__all__ = ["method"]


def method(material: Material) -> Section:
    """Tell the method, the model, the rules of pairing, the versions and the command."""
    fit, made = material.fit, material.made
    blocks: list[Block] = [Words(text) for text in words.fitted(fit)]
    blocks += [Items(words.RULES), Items(words.REFERENCES)]
    rows = [*made.versions.items()]
    if made.command:
        rows.insert(0, ("command", made.command))
    if rows:
        blocks.append(Table(words.HOW_MADE, words.MADE_HEADER, tuple(rows), texts=2))
    return Section(words.HOW_DONE, tuple(blocks))
