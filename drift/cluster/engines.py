"""Where the work is done: in this process, or on the workers of a dask cluster."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any, Protocol

from drift.errors import InputError

__all__ = ["ENGINES", "Dask", "Engine", "InTurn", "engine_of"]

ENGINES = ("dask",)


class Engine(Protocol):
    """What does pieces of work; each is a function of the module, of values and of other pieces."""

    def submit(self, work: Callable[..., Any], *given: Any) -> Any:
        """Return a handle of what a function returns; handles among what is given stand for it."""

    def gather(self, handles: Sequence[Any]) -> list[Any]:
        """Return what handles stand for, once it is there."""


class InTurn:
    """Piece by piece, in this process."""

    def submit(self, work: Callable[..., Any], *given: Any) -> Any:
        """Return what a function returns."""
        return work(*given)

    def gather(self, handles: Sequence[Any]) -> list[Any]:
        """Return them."""
        return list(handles)


class Dask:
    """On the workers of a cluster.

    Parameters
    ----------
    client : distributed.Client

    Notes
    -----
    Every piece is made of files and of other pieces alone, so that what a lost worker held is made
    again by the others, with the same result.
    """

    def __init__(self, client: Any) -> None:
        self._client = client

    def submit(self, work: Callable[..., Any], *given: Any) -> Any:
        """Return the future of what a function returns."""
        return self._client.submit(work, *given, pure=False)

    def gather(self, handles: Sequence[Any]) -> list[Any]:
        """Return what futures stand for."""
        found: list[Any] = self._client.gather(list(handles))
        return found


@contextmanager
def engine_of(name: Any, scheduler: Any = None) -> Iterator[Engine]:
    """Open an engine, and close what was opened for it.

    Parameters
    ----------
    name : str or Engine
        ``dask``, or an engine that is open.
    scheduler : str or distributed.Client, optional
        The address of a scheduler, or a client of one; by default workers are started on this
        machine, one a core, and stopped again.

    Raises
    ------
    InputError
        If there is no such engine, it is not installed, no scheduler answers, or no processes
        could be started.
    """
    if not isinstance(name, str):
        yield name
        return
    if name not in ENGINES:
        raise InputError(f"there is no engine {name!r}", f"choose {' or '.join(ENGINES)}")
    try:
        import distributed
    except ImportError:
        raise InputError(
            "dask is not installed", "pip install 'rehearsal-drift[cluster]'"
        ) from None
    if isinstance(scheduler, distributed.Client):
        yield Dask(scheduler)
        return
    try:
        client = (
            distributed.Client(scheduler, timeout=10)  # type: ignore[no-untyped-call]
            if scheduler
            else distributed.Client(  # type: ignore[no-untyped-call]
                processes=True,
                threads_per_worker=1,
                dashboard_address="127.0.0.1:0",
                silence_logs=logging.CRITICAL,  # workers that are stopped complain of it
            )
        )
    except (OSError, ValueError, TimeoutError) as problem:
        raise InputError(
            f"no scheduler answers at {scheduler!r}: {str(problem).splitlines()[0]}",
            "start one with: dask scheduler; its address looks like tcp://192.168.1.20:8786",
        ) from None
    except RuntimeError as problem:
        raise InputError(
            f"no processes could be started on this computer: {str(problem).splitlines()[0]}",
            'in a script, call drift.fit under if __name__ == "__main__":, for each process reads '
            "the script again; it must be a file, not standard input",
        ) from None
    with client:
        yield Dask(client)
