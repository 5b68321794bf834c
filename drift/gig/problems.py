"""Every problem of a table at once, each with its remedy."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import TypeVar

from drift.errors import InputError

__all__ = ["ManyProblems", "every", "together"]

Item = TypeVar("Item")
Taken = TypeVar("Taken")

#: So many problems are spelt out in one line.
SHOWN = 4


def every(
    items: Iterable[Item], take: Callable[[Item], Taken], known: Sequence[InputError] = ()
) -> list[Taken]:
    """Return what is taken from each item; where some are refused, all refusals at once.

    Parameters
    ----------
    items : iterable
        Such as rows.
    take : callable
        Takes one of them, or raises `InputError`.
    known : sequence of InputError
        Problems that were found before.

    Raises
    ------
    InputError
        With every problem and its remedy.
    """
    found, problems = [], list(known)
    for item in items:
        try:
            found.append(take(item))
        except InputError as problem:
            problems.append(problem)
    if problems:
        raise together(problems)
    return found


def together(problems: Sequence[InputError]) -> InputError:
    """Return several problems as one, which keeps each with its remedy in ``parts``."""
    if len(problems) == 1:
        return problems[0]
    listed = "; ".join(found.problem for found in problems[:SHOWN])
    more = f"; and {len(problems) - SHOWN} more" if len(problems) > SHOWN else ""
    return ManyProblems(
        f"{listed}{more}", f"correct these {len(problems)} places; --check lists each", problems
    )


class ManyProblems(InputError):
    """Several problems of one file at once.

    Parameters
    ----------
    problem, remedy : str
        All in short, and what to do.
    parts : sequence of InputError
        Each with its own remedy.
    """

    def __init__(self, problem: str, remedy: str, parts: Sequence[InputError]) -> None:
        super().__init__(problem, remedy)
        self.parts = tuple(parts)
