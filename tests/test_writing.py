"""Files that are there whole or not at all."""

import os
import subprocess
import sys

import pytest

from drift import shipped
from drift.errors import InputError
from drift.writing import written_file, written_folder
from tests import folders


def fail_after(path):
    path.write_text("half")
    raise InputError("half of it was written", "try again")


def test_a_file_takes_its_place_when_it_is_finished(tmp_path):
    path = tmp_path / "report.html"
    path.write_text("old")
    with written_file(path) as unfinished:
        assert unfinished.suffix == ".html"
        unfinished.write_text("new")
        assert path.read_text() == "old"
    assert path.read_text() == "new"
    assert os.listdir(tmp_path) == ["report.html"]


def test_what_fails_leaves_the_file_that_was_there(tmp_path):
    path = tmp_path / "report.html"
    path.write_text("old")
    with pytest.raises(InputError, match="half"), written_file(path) as unfinished:
        fail_after(unfinished)
    assert path.read_text() == "old"
    assert os.listdir(tmp_path) == ["report.html"]


@pytest.mark.skipif(os.name != "posix", reason="modes and links are of POSIX")
def test_a_link_and_a_mode_stay(tmp_path):
    path, link = tmp_path / "plan.csv", tmp_path / "link.csv"
    path.write_text("old")
    path.chmod(0o640)
    link.symlink_to(path)
    with written_file(link) as unfinished:
        unfinished.write_text("new")
    assert link.is_symlink()
    assert path.read_text() == "new"
    assert path.stat().st_mode & 0o777 == 0o640


@pytest.mark.skipif(not os.path.exists("/dev/null"), reason="there is no device to write to")
def test_a_device_is_written_to_as_it_is():
    with written_file("/dev/null") as unfinished:
        unfinished.write_text("gone")
    assert not os.path.isfile("/dev/null")


def test_a_folder_is_made_with_all_its_files(tmp_path):
    with written_folder(tmp_path / "a" / "b") as unfinished:
        (unfinished / "one.csv").write_text("1")
        assert not (tmp_path / "a" / "b").exists()
    assert (tmp_path / "a" / "b" / "one.csv").read_text() == "1"
    assert os.listdir(tmp_path / "a") == ["b"]


def test_a_folder_that_fails_leaves_nothing(tmp_path):
    with (
        pytest.raises(InputError, match="half"),
        written_folder(tmp_path / "a" / "b") as unfinished,
    ):
        fail_after(unfinished / "one.csv")
    assert os.listdir(tmp_path) == []


def test_a_folder_that_is_there_keeps_what_is_not_replaced(tmp_path):
    (tmp_path / "plan.csv").write_text("old")
    (tmp_path / "notes.txt").write_text("mine")
    with pytest.raises(InputError, match="half"), written_folder(tmp_path) as unfinished:
        fail_after(unfinished / "plan.csv")
    assert (tmp_path / "plan.csv").read_text() == "old"
    with written_folder(tmp_path) as unfinished:
        (unfinished / "plan.csv").write_text("new")
    assert (tmp_path / "plan.csv").read_text() == "new"
    assert sorted(os.listdir(tmp_path)) == ["notes.txt", "plan.csv"]


def test_a_file_in_the_place_of_a_folder_is_refused(tmp_path):
    (tmp_path / "plan").write_text("mine")
    with pytest.raises(NotADirectoryError, match="not a folder"), written_folder(tmp_path / "plan"):
        pass


# A process that may write no file beyond a few kilobytes meets the limit in the middle, as on a
# full disk.
FULL = """
import resource, sys
from drift import cli
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[1]), int(sys.argv[1])))
sys.exit(cli.main(sys.argv[2:]))
"""


@pytest.mark.skipif(sys.platform == "win32", reason="there are no limits to set")
@pytest.mark.parametrize(
    ("limit", "words"),
    [
        pytest.param(
            3000, ["report", "FOLDER", "--out", "out/report.html"], marks=pytest.mark.slow
        ),
        pytest.param(
            3000, ["report", "FOLDER", "--out", "out/report.pdf"], marks=pytest.mark.slow
        ),
        pytest.param(3000, ["fit", "FOLDER", "--plot", "out/fit.png"], marks=pytest.mark.slow),
        (3000, ["gig", "physics", "--celsius", "9", "--from", "19:00", "--to", "21:00",
                "--instrument", "double horn", "--out", "out"]),
        (150, ["slides", "physics", "--instrument", "double horn", "--celsius", "33",
               "--csv", "out/report.csv"]),
        pytest.param(3000, ["slides", "physics", "--instrument", "double horn", "--celsius", "33",
                            "--card", "out/card.pdf"], marks=pytest.mark.slow),
        pytest.param(3000, ["instruments", "double horn", "--draw", "out/horn.svg"],
                     marks=pytest.mark.slow),
        (60, ["gig", "--templates", "out"]),
    ],
    ids=["html", "pdf", "plot", "plan", "csv", "card", "drawing", "templates"],
)  # fmt: skip
@pytest.mark.slow
def test_a_full_disk_leaves_what_was_there(tmp_path, limit, words):
    folder = folders.write(tmp_path / "rehearsals")
    out = tmp_path / "out"
    out.mkdir()
    old = {"report.html", "report.pdf", "fit.png", "plan.csv", "report.csv", "card.pdf", "horn.svg"}
    for name in old:
        (out / name).write_text(f"old {name}")
    given = [str(folder) if word == "FOLDER" else word for word in words]
    done = subprocess.run(
        [sys.executable, "-c", FULL, str(limit), *given],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": os.getcwd(), "PYTHONDONTWRITEBYTECODE": "1",
             "OPENBLAS_NUM_THREADS": "1"},
        capture_output=True,
        text=True,
    )  # fmt: skip
    assert done.returncode == 1, done.stdout + done.stderr
    assert "Traceback" not in done.stderr
    assert len(done.stderr.splitlines()) == 2, done.stderr
    assert set(os.listdir(out)) == old
    assert all((out / name).read_text() == f"old {name}" for name in old)


@pytest.mark.skipif(sys.platform == "win32", reason="there are no limits to set")
def test_a_full_disk_leaves_no_half_of_an_export(tmp_path):
    book = tmp_path / "band.logbook"
    folder = shipped.folder("datasets/cold-hall-season")
    environment = {**os.environ, "PYTHONPATH": os.getcwd()}
    command = [sys.executable, "-m", "drift", "import", str(book), str(folder)]
    subprocess.run(command, check=True, capture_output=True, env=environment)
    # SQLite needs 32 KiB of its own to read a book; the tables are larger.
    words = ["export", str(book), str(tmp_path / "new" / "season")]
    done = subprocess.run(
        [sys.executable, "-c", FULL, "34000", *words],
        capture_output=True,
        text=True,
        env=environment,
    )
    assert done.returncode == 1, done.stdout + done.stderr
    assert "cannot be written" in done.stderr
    assert not (tmp_path / "new").exists()
