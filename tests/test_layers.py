"""The house: imports point down only, and sensors know nothing of drift."""

import ast
import re
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
MODULES = sorted([*(ROOT / "drift").rglob("*.py"), *(ROOT / "sensors").rglob("*.py")])

# From the bottom up. A module may import from its own layer (without a cycle) and from below.
LAYERS = [
    ["sensors"],
    [
        "drift.errors",
        "drift.findings",
        "drift.groups",
        "drift.quantities",
        "drift.shipped",
        "drift.spelling",
        "drift.texts",
        "drift.times",
        "drift.writing",
    ],
    [
        "drift.notes",
        "drift.note_names",
        "drift.degrees",
        "drift.air",
        "drift.breath",
        "drift.instruments",
    ],
    ["drift.logbook", "drift.tables"],
    ["drift.capture"],
    ["drift.pairing"],
    ["drift.regression"],
    ["drift.cluster"],
    ["drift.bands"],
    ["drift.tonight"],
    ["drift.slides"],
    ["drift.gig"],
    ["drift.evidence", "drift.playing_ahead", "drift.reminders", "drift.study"],
    ["drift.words"],
    ["drift.charts"],
    ["drift.sheets"],
    ["drift.report"],
    ["drift.page"],
    ["drift.cli"],
]


# What hands a result on, in one line, to the module that words or draws it, or a data set to
# the module that fits it elsewhere.
DOORS: dict[str, set[str]] = {
    "drift.breath": {"drift.words.breath"},
    "drift.capture.answers": {"drift.words.entries"},
    "drift.capture.hearing": {"drift.words.listening"},
    "drift.capture.listening": {"drift.words.listening", "drift.charts.recording"},
    "drift.capture.proposals": {"drift.words.listening"},
    "drift.findings": {"drift.words.fit"},
    "drift.gig.plan": {
        "drift.sheets.plan_figure",
        "drift.words.gig_basis",
        "drift.words.gig_summary",
        "drift.words.gig_warnings",
    },
    "drift.gig.retuning": {"drift.words.gig_basis"},
    "drift.gig.scenarios": {"drift.sheets.plan_figure", "drift.words.gig_scenarios"},
    "drift.pairing.examination": {"drift.words.examination"},
    "drift.regression.advice": {"drift.words.advice"},
    "drift.regression.comparison": {"drift.charts", "drift.words.comparison"},
    "drift.regression.fits": {"drift.cluster.fitting"},
    "drift.pairing.paired": {"drift.words.left_out"},  # a refusal to fit nothing says why
    "drift.regression.frames": {"drift.words.fit", "drift.words.left_out"},
    "drift.regression.notices.faults": {"drift.words.notices"},
    "drift.regression.results": {"drift.charts", "drift.words.fit"},
    "drift.slides.calibration": {"drift.words.calibration"},
    "drift.slides.correction": {"drift.words.slides"},
    "drift.slides.moves": {"drift.words.solution"},
    "drift.slides.positions": {"drift.words.slide_table"},
}


def name_of(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


NAMES = {path: name_of(path) for path in MODULES}


def imports(path: Path) -> set[str]:
    """Modules of the project that a module imports, at its head or when it is needed.

    Not counted: names for the type checker only, and the doors of `DOORS`.
    """
    tree = ast.parse(path.read_text(encoding="utf-8"))
    exempt = {
        id(inner)
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test)
        for inner in ast.walk(node)
    }
    found: set[str] = set()
    for node in ast.walk(tree):
        if id(node) in exempt:
            continue
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
    name = NAMES[path]
    own_packages = {name.rsplit(".", depth)[0] for depth in (1, 2)}
    return (found & set(NAMES.values())) - own_packages - DOORS.get(name, set())


@cache
def graph() -> dict[str, set[str]]:
    """Return what each module imports; read once, and by the worker that asks."""
    return {name: imports(path) - {"drift"} for path, name in NAMES.items()}


def reaches(start: str) -> set[str]:
    seen: set[str] = set()
    todo = [start]
    while todo:
        for name in graph()[todo.pop()]:
            if name not in seen:
                seen.add(name)
                todo.append(name)
    return seen


def test_sensors_never_import_drift():
    for name, targets in graph().items():
        if name.split(".")[0] == "sensors":
            assert not [target for target in targets if target.startswith("drift")], name


def test_there_is_no_cycle():
    for name in graph():
        if name != "drift":
            assert name not in reaches(name), f"{name} imports itself by a detour"


def layer_of(module: str) -> int:
    height = {name: level for level, names in enumerate(LAYERS) for name in names}
    while module not in height:
        assert module, "every module has a layer"
        module = module.rpartition(".")[0]
    return height[module]


def test_imports_point_downwards_only():
    for name, targets in graph().items():
        if name not in ("drift", "drift.__main__"):  # they hand names on
            up = [target for target in targets if layer_of(target) > layer_of(name)]
            assert not up, f"{name} reaches up to {up}"


ANSWERING = (
    "drift.pairing", "drift.regression", "drift.cluster", "drift.bands", "drift.tonight",
    "drift.slides", "drift.gig",
)  # fmt: skip

# What the command line and the page take from the answering rooms themselves, and why.
TAKEN_DIRECTLY = {
    "drift.cli.check": {"drift.pairing.examination"},  # a damaged book cannot be opened to study
    # a data set that no memory holds cannot be opened to study
    "drift.cli.fit": {
        "drift.cluster.fitting",
        "drift.regression.estimates",
        "drift.regression.fits",
        "drift.regression.notices.apart",  # the study's fit, made again from what it noticed
        "drift.regression.priors",
    },
    "drift.cli.table_check": {"drift.pairing.examination"},  # as a book is examined, not yet one
    # what is typed or read from the files of a gig, before anything is asked
    "drift.cli.gig": {
        "drift.gig.scenarios",
        "drift.gig.templates",
    },
    "drift.cli.gig_compare": {
        "drift.gig.compared",
        "drift.gig.folder",
        "drift.gig.lag",
        "drift.gig.on_paper",
    },
    "drift.cli.gig_check": {
        "drift.gig.folder",
        "drift.gig.roster",
    },
    "drift.cli.gig_inputs": {
        "drift.gig.calendar",
        "drift.gig.course",
        "drift.gig.days",
        "drift.gig.folder",
        "drift.gig.gridded",
        "drift.gig.plan",
        "drift.gig.roster",
        "drift.gig.timetable",
        "drift.gig.unpitched",
        "drift.gig.weather",
    },
    "drift.cli.gig_guided": {
        "drift.gig.activities",
        "drift.gig.answers",
        "drift.gig.days",
        "drift.gig.guided",
        "drift.gig.templates",
    },
    # a tuning is begun from a study, and then answered step by step
    "drift.cli.tune": {
        "drift.slides.pooled_tunings", "drift.slides.tuning_begun", "drift.slides.tuning_log",
        "drift.tonight.tuning_steps",
    },
    "drift.page.tuning": {
        "drift.slides.pooled_tunings", "drift.slides.tuning_begun", "drift.slides.tuning_log",
        "drift.slides.tuning_sitting", "drift.tonight.tuning_steps",
    },
    # files of bands of which there is no study
    "drift.cli.combine": {"drift.bands.combining", "drift.bands.new_priors"},
    "drift.cli.summary": {"drift.bands.written"},  # the record of earlier files, beside the source
    "drift.cli.demo": {"drift.gig.roster", "drift.gig.timetable", "drift.gig.weather"},
}  # fmt: skip


def test_command_line_and_page_ask_the_study_and_nothing_below_it():
    for name, targets in graph().items():
        if name.startswith(("drift.cli", "drift.page")):
            below = {target for target in targets if target.startswith(ANSWERING)}
            assert below == TAKEN_DIRECTLY.get(name, set()), name


def test_every_named_layer_exists():
    names = set(graph())
    for layer in LAYERS:
        for name in layer:
            assert name in names, f"{name} is in the map and not in the house"


def test_no_drawers_of_strangers():
    drawers = re.compile(r"(utils?|helpers?|common|tools|misc)\.py")
    assert not [path.name for path in MODULES if drawers.fullmatch(path.name)]


@pytest.mark.parametrize(
    "name", ["Catalogue", "Conditions", "Decision", "Fit", "Move", "Paired", "Part", "Temperature"]
)
def test_one_name_is_one_thing(name):
    defined = re.compile(rf"^class {name}\b", re.MULTILINE)
    found = [path for path in MODULES if defined.search(path.read_text(encoding="utf-8"))]
    assert len(found) == 1, found


def test_modules_stay_short():
    long = {p.name: n for p in MODULES if (n := len(p.read_text("utf-8").splitlines())) > 400}
    assert not long


def test_only_the_outermost_layer_reads_the_clock_or_the_environment():
    reading = re.compile(r"datetime\.now\(|time\.time\(|os\.environ|os\.getenv|\.today\(")
    outer = ("drift/cli/", "drift/page/", "sensors/clocks.py")
    for path in MODULES:
        where = path.relative_to(ROOT).as_posix()
        if not where.startswith(outer):
            assert not reading.search(path.read_text(encoding="utf-8")), where


def test_pyplot_is_never_imported():
    for path in MODULES:
        assert "pyplot" not in path.read_text(encoding="utf-8"), path.name


@pytest.mark.parametrize("module", ["drift.cli.log", "drift.capture.desk", "drift.cli"])
def test_the_start_of_a_log_imports_nothing_heavy(module):
    heavy = ["numpy", "pandas", "pyarrow", "scipy", "statsmodels", "matplotlib"]
    heavy += ["serial", "soundfile", "drift.instruments.anatomy", "drift.study"]
    code = f"import sys, {module}; print([m for m in {heavy!r} if m in sys.modules])"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "[]"


@pytest.mark.parametrize("module", ["drift.tables.loading", "drift.logbook.bulk"])
def test_tables_are_read_without_what_computes(module):
    """Half of the time of a command that reads a small folder would be theirs."""
    heavy = ["scipy", "statsmodels", "matplotlib", "drift.regression", "drift.pairing"]
    code = f"import sys, {module}; print([m for m in {heavy!r} if m in sys.modules])"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "[]"


def test_check_of_many_rows_loads_nothing_that_computes():
    code = (
        "import sys; from drift.cli import main, table_check; table_check.MOST_COMPARED = 100; "
        "main(['check', 'datasets/cold-hall-season']); "
        "heavy = ('pandas', 'scipy', 'drift.study', 'drift.regression'); "
        "print([m for m in heavy if m in sys.modules])"
    )
    found = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT
    )
    assert found.stdout.splitlines()[-1] == "[]"
