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


# Command line and page show; every other room hands codes and numbers to drift/words.
SHOWING = ("drift/words/", "drift/cli/", "drift/page/")

# What may hold sentences beside those that a refusal is raised with, and why.
KEPT = {
    "a refusal or its remedy, gathered before it is raised": (
        "drift/bands/band_file.py", "drift/capture/proposals.py", "drift/capture/turns.py",
        "drift/capture/typed_reading.py", "drift/cluster/dataset.py", "drift/gig/on_paper.py",
        "drift/gig/roster.py", "drift/gig/rows.py", "drift/gig/timetable.py",
        "drift/gig/weather.py", "drift/instruments/catalogue_file.py", "drift/logbook/file.py",
        "drift/quantities.py", "drift/regression/at_scale.py",
        "drift/regression/covariates.py", "drift/regression/terms.py",
        "drift/tables/csv_source.py", "drift/tables/headers.py", "drift/tables/problems.py",
        "drift/tables/rules.py",
        "drift/tables/sources.py", "drift/tables/taking.py", "drift/tables/values.py",
        "drift/times.py",
    ),
    "what a warning of Python is raised with": ("drift/air.py",),
    "labels of axes and lines": (
        "drift/charts/comparison.py", "drift/charts/fitted.py", "drift/charts/recording.py",
        "drift/charts/rehearsal.py", "drift/charts/residuals.py", "drift/charts/style.py",
    ),
    "what a column or table is, written beside it": (
        "drift/logbook/data_package.py", "drift/logbook/records.py",
    ),
    "what can be typed, and what may be filled in": (
        "drift/capture/entries.py", "drift/gig/templates.py",
    ),
    "a notice, which the logbook keeps as it came": (
        "drift/capture/desk.py", "drift/capture/listener.py",
    ),
    "the name of a kind or a shape": ("drift/gig/cautions.py", "drift/regression/shapes.py"),
}  # fmt: skip

REFUSING = re.compile(r"(Error|TooLittleData|Rule|Problem|wrong|refuse\w*|warn)$")


def loose_sentences(source: str) -> list[str]:
    """Return texts of five words and more that nothing is refused with."""
    tree = ast.parse(source)
    aside = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        named = isinstance(node, ast.Call) and REFUSING.search(ast.unparse(node.func))
        if named or isinstance(node, ast.Raise):
            aside |= {id(inner) for inner in ast.walk(node)}
    formatted = [node for node in ast.walk(tree) if isinstance(node, ast.JoinedStr)]
    formatted = [node for node in formatted if id(node) not in aside]
    aside |= {id(part) for node in formatted for part in node.values}
    found = ["".join(filter(None, map(_text, node.values))) for node in formatted]
    found += [_text(node) for node in ast.walk(tree) if id(node) not in aside]
    return [text for text in found if _is_sentence(text)]


def _text(node: ast.AST) -> str:
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else ""


def _is_sentence(text: str) -> bool:
    words = re.findall(r"(?<![\w-])[a-z]{2,}(?![\w-])", text, re.IGNORECASE)
    asked = re.search(r"\b(SELECT|INSERT|UPDATE|DELETE|CREATE|JOIN|FROM)\b", text)
    return " " in text.strip() and len(words) >= 5 and not asked


def test_sentences_are_made_in_words():
    rooms = {path.relative_to(ROOT).as_posix(): path for path in (ROOT / "drift").rglob("*.py")}
    loose = {
        place: found
        for place, path in rooms.items()
        if not place.startswith(SHOWING)
        and (found := loose_sentences(path.read_text(encoding="utf-8")))
    }
    kept = {place for places in KEPT.values() for place in places}
    assert {place: found for place, found in loose.items() if place not in kept} == {}
    assert kept <= set(loose), "a place that holds no sentence any more leaves the list"


def test_a_sentence_in_a_result_is_found():
    source = 'def summary(self):\n    return f"its pitch rises {self.x} cents for each degree"'
    assert loose_sentences(source) == ["its pitch rises  cents for each degree"]
    assert loose_sentences('raise InputError("the roster has no section at all", "add one")') == []
