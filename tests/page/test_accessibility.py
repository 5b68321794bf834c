"""Every page by the rules of axe-core, light and dark, and for those who see and move otherwise."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

from drift.cli import main
from drift.shipped import folder
from tests.page.visits import Program

pytestmark = pytest.mark.timeout(300)

PLAYER = ("--player", "Rowan", "--instrument", "double horn")
SLIDES = "/slides?player=Rowan&instrument=double+horn&celsius=33"
PAGES = ["/", "/begin", "/rehearsals", "/rehearsals/1", "/slides", SLIDES, "/plan", "/plan/1"]


@pytest.fixture
def address(program: Callable[..., Program], book: Path, tmp_path: Path) -> str:
    assert main(["import", str(book), str(folder("datasets/cold-hall-season"))]) == 0
    demo, evening = folder("demo"), tmp_path / "evening"
    files = [f"--{name}={demo / name}.csv" for name in ("forecast", "schedule", "roster")]
    assert main(["gig", "acoustics", *files, "--draws", "100", "--out", str(evening)]) == 0
    running = program(
        *("--rehearsal", "tonight", *PLAYER, "--plan", str(evening)),
        *("--thermometer", "simulated:?seed=3&every=0.5"),
    )
    return running.address


@pytest.fixture
def page(chromium: Any) -> Iterator[Any]:
    context = chromium.new_context(viewport={"width": 360, "height": 800})
    yield context.new_page()
    context.close()


def violations(page: Any) -> list[str]:
    found = Axe().run(page).response["violations"]
    return [
        f"{one['id']}: {one['help']}: " + "; ".join(node["html"][:200] for node in one["nodes"])
        for one in found
    ]


@pytest.mark.slow
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_page_breaks_a_rule(address: str, page: Any, scheme: str) -> None:
    page.emulate_media(color_scheme=scheme)
    found = {}
    for path in PAGES:
        page.goto(address + path, wait_until="load")
        page.wait_for_timeout(300)
        if broken := violations(page):
            found[path] = broken
    assert found == {}
