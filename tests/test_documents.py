"""What the documents say: their commands parse, the files they name exist, their words are ours."""

import importlib
import re
import shlex
from pathlib import Path

import pytest

from drift.cli import COMMANDS, main, module_of

ROOT = Path(__file__).parent.parent
DOCUMENTS = ["README.md", "DEVELOPERS.md", "demo/README.md"]
DOCUMENTS += sorted(
    path.relative_to(ROOT).as_posix()
    for path in (ROOT / "docs").rglob("*.md")
    if not {"made", "build"} & set(path.parts)
)


def text_of(document: str) -> str:
    return (ROOT / document).read_text(encoding="utf-8")


def commands_in(document: str) -> list[str]:
    """Return the drift commands of the code blocks, continued lines joined."""
    text = text_of(document)
    blocks = re.findall(r"^```(?!text)[^\n]*\n(.*?)^```", text, re.MULTILINE | re.DOTALL)
    blocks += re.findall(r"^(?: {4}[^\n]*\n)+", text, re.MULTILINE)
    found = []
    for block in blocks:
        lines = block.replace("\\\n", " ").splitlines()
        if block.startswith(">>>"):
            continue
        typed = [line.removeprefix("$ ") for line in lines if line.startswith("$ ")]
        found += [line.strip() for line in (typed or lines)]
    return [line for line in found if re.match(r"drift [a-z]+(?! =)\b", line)]


COMMAND_LINES = [(d, line) for d in DOCUMENTS for line in dict.fromkeys(commands_in(d))]


@pytest.mark.parametrize(("document", "line"), COMMAND_LINES)
def test_every_command_of_the_documents_parses(document, line, monkeypatch):
    words = shlex.split(line.partition(" > ")[0], comments=True)[1:]
    assert words[0] in COMMANDS, line
    monkeypatch.setattr(importlib.import_module(module_of(words[0])), "run", lambda options: 0)
    assert main(words) == 0


def test_the_documents_have_commands():
    shown = {shlex.split(line)[1] for _, line in COMMAND_LINES}
    named = set(re.findall(r"`drift (\w+)`", text_of("README.md")))
    assert shown | named >= set(COMMANDS)


@pytest.mark.parametrize("document", DOCUMENTS)
def test_every_file_that_a_document_names_exists(document):
    text = text_of(document)
    named = set(re.findall(r"\b(?:drift|sensors|tests|datasets|demo)/[\w./-]+\w", text))
    missing = {
        name for name in named if not (ROOT / name).exists() and not (ROOT / f"{name}.py").exists()
    }
    # Written by the commands that the documents show.
    missing = {
        name for name in missing if not name.startswith(("drift-demo", "tonight", "demo/season"))
    }
    assert not missing


@pytest.mark.parametrize("document", DOCUMENTS)
def test_links_lead_somewhere(document):
    text = text_of(document)
    headings = {
        re.sub(r"[^\w\- ]", "", heading.lower()).strip().replace(" ", "-")
        for heading in re.findall(r"^#+ (.+)$", text, re.MULTILINE)
    }
    for target in re.findall(r"\]\(#([\w-]+)\)", text):
        assert target in headings, target
    for target in re.findall(r"\]\((?!#|https?:)([^)#]+)", text):
        if "reference/made/" not in target:  # made when the documentation is built
            assert (ROOT / document).parent.joinpath(target).exists(), target


def test_the_readme_is_short_and_developers_too():
    assert len(text_of("README.md").splitlines()) <= 200
    assert len(text_of("DEVELOPERS.md").splitlines()) <= 130


def test_the_first_paragraph_of_the_readme_states_the_job():
    first = text_of("README.md").split("\n\n")[1]
    for word in ("temperature", "tuner readings", "cents", "millimetres", "slide"):
        assert word in first.replace("\n", " "), word


def test_nothing_is_called_safe():
    for path in [
        *ROOT.glob("*.md"),
        *(ROOT / "docs").rglob("*.md"),
        *(ROOT / "drift").rglob("*.*"),
        *(ROOT / "demo").rglob("*.*"),
    ]:
        if path.suffix in (".md", ".py", ".html", ".js", ".toml", ".csv"):
            text = path.read_text(encoding="utf-8")
            for line in re.findall(r"^.*\bsafe\b.*$", text, re.MULTILINE | re.IGNORECASE):
                allowed = "crash-safe", "never", "Nothing is", "no value here", "|safe", "SAFE_"
                assert any(word in line for word in allowed), f"{path.name}: {line.strip()}"
