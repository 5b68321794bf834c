"""The completion of commands and options in a shell."""

import subprocess

import pytest

from drift.cli import COMMANDS
from tests.sounds import needs


def test_a_shell_completes_commands_options_and_files(drift, tmp_path):
    needs("bash")
    status, script, err = drift("--completion", "bash")
    assert (status, err) == (0, "")
    (tmp_path / "drift.bash").write_text(script, encoding="utf-8")
    (tmp_path / "band.logbook").touch()

    def completed(*words):
        asked = " ".join(f"'{word}'" for word in words)
        ask = (
            f"source drift.bash; COMP_WORDS=({asked}); COMP_CWORD={len(words) - 1}; "
            "f=$(complete -p drift | sed 's/.*-F //; s/ .*//'); $f; "
            "printf '%s\\n' \"${COMPREPLY[@]}\""
        )
        done = subprocess.run(
            ["bash", "-c", ask], cwd=tmp_path, capture_output=True, text=True, check=True
        )
        return done.stdout.split()

    assert set(completed("drift", "")) >= set(COMMANDS)
    assert completed("drift", "li") == ["listen"]
    assert "--celsius" in completed("drift", "slides", "--ce")
    assert "band.logbook" in completed("drift", "export", "ba")


@pytest.mark.parametrize("shell", ["zsh", "tcsh"])
def test_other_shells_have_a_script_too(drift, shell):
    status, script, _ = drift("--completion", shell)
    assert status == 0
    assert "listen" in script


def test_another_shell_is_refused(drift):
    status, _, err = drift("--completion", "abacus")
    assert (status, err) == (
        1,
        "drift --completion: there is no completion for 'abacus'\nname one of bash, zsh, tcsh\n",
    )
