"""drift report: a file to keep, and a clear word where there can be none."""

import io
import re
import shlex
from html import unescape

import pytest
from pypdf import PdfReader

from drift import load, shipped


@pytest.fixture(scope="module")
def season():
    return shipped.folder("datasets/cold-hall-season")


@pytest.fixture(scope="module")
def few(season, tmp_path_factory):
    """The first rehearsal of the season, as a folder of its own."""
    folder = tmp_path_factory.mktemp("few")
    for name in ("readings.csv", "temperatures.csv", "events.csv"):
        header, *lines = (season / name).read_text("utf-8").splitlines()
        kept = [line for line in lines if line.startswith("2026-01-13")]
        (folder / name).write_text("\n".join([header, *kept]) + "\n", "utf-8")
    package = '{"title": "One evening (simulated)", "description": "Made up. All of it."}'
    (folder / "datapackage.json").write_text(package, "utf-8")
    return folder


@pytest.mark.slow
def test_html(drift, few, tmp_path):
    out = tmp_path / "report.html"
    status, said, err = drift("report", few, "--out", out, "--zone", "Europe/Berlin")
    assert (status, err) == (0, "")
    assert re.fullmatch(r"wrote \S+report\.html \(\d+ KiB\): .*\n", said)
    html = out.read_text("utf-8")
    assert "18:55 to 20:42" in html
    assert (
        "One evening (simulated). Made up. All of it. 60 readings in 1 rehearsal, 2026-01-13."
        in html
    )
    assert f"drift report {few} --out {out} --zone Europe/Berlin" in html


@pytest.mark.slow
def test_pdf_of_one_player(drift, few, tmp_path):
    out = tmp_path / "rowan.pdf"
    words = ("--player", "Rowan", "--title", "Rowan's horn", "--paper", "letter", "--zone", "UTC")
    status, _, err = drift("report", few, "--out", out, *words)
    assert (status, err) == (0, "")
    pdf = PdfReader(io.BytesIO(out.read_bytes()))
    text = "".join(page.extract_text() for page in pdf.pages)
    assert "Rowan's horn" in text
    assert "Isolde" not in text
    assert round(pdf.pages[0].mediabox.width) == 612


@pytest.mark.parametrize("method", ["bayesian", "least-squares"])
@pytest.mark.slow
def test_what_else_may_change_the_pitch_is_in_the_report(drift, few, tmp_path, method):
    out = tmp_path / "humidity.html"
    words = ("--covariate", "humidity", "--method", method, "--player", "Rowan", "--fahrenheit")
    status, _, err = drift("report", few, "--out", out, *words)
    assert (status, err) == (0, "")
    html = out.read_text("utf-8")
    assert "in 1 rehearsal, 2026-01-13." in html
    assert "Rehearsals; times of day in UTC+01:00" in html  # as it was written
    assert "cents for each degree Fahrenheit" in html
    assert re.search(r"drift report \S+ .*--fahrenheit", html)
    assert re.search(r"humidity: -?[0-9.]+ \(-?[0-9.]+ to [0-9.]+\) cents per %", html)
    assert "--covariate humidity" in html


@pytest.mark.slow
def test_what_was_expected_before_any_reading_is_in_the_report(drift, few, tmp_path):
    out, file = tmp_path / "own.html", tmp_path / "own.toml"
    file.write_text("slow_sd = 0.7\n", encoding="utf-8")
    status, _, err = drift("report", few, "--out", out, "--priors", file, "--player", "Rowan")
    assert (status, err) == (0, "")
    assert f"--priors {file}" in out.read_text("utf-8")
    file.write_text("slow_sd = -0.7\n", encoding="utf-8")
    assert drift("report", few, "--out", out, "--priors", file)[0] == 1


@pytest.mark.slow
def test_the_estimated_start_is_reported_with_the_command_that_makes_it(drift, few, tmp_path):
    out = tmp_path / "report.html"
    status, _, err = drift("report", few, "--start", "estimated", "--out", out, "--zone", "UTC")
    assert (status, err) == (0, "")
    html = out.read_text("utf-8")
    assert "How warm instruments were at the start, where nobody logged it" in html
    assert f"drift report {few} --out {out} --zone UTC --start estimated" in html


@pytest.mark.slow
def test_the_command_names_the_rehearsals_that_were_left_out(drift, season, tmp_path):
    out = tmp_path / "report.html"
    first, second = load(season).names[:2]
    without = ("--without-rehearsal", first, "--without-rehearsal", second)
    status, _, err = drift("report", season, "--out", out, "--zone", "UTC", *without)
    assert (status, err) == (0, "")
    told = f"drift report {season} --out {out} --zone UTC {shlex.join(without)}"
    assert f"<td>{told}</td>" in unescape(out.read_text("utf-8"))


@pytest.mark.slow
def test_the_same_command_writes_the_same_bytes(drift, few, tmp_path):
    out = tmp_path / "again.html"
    written = set()
    for _ in range(2):
        assert drift("report", few, "--out", out, "--zone", "UTC")[0] == 0
        written.add(out.read_bytes())
    assert len(written) == 1


@pytest.mark.parametrize(
    ("words", "problem"),
    [
        (("--out", "report.docx"), "cannot be written as 'report.docx'"),
        (
            ("--out", "missing/report.html", "--zone", "UTC"),
            "there is no folder 'missing' to write report.html",
        ),
        (("--out", "x.html", "--zone", "Old/Malthouse"), "no time zone 'Old/Malthouse'"),
        (("--out", "x.html", "--rehearsal", "picnic"), "no rehearsal 'picnic'"),
        (("--out", "x.html", "--player", "Nobody"), "no player 'Nobody'"),
        (("--out", "x.html", "--thermometer", "roof"), "no temperature comes from 'roof'"),
    ],
)
def test_problems_are_explained_in_two_lines(drift, few, tmp_path, monkeypatch, words, problem):
    monkeypatch.chdir(tmp_path)
    status, out, err = drift("report", few, *words)
    assert (status, out) == (1, "")
    assert problem in err.splitlines()[0]
    assert len(err.splitlines()) == 2
    assert not list(tmp_path.rglob("*.html"))


@pytest.mark.slow
def test_a_file_that_cannot_be_written(drift, few, tmp_path):
    out = tmp_path / "report.html"
    out.mkdir()
    status, said, err = drift("report", few, "--out", out, "--zone", "UTC")
    assert (status, said) == (1, "")
    assert "report.html cannot be written: " in err.splitlines()[0]


def test_the_file_to_write_is_asked_for(drift, few):
    status, _, err = drift("report", few)
    assert status == 2
    assert "--out" in err


@pytest.mark.slow
def test_one_page_for_a_lesson(drift, few, tmp_path):
    out = tmp_path / "page.pdf"
    asked = ("--player", "Rowan", "--one-page", "--celsius", "79F", "--travel", "main=13")
    status, said, _ = drift("report", few, *asked, "--out", out)
    assert status == 0
    assert "Rowan, double horn" in said
    text = PdfReader(out).pages[0].extract_text()
    assert "In a room of 26 °C (79 °F)" in text
    assert "13.0\xa0end" in text.replace(" ", "\xa0").replace("\n", "\xa0")


@pytest.mark.parametrize(
    ("wrong", "problem"),
    [
        (["--one-page"], "one page is about one player, and a PDF"),
        (["--one-page", "--player", "Rowan", "--compare"], "one page has no --rehearsal"),
        (["--celsius", "20"], "--instrument, --celsius, --travel and --a4 are for one page"),
        (["--travel", "main=40"], "--instrument, --celsius, --travel and --a4 are for one page"),
    ],
)
def test_one_page_refuses_what_it_is_not_for(drift, few, tmp_path, wrong, problem):
    status, _, err = drift("report", few, "--out", tmp_path / "page.pdf", *wrong)
    assert status == 1
    assert problem in err
    assert not (tmp_path / "page.pdf").exists()
