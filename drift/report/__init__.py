"""The report: composed once from the data and the fit, written as HTML or PDF."""

from __future__ import annotations

from drift.report.composition import Made, compose
from drift.report.document import Document
from drift.report.html import to_html
from drift.report.material import versions

__all__ = ["Document", "Made", "compose", "to_html", "versions"]
