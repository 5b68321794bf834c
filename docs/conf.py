"""How the documentation is built: ``sphinx-build -W -b html docs build/docs``; works offline."""

from __future__ import annotations

import sys
from pathlib import Path

from pygments.lexers.special import TextLexer
from sphinx.application import Sphinx

ROOT = Path(__file__).parent.parent
sys.path[:0] = [str(ROOT), str(Path(__file__).parent)]

project = "rehearsal-drift"
author = "the rehearsal-drift developers"
extensions = [
    "myst_parser",
    "sphinx.ext.autodoc",
    "sphinx.ext.viewcode",
    "numpydoc",
]
# Pages stay CommonMark, so that they read on a code host as well.
source_suffix = {".md": "markdown"}
exclude_patterns = ["build"]
myst_heading_anchors = 3
suppress_warnings = ["myst.xref_missing"]  # links to files of the repository
numpydoc_show_class_members = False
autosummary_generate = False
autodoc_typehints = "none"
html_theme = "alabaster"
html_theme_options = {"description": "How far to move which slide", "fixed_sidebar": True}
html_show_copyright = False
smartquotes = False

from reference_pages import write_pages  # noqa: E402 - found by the path above

write_pages(Path(__file__).parent / "reference" / "made")


def setup(app: Sphinx) -> None:
    """Show the picture of the house as the text it is; a code host draws it."""
    app.add_lexer("mermaid", TextLexer)
