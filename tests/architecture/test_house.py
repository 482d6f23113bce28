"""The house stays as it is built: floors, pure rooms, sizes, what may stand at the top."""

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
FLOORS = ("garden", "consults", "reports")
PURE = (
    "garden.agronomy.units",
    "garden.agronomy.air",
    "garden.agronomy.light",
    "garden.agronomy.feed",
    "garden.agronomy.watering",
    "garden.agronomy.acid",
    "garden.agronomy.climate",
    "garden.agronomy.co2",
    "garden.agronomy.conductivity",
    "garden.agronomy.container",
    "garden.agronomy.labels",
    "garden.agronomy.light_map",
    "garden.agronomy.mix",
    "garden.agronomy.nutrients",
    "garden.agronomy.propagation",
    "garden.agronomy.recipe",
    "garden.agronomy.reservoir",
    "garden.agronomy.salts",
    "garden.agronomy.series",
    "garden.agronomy.solution",
    "garden.agronomy.transpiration",
    "garden.agronomy.water",
    "garden.reference.loader",
    "garden.figures",
    "consults.diagnosis.inference",
    "consults.diagnosis.combinations",
    "consults.diagnosis.explain",
    "consults.diagnosis.next_check",
    "consults.diagnosis.fit",
    "consults.ruleset.loader",
    "consults.ruleset.compile",
    "consults.ruleset.conditions",
    "consults.cases.casefile",
    "consults.cases.facts",
    "consults.cases.ranking",
)
# Longer than the brake allows, each with its reason.
LONG_FILES: dict[str, str] = {}


def tracked_files() -> list[Path]:
    """Files of the project as git knows them, or all but the generated ones where there is no git."""
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode == 0 and listed.stdout:
        return [ROOT / name for name in listed.stdout.split("\0") if name and (ROOT / name).is_file()]
    skipped = {".venv", "var", ".git", "__pycache__", "mutants"}
    return [path for path in ROOT.rglob("*") if path.is_file() and not skipped & set(path.parts)]


def python_files() -> list[Path]:
    files = [path for floor in FLOORS for path in (ROOT / floor).rglob("*.py")]
    return [path for path in files if "migrations" not in path.parts]


def test_nothing_else_stands_at_the_top_level():
    allowed = {"README.md", "DEVELOPERS.md", "manage.py", "pyproject.toml", *FLOORS, "tests", "docker"}
    top = {path.relative_to(ROOT).parts[0] for path in tracked_files()}
    assert {name for name in top if not name.startswith(".")} == allowed


@pytest.mark.parametrize("module", PURE)
def test_a_pure_room_works_without_django(module):
    code = (
        f"import sys, {module}; sys.exit(any(n == 'django' or n.startswith('django.') for n in sys.modules))"
    )
    subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=True)


def test_imports_run_one_way():
    command = [str(Path(sys.executable).parent / "lint-imports"), "--no-cache"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout


def test_files_stay_small_enough_to_read():
    too_long = {
        str(path.relative_to(ROOT)): lines
        for path in python_files()
        if (lines := len(path.read_text().splitlines())) > 400
        and str(path.relative_to(ROOT)) not in LONG_FILES
    }
    assert not too_long


def test_functions_stay_small_enough_to_read():
    too_long = []
    for path in python_files():
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                docstring = ast.get_docstring(node, clean=False)
                body = (node.end_lineno or 0) - node.lineno - len((docstring or "").splitlines())
                if body > 45:
                    too_long.append(f"{path.relative_to(ROOT)}:{node.lineno} {node.name} {body}")
    assert not too_long


def test_public_functions_of_pure_rooms_say_what_they_return():
    silent = []
    for module in PURE:
        path = ROOT / (module.replace(".", "/") + ".py")
        path = path if path.is_file() else ROOT / module.replace(".", "/") / "__init__.py"
        silent += [
            f"{module}.{node.name}"
            for node in ast.parse(path.read_text()).body
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_")
            if not ast.get_docstring(node)
        ]
    assert not silent


def test_every_python_file_says_what_it_is_for():
    silent = [
        str(path.relative_to(ROOT))
        for path in python_files()
        if path.read_text().strip() and not ast.get_docstring(ast.parse(path.read_text()))
    ]
    assert not silent


def test_nothing_is_left_half_done():
    marks = re.compile(r"\b(TODO|FIXME|XXX)\b|NotImplementedError")
    found = [
        f"{path.relative_to(ROOT)}: {line.strip()}"
        for path in tracked_files()
        if path.suffix in {".py", ".html", ".css", ".js", ".sh", ".yaml"} and path != Path(__file__)
        for line in path.read_text(errors="replace").splitlines()
        if marks.search(line)
    ]
    assert not found


def test_no_test_is_skipped():
    words = ("mark." + "skip", "mark." + "xfail", "pytest." + "skip(", "import" + "orskip")
    found = [
        str(path.relative_to(ROOT))
        for path in (ROOT / "tests").rglob("*.py")
        if any(word in path.read_text() for word in words)
    ]
    assert not found


def test_no_large_file_is_tracked():
    assert not [p for p in tracked_files() if p.stat().st_size > 1_000_000]


def test_the_pictures_of_the_readme_are_small():
    for picture in (ROOT / "reports" / "pictures").glob("*.png"):
        assert picture.stat().st_size < 300_000, picture


def test_pyproject_names_what_the_project_stands_on():
    text = (ROOT / "pyproject.toml").read_text()
    for name in ("django>", "django-crispy-forms", "weasyprint", "celery", "redis", "pytest-django"):
        assert f'"{name}' in text
