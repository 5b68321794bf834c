"""The command line as a person runs it."""

import pytest

from drift.cli import main


@pytest.fixture
def drift(capsys):
    """Run a command in this process; returns (exit status, standard output, standard error)."""

    def run(*words: object) -> tuple[int, str, str]:
        try:
            status = main([str(word) for word in words])
        except SystemExit as leaving:  # argparse leaves with 2 on wrong usage, 0 after --help
            status = int(leaving.code or 0)
        out, err = capsys.readouterr()
        return status, out, err

    return run
