"""What the start of a log may wait for: no module that it can spare before the greeting."""

import subprocess
import sys

import pytest

# Each was once a part of the start: what it took is in tests/benchmarks/bench_start.py.
SPARED = {"json", "shutil", "tomllib", "drift.instruments.catalogue_file", "numpy", "pandas"}


def imported(*words, typed=""):
    command = [sys.executable, "-X", "importtime", "-m", "drift", *words]
    run = subprocess.run(command, input=typed, capture_output=True, text=True, encoding="utf-8")
    lines = [line for line in run.stderr.splitlines() if line.startswith("import time:")]
    return run, {line.rpartition("|")[2].strip() for line in lines}


def test_a_log_begins_without_them(tmp_path):
    book = tmp_path / "start.logbook"
    words = ["--rehearsal", "r", "--player", "Rowan", "--instrument", "horn"]
    run, modules = imported("log", str(book), *words)
    assert "r begins: Rowan on double horn;" in run.stderr
    assert "drift.capture.desk" in modules
    assert not SPARED & modules


@pytest.mark.parametrize("words", [["--help"], ["fit", "--help"], ["instruments"]])
def test_a_reader_who_leaves_early_is_no_fault(words):
    command = [sys.executable, "-m", "drift", *words]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as run:
        run.stdout.close()
        assert run.stderr.read() == b""
        assert run.wait() == 0


def test_a_wrong_instrument_is_refused_all_the_same(tmp_path):
    words = ["--rehearsal", "r", "--instrument", "hron"]
    run, _ = imported("log", str(tmp_path / "start.logbook"), *words)
    assert run.returncode == 1
    assert "drift log: no instrument 'hron' in the catalogue" in run.stderr
    assert "did you mean" in run.stderr


def test_help_is_as_wide_as_the_terminal(monkeypatch):
    for columns in (50, 120):
        monkeypatch.setenv("COLUMNS", str(columns))
        run, _ = imported("log", "--help")
        usage = run.stdout.partition("\n\n")[0].splitlines()
        assert columns - 30 < max(map(len, usage)) <= columns - 2
