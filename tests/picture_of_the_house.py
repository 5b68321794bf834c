"""The rooms of the program and which imports which, drawn from the code.

    python tests/picture_of_the_house.py            # print the picture (Mermaid)
    python tests/picture_of_the_house.py --write    # put it into DEVELOPERS.md
    python tests/picture_of_the_house.py --sizes    # how long modules and functions are

A room is a folder of the program or a module beside the folders. An arrow means "imports"; one that
follows from others is left out. A dotted arrow is the door of a result to the module that words or
draws it (`DOORS` in tests/test_layers.py).
"""

from __future__ import annotations

import ast
import statistics
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from tests.test_layers import DOORS, LAYERS, MODULES, graph  # noqa: E402

BEGIN, END = "<!-- rooms: begin -->\n", "<!-- rooms: end -->"
GROUND = {name for layer in LAYERS[1:3] for name in layer if name != "drift.instruments"}


TOGETHER = {"drift.logbook", "drift.tables"}


def room_of(module: str) -> str:
    """Return the room of a module; rooms of one layer that import each other are one."""
    layers = {name: layer for layer in LAYERS for name in layer}
    while module and module not in layers:
        module = module.rpartition(".")[0]
    if module in GROUND:
        return "ground"
    together = layers[module] if module in TOGETHER else [module]
    return "_and_".join(name.removeprefix("drift.") for name in together)


def arrows() -> set[tuple[str, str]]:
    """Return which room imports which, without what follows from other arrows."""
    found: dict[str, set[str]] = {}
    for name, targets in graph().items():
        if name not in ("drift", "drift.__main__"):
            rooms = found.setdefault(room_of(name), set())
            rooms |= {room_of(target) for target in targets} - {room_of(name)}
    return {
        (room, target)
        for room, targets in found.items()
        for target in targets
        if not any(target in _reached(found, other) for other in targets - {target})
    }


def _reached(found: dict[str, set[str]], start: str) -> set[str]:
    seen: set[str] = set()
    todo = [start]
    while todo:
        new = found.get(todo.pop(), set()) - seen
        seen |= new
        todo += new
    return seen


def picture() -> str:
    """Return the picture as a Mermaid graph, upper rooms first."""
    lines = ["```mermaid", "graph TD"]
    order = {name: level for level, names in enumerate(LAYERS) for name in names}
    height = {room_of(name): level for name, level in order.items()}
    for room, target in sorted(arrows(), key=lambda a: (-height[a[0]], a[0], -height[a[1]], a[1])):
        lines.append(f"    {room} --> {target}")
    doors = {(room_of(name), room_of(to)) for name, others in DOORS.items() for to in others}
    lines += [f"    {room} -.-> {target}" for room, target in sorted(doors)]
    return "\n".join([*lines, "```", ""])


def sizes() -> str:
    """Return how long modules and functions are [lines]."""
    modules, functions = [], []
    for path in MODULES:
        text = path.read_text(encoding="utf-8")
        modules.append(len(text.splitlines()))
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                told = ast.get_docstring(node, clean=False) or ""
                functions.append(node.end_lineno - node.lineno + 1 - told.count("\n"))
    rows = ["what        number  median  longest  above 40"]
    for name, found in (("modules", modules), ("functions", functions)):
        above = sum(one > 40 for one in found)
        middle = f"{statistics.median(found):6g}"
        rows.append(f"{name:<10} {len(found):7} {middle:>7} {max(found):8} {above:9}")
    return "\n".join(rows)


def written() -> str:
    """Return the picture as it is in DEVELOPERS.md."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    return text.partition(BEGIN)[2].partition(END)[0]


def write() -> None:
    """Put the picture into DEVELOPERS.md."""
    path = ROOT / "DEVELOPERS.md"
    text = path.read_text(encoding="utf-8")
    before, _, rest = text.partition(BEGIN)
    path.write_text(f"{before}{BEGIN}{picture()}{END}{rest.partition(END)[2]}", encoding="utf-8")


if __name__ == "__main__":
    if "--write" in sys.argv:
        write()
    else:
        sys.stdout.write(sizes() + "\n" if "--sizes" in sys.argv else picture())
