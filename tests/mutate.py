"""Change one thing in a module at a time, and see whether its tests notice.

    python tests/mutate.py drift/slides/moving.py tests/slides/test_moving.py [--count 40]

Prints each change that no test noticed. It is to be killed by a test, or named equivalent in
`EQUIVALENT` below. Works in a copy; the checkout is not touched.
"""

from __future__ import annotations

import argparse
import ast
import copy
import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent

SWAPS = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult,
    ast.And: ast.Or, ast.Or: ast.And, ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd,
    ast.USub: ast.UAdd,
}  # fmt: skip

# Changes that cannot be told apart from outside, with the reason.
EQUIVALENT = {
    "drift/pairing/thermometers.py samples_in: False  ->  True": "only sorts what a dict is made of",  # noqa: E501
    "drift/slides/moves.py _best: slides + 1  ->  slides - 1": "the bounded search finds the same moves, more slowly",  # noqa: E501
    "drift/slides/moves.py _best: np.linalg.matrix_rank(path) < slides  ->  np.linalg.matrix_rank(path) <= slides": "where no two settings are alike, sorting them changes none",  # noqa: E501
    "drift/slides/moves.py _exact: path @ moves - wanted_mm  ->  path @ moves + wanted_mm": "the bounded search finds the same moves, more slowly",  # noqa: E501
    "drift/slides/moves.py _in_order: 1.0  ->  2.0": "the sign of an aim counts, not its size",
    "drift/slides/moves.py _clean: np.abs(moves - mark) < MM_THAT_COUNT  ->  np.abs(moves - mark) <= MM_THAT_COUNT": "no move is so far off to the last bit",  # noqa: E501
    "drift/slides/moves.py module: 0.25  ->  1.25": "used and judged where moves are worded",
    "drift/pairing/readings.py pair: True  ->  False (2)": "one more index, which is not handed on",
    "drift/regression/evidence.py module: 16000000  ->  16000001": "memory, not the answer",
    "drift/regression/triangles.py module: 40  ->  41": "speed, not the answer",
    "drift/regression/triangles.py _solved: if root.shape[1] <= SMALL:  ->  if not root.shape[1] <= SMALL:": "speed, not the answer",  # noqa: E501
    "drift/regression/triangles.py _solved: root.shape[1] <= SMALL  ->  root.shape[1] < SMALL": "speed, not the answer",  # noqa: E501
    "drift/regression/evidence.py parts: 0.5 * float(np.linalg.slogdet(precision0)[1] - mean0 @ precision0 @ mean0)  ->  0.5 / float(np.linalg.slogdet(precision0)[1] - mean0 @ precision0 @ mean0)": "a constant: the log evidence is known up to one",  # noqa: E501
    "drift/regression/evidence.py parts: 1  ->  2 (9)": "any negative number is the open axis to numpy",  # noqa: E501
    "drift/regression/evidence.py parts: -2  ->  +2": "the same axis, counted from the other end",
    "drift/regression/players.py shrinkage: -2  ->  +2": "the same axis, counted from the other end",  # noqa: E501
    "drift/gig/retuning.py retune: True  ->  False": "both are of one length",
    "drift/gig/retuning.py _changes: True  ->  False": "both are of one length",
    "drift/gig/retuning.py _first_beyond: np.abs(played).max(axis=0) > limit_cents + 1e-09  ->  np.abs(played).max(axis=0) >= limit_cents + 1e-09": "no pitch is so far off to the last bit",  # noqa: E501
}


def places(tree: ast.AST) -> list[tuple[ast.AST, str]]:
    """Return what can be changed: a node and the field of it, annotations and texts left alone."""
    silent = {
        id(inner)
        for node in ast.walk(tree)
        for name in ("annotation", "returns", "decorator_list")
        for part in _listed(getattr(node, name, None))
        for inner in ast.walk(part)
    }
    found = []
    for node in ast.walk(tree):
        if id(node) in silent:
            continue
        if isinstance(node, ast.Compare) and type(node.ops[0]) in SWAPS:
            found.append((node, "ops"))
        elif isinstance(node, ast.BinOp | ast.BoolOp | ast.UnaryOp | ast.AugAssign):
            found += [(node, "op")] if type(node.op) in SWAPS else []
        elif isinstance(node, ast.Constant) and type(node.value) in (int, float, bool):
            found.append((node, "value"))
        elif isinstance(node, ast.IfExp | ast.If | ast.comprehension):
            found += [(node, "test")] if hasattr(node, "test") else []
    return found


def _listed(value: object) -> list[ast.AST]:
    if isinstance(value, list):
        return [one for one in value if isinstance(one, ast.AST)]
    return [value] if isinstance(value, ast.AST) else []


def labels(tree: ast.AST) -> list[str]:
    """Return what each change is called: function, change, and which of several alike."""
    around = {id(inner): node.name for node in ast.walk(tree) for inner in ast.walk(node)
              if isinstance(node, ast.FunctionDef | ast.ClassDef)}  # fmt: skip
    found, seen = [], Counter[str]()
    for node, field in places(tree):
        done = f"{around.get(id(node), 'module')}: {change(copy.deepcopy(node), field)}"
        seen[done] += 1
        found.append(f"{done} ({seen[done]})" if seen[done] > 1 else done)
    return found


def change(node: ast.AST, field: str) -> str:
    """Change a node in place and return what was done."""
    before = ast.unparse(node).splitlines()[0]
    if field == "ops":
        node.ops[0] = SWAPS[type(node.ops[0])]()
    elif field == "op":
        node.op = SWAPS[type(node.op)]()
    elif field == "value":
        node.value = (not node.value) if isinstance(node.value, bool) else node.value + 1
    else:
        node.test = ast.UnaryOp(ast.Not(), node.test)
    return f"{before}  ->  {ast.unparse(node).splitlines()[0]}"


def mutants(source: str, count: int, seed: int) -> Iterator[tuple[int, str, str]]:
    """Yield (line, what was changed, the changed source), so many at most, chosen at random."""
    tree = ast.parse(source)
    called = labels(tree)
    number = len(called)
    for chosen in sorted(random.Random(seed).sample(range(number), min(count, number))):
        mutant = copy.deepcopy(tree)
        node, field = places(mutant)[chosen]
        change(node, field)
        yield node.lineno, called[chosen], ast.unparse(ast.fix_missing_locations(mutant))


def noticed(place: Path, tests: list[str]) -> bool:
    """Return whether the tests fail (or never end) in a copy of the project."""
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-n", "0", "-p", "no:randomly", "-p",
               "no:cacheprovider", *tests]  # fmt: skip
    environment = {**os.environ, "PYTHONPATH": str(place), "PYTHONDONTWRITEBYTECODE": "1"}
    try:
        done = subprocess.run(
            command, cwd=place, env=environment, capture_output=True, timeout=300, check=False
        )
    except subprocess.TimeoutExpired:
        return True
    return done.returncode != 0


def main() -> int:
    """Run as a script."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("module")
    parser.add_argument("tests", nargs="+")
    parser.add_argument("--count", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    source = (ROOT / options.module).read_text(encoding="utf-8")
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder, "copy")
        for name in ("drift", "sensors", "tests", "datasets", "demo"):
            skip = shutil.ignore_patterns("__pycache__")
            shutil.copytree(ROOT / name, place / name, ignore=skip)
        shutil.copy(ROOT / "pyproject.toml", place)
        if noticed(place, options.tests):
            raise SystemExit("the tests fail as it is")
        made = killed = 0
        for line, done, changed in mutants(source, options.count, options.seed):
            (place / options.module).write_text(changed, encoding="utf-8")
            made += 1
            if noticed(place, options.tests):
                killed += 1
            else:
                why = EQUIVALENT.get(f"{options.module} {done}", "SURVIVED")
                print(f"{why}: line {line}, {done}", flush=True)
    print(f"{options.module}: {killed} of {made} changes noticed")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
