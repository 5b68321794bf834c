"""Short versions of the long runs in `tests/benchmarks`: they must not rot, and must not drift."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

import pytest

pytest.importorskip("resource", reason="memory is measured as POSIX systems tell it")
pytest.importorskip("pty", reason="pseudo-terminals exist on POSIX systems only")

from tests.benchmarks.bench_serial_log import BYTES_PER_SECOND, log_a_line
from tests.benchmarks.soak import Soaked, soak


@pytest.mark.slow
def test_two_thermometers_for_an_hour_and_a_half():
    memory = Path("/dev/shm")  # where there is one, the disk does not set the pace
    with tempfile.TemporaryDirectory(dir=memory if os.access(memory, os.W_OK) else None) as folder:
        soaked = soak(Path(folder), 1.5)
    assert soaked.samples == 2 * 5400
    assert soaked.faults == []


def test_a_soak_that_goes_wrong_says_so():
    assert Soaked(24, 172_800, 1, 6.0, 172_800 * 300).faults == [
        "1 samples are missing or doubled",
        "memory grew",
        "the file's size is unexpected",
    ]


@pytest.mark.slow
def test_a_serial_line_that_never_pauses(tmp_path):
    logged = log_a_line(tmp_path, 3.0)
    assert logged.faults == 0
    assert logged.typed >= 1
    # Nine bytes a line; on a busy machine the sender itself may not keep its pace.
    assert logged.lines > 0.05 * 3.0 * BYTES_PER_SECOND / 9
