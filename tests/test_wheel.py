"""A built wheel, installed elsewhere, does the whole job: the shipped data travel with it."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent


@pytest.fixture(scope="module")
def installed(tmp_path_factory):
    """Install the wheel without its dependencies into a folder of its own."""
    place = tmp_path_factory.mktemp("elsewhere")
    pip = [sys.executable, "-m", "pip", "--quiet", "--disable-pip-version-check"]
    subprocess.run([*pip, "wheel", "--no-deps", "-w", place / "wheel", ROOT], check=True)
    (wheel,) = (place / "wheel").glob("*.whl")
    subprocess.run([*pip, "install", "--no-deps", "--target", place / "site", wheel], check=True)
    return place


@pytest.mark.slow
def test_the_demo_runs_from_an_installed_wheel(installed):
    environment = {**os.environ, "PYTHONPATH": str(installed / "site"), "PYTHONUTF8": "1"}

    def python(*words):
        return subprocess.run(
            [sys.executable, *words], cwd=installed, env=environment, capture_output=True,
            text=True, encoding="utf-8", check=True,
        ).stdout  # fmt: skip

    where = Path(python("-c", "import drift; print(drift.__file__)").strip())
    assert where.is_relative_to(installed / "site")
    out = python("-m", "drift", "demo", "--out", "made")
    assert "cents/°C" in out
    made = {path.name for path in (installed / "made").rglob("*") if path.is_file()}
    assert {"season.logbook", "report.html", "plan.csv", "director.pdf"} <= made
