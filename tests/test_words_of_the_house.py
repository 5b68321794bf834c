"""No retired word in what a user reads; the list is that of docs/contributing/words.md."""

import ast
import contextlib
import io
import re
from pathlib import Path

import pytest

from drift.cli import COMMANDS, main

ROOT = Path(__file__).parent.parent
LIST = ROOT / "docs/contributing/words.md"

# What may stay, and why: (part of the place's name, the text around the word).
EXCEPTIONS = (
    ("docs/", "taken back"),  # printed by drift log
)

# Modules outside drift/words that word what a user reads.
WORDING = ("drift/charts/residuals.py",)


def retired() -> list[tuple[re.Pattern[str], str]]:
    """Return the patterns of the list, each with what to write in its place."""
    table = LIST.read_text(encoding="utf-8").partition("## Retired words")[2]
    rows = re.findall(r"^\| `(.+?)` \| (.+) \|$", table, re.MULTILINE)
    return [(re.compile(one.replace(r"\|", "|"), re.IGNORECASE), use) for one, use in rows]


def pages() -> list[Path]:
    found = [ROOT / name for name in ("README.md", "DEVELOPERS.md", "demo/README.md")]
    found += (ROOT / "docs").rglob("*.md")
    found += (ROOT / "drift/page").rglob("*.html")
    made = ROOT / "docs/reference/made"
    return sorted(path for path in found if path != LIST and made not in path.parents)


def help_of(words: list[str]) -> str:
    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.suppress(SystemExit):
        main([*words, "--help"])
    return out.getvalue()


def sentences(module: Path) -> str:
    """Return the texts of a module, its documentation apart."""
    tree = ast.parse(module.read_text(encoding="utf-8"))
    documentation = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    texts = (node for node in ast.walk(tree) if isinstance(node, ast.Constant))
    shown = (node.value for node in texts if id(node) not in documentation)
    return "\n".join(text for text in shown if isinstance(text, str) and " " in text)


def places() -> dict[str, str]:
    """Return what a user reads, by where it stands."""
    found = {path.relative_to(ROOT).as_posix(): path.read_text("utf-8") for path in pages()}
    found |= {f"drift {name} --help": help_of([name]) for name in COMMANDS}
    found["drift --help"] = help_of([])
    modules = sorted([*(ROOT / "drift/words").glob("*.py"), *(ROOT / name for name in WORDING)])
    return found | {path.relative_to(ROOT).as_posix(): sentences(path) for path in modules}


PLACES = places()


@pytest.mark.parametrize("place", PLACES)
def test_no_retired_word(place):
    text = PLACES[place]
    found = []
    for pattern, use in retired():
        for hit in pattern.finditer(text):
            line = text[text.rfind("\n", 0, hit.start()) + 1 :].partition("\n")[0]
            if not any(part in place and around in line for part, around in EXCEPTIONS):
                found.append(f"{hit[0]!r} (write: {use}) in: {line.strip()}")
    assert not found, "\n".join(found)


def test_the_list_is_read():
    patterns = [pattern for pattern, _ in retired()]
    assert len(patterns) > 20
    assert any(pattern.search("readings Taken otherwise") for pattern in patterns)
