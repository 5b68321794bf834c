"""What is printed cannot drive the terminal, whatever is typed or an old logbook holds."""

import json
from contextlib import suppress
from datetime import UTC, datetime

import pytest

from drift import cli
from drift.cli.options import by_slide, print_json
from drift.logbook.book import Logbook
from drift.logbook.records import Event, Notice, Reading
from tests import folders

START = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)

# The clipboard of whoever looks at it (OSC 52), colour, the other direction, a bell.
EVIL = "\x1b]52;c;AA==\x07\x1b[31m\u202eRowan\x9b"
DRIVES = set("\x1b\x07\x9b\u202e")


@pytest.mark.parametrize(
    "words",
    [
        ["fit", f"/nowhere/{EVIL}"],
        ["slides", "physics", "--instrument", EVIL, "--celsius", "30"],
        ["slides", "physics", "--instrument", "double horn", "--celsius", EVIL],
        ["thermometers", f"simulated:?name={EVIL}", "--seconds", "0.3"],
        ["thermometers", EVIL],
        ["instruments", EVIL],
        [EVIL],
    ],
)
def test_what_was_given_comes_back_harmless(words, capsys):
    with suppress(SystemExit):  # argparse ends the program at wrong usage
        cli.main(words)
    printed = "".join(capsys.readouterr())
    assert printed
    assert not DRIVES & set(printed)


def test_an_old_logbook_is_printed_harmless(tmp_path, capsys, monkeypatch):
    book = tmp_path / "old.logbook"
    with monkeypatch.context() as without_the_rule, Logbook(book, writer="an old one") as old:
        without_the_rule.setattr("drift.logbook.records.check_text", lambda text, what: text)
        old.keep(Reading(START, EVIL, EVIL, "double horn", "F", "F4", 6.0, remark=EVIL))
        old.keep(Event(START, EVIL, EVIL, "remark", remark=EVIL))
        old.keep(Notice(START, EVIL, EVIL, "refused", EVIL))
    capsys.readouterr()
    for words in (["check", book], ["fit", book], ["report", book, "--out", tmp_path / "r.html"]):
        cli.main([str(word) for word in words])
        assert not DRIVES & set("".join(capsys.readouterr())), words


def test_json_spells_what_may_not_be_shown_and_loses_nothing(capsys):
    odd = {"player": EVIL + "\ud800\U000e0041♭ Zoë"}
    print_json(odd)
    printed = capsys.readouterr().out
    assert not DRIVES & set(printed)
    assert "♭ Zoë" in printed
    assert json.loads(printed) == odd


@pytest.mark.parametrize("value", ["-4,5", "-4F", "−4", "-4", "12,5"])
def test_temperatures_below_zero_are_options_like_others(value, capsys):
    words = ["slides", "physics", "--instrument", "Bb trumpet", "--celsius", value, "--json"]
    assert cli.main(words) == 0
    assert "celsius" in json.loads(capsys.readouterr().out)["there"]


def test_positions_in_inches():
    assert by_slide("main=0.5in,F=8 mm") == {"main": 12.7, "F": 8.0}


def test_a_name_too_long_for_the_disk_takes_two_lines(capsys):
    assert cli.main(["fit", "9" * 5000]) == 1
    err = capsys.readouterr().err
    assert "too long" in err
    assert len(err.splitlines()) == 2


def test_bytes_that_are_no_text_are_refused_in_a_title_and_spelled_out_in_a_file(
    tmp_path, capsys, monkeypatch
):
    """A name of a file may hold any bytes on Linux; Python gives them as halves of characters."""
    monkeypatch.chdir(tmp_path)
    book = tmp_path / "band\udcff.logbook"
    try:
        with Logbook(book, writer="test") as opened:
            opened.keep(Reading(START, "hall", "Rowan", "double horn", "F", "F4", 1.0))
    except (OSError, UnicodeError):
        pytest.skip("this file system takes no such name")
    assert cli.main(["export", str(book), "one", "--title", "a\udcff"]) == 1
    assert "title 'a\\udcff' has the character U+DCFF" in capsys.readouterr().err
    assert cli.main(["export", str(book), "two"]) == 0
    package = json.loads((tmp_path / "two" / "datapackage.json").read_text(encoding="utf-8"))
    assert package["title"] == "Rehearsals from band\\udcff"
    assert cli.main(["report", str(book), "--out", "r.html", "--title", "a\udcff"]) == 1
    assert "has the character U+DCFF" in capsys.readouterr().err


@pytest.mark.slow
def test_a_report_names_a_file_that_is_no_text_spelled_out(tmp_path):
    report = tmp_path / "r\udcff.html"
    small = str(folders.write(tmp_path / "rehearsals"))
    assert cli.main(["report", small, "--out", str(report)]) == 0
    assert "r\\udcff.html" in report.read_text(encoding="utf-8")
