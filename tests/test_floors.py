"""The order of the floors: imports only run down, and nothing that computes draws."""

import ast
import re
import subprocess
import sys
from functools import cache
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parent.parent / "layout3d"
FLOORS = (
    {
        "errors",
        "files",
        "folders",
        "keep",
        "plain",
        "beside",
        "units",
        "fields",
        "fields_composite",
        "guards",
        "band",
        "registry",
        "wanted",
    },
    {"solid", "catalog"},
    {"fittings"},
    {"parts"},
    {"scene"},
    {"model"},
    {"water"},
    {"pipework"},
    {"flow"},
    {"outage"},
    {"shop", "hold", "swim", "glass"},
    {"checks"},
    {"live"},
    {"place"},
    {"sheets"},
    {"report", "draw"},
    {"film"},
    {"view", "page"},
    {"cli", "commands", "__main__"},
)
FLOOR = {name: number for number, names in enumerate(FLOORS) for name in names}
TOGETHER = (FLOORS[0], FLOORS[-1])  # one floor of single modules each, which may import each other
DRAWING = ("pyvista", "vtk", "vtkmodules", "matplotlib")
MOST_LINES = 500
MODULES = sorted(PACKAGE.rglob("*.py"))


def unit_of(module: str) -> str:
    """Return the folder or top module that a module belongs to; '' for the package itself."""
    return module.partition(".")[2].partition(".")[0]


@cache
def imports_in(source: str) -> list[ast.Import | ast.ImportFrom]:
    """Return every import of a file, those inside functions and for type checking too.

    Imports are statements, so that no expression has to be looked into.
    """
    left: list[ast.AST] = [ast.parse(source)]
    found = []
    while left:
        node = left.pop()
        if isinstance(node, ast.Import | ast.ImportFrom):
            found.append(node)
        for held in ("body", "orelse", "handlers", "finalbody", "cases"):
            left += getattr(node, held, ())
    return found


def imports_of(source: str) -> list[tuple[int, str]]:
    """Return every import of a file as (line, module), those inside functions and for type checking too."""
    found = []
    for node in imports_in(source):
        if isinstance(node, ast.Import):
            found += [(node.lineno, alias.name) for alias in node.names]
        else:
            assert node.level == 0, f"line {node.lineno}: a relative import"
            base = node.module or ""
            # `from layout3d import draw` imports a folder; `from layout3d.draw import x` says so already
            names = [f"{base}.{alias.name}" for alias in node.names] if base == "layout3d" else [base]
            found += [(node.lineno, name) for name in names]
    return found


def faults_of(module: str, source: str) -> list[str]:
    """Return what a module of ours may not import, one line each."""
    own = unit_of(module)
    faults = []
    for line, target in imports_of(source):
        top = target.split(".")[0]
        if top in DRAWING and own not in ("draw", "view"):
            faults.append(f"{module}:{line} imports {top}; only layout3d.draw and layout3d.view may")
        if top != "layout3d":
            continue
        other = unit_of(target)
        if other == own or (own in FLOOR and any({own, other} <= floor for floor in TOGETHER)):
            continue
        if other and not FLOOR[other] < FLOOR[own]:
            faults.append(f"{module}:{line} imports {target}, which is not on a floor below")
    return faults


def test_every_module_stands_on_a_floor():
    units = {path.relative_to(PACKAGE).parts[0].removesuffix(".py") for path in MODULES}
    assert units - {"__init__"} == set(FLOOR)


def test_imports_run_down():
    found = []
    for path in MODULES:
        module = ".".join(["layout3d", *path.relative_to(PACKAGE).with_suffix("").parts])
        found += faults_of(module, path.read_text(encoding="utf-8"))
    assert found == []


def test_no_module_outgrows_what_one_reads_at_a_time():
    lines = {path: len(path.read_text(encoding="utf-8").splitlines()) for path in MODULES}
    assert {path: count for path, count in lines.items() if count > MOST_LINES} == {}


def circle(sources: dict[str, str]) -> list[str]:
    """Return modules that import each other, those inside functions and for type checking too; or nothing."""
    imported: dict[str, set[str]] = {}
    for module, source in sources.items():
        found = imported.setdefault(module, set())
        for node in imports_in(source):
            if isinstance(node, ast.Import):
                found |= {alias.name for alias in node.names}
            else:
                names = {f"{node.module}.{alias.name}" for alias in node.names}
                found |= {name if name in sources else str(node.module) for name in names}
    try:
        TopologicalSorter({module: found & set(sources) for module, found in imported.items()}).prepare()
    except CycleError as error:
        return list(error.args[1])
    return []


def test_no_module_imports_what_imports_it():
    """Inside folders too, where floors do not look; an import inside a function closes a circle as well."""
    names = [".".join(["layout3d", *path.relative_to(PACKAGE).with_suffix("").parts]) for path in MODULES]
    sources = {
        name.removesuffix(".__init__"): path.read_text(encoding="utf-8")
        for name, path in zip(names, MODULES, strict=True)
    }
    assert circle(sources) == []


def test_a_circle_is_found():
    found = circle(
        {
            "p.a": "from p import b",
            "p.b": "def f():\n    from p.c import x",
            "p.c": "if TYPE_CHECKING:\n    from p.a import y",
            "p.d": "import p.a",
        }
    )
    assert set(found) == {"p.a", "p.b", "p.c"}


@pytest.mark.parametrize(
    ("module", "source"),
    [
        ("layout3d.solid.shape", "from layout3d.parts.base import Part"),
        ("layout3d.parts.tank", "def f():\n    import layout3d.scene.reader"),
        ("layout3d.report.text", "from layout3d import draw"),
        ("layout3d.report.text", "from layout3d.draw.picture import picture"),
        ("layout3d.checks.base", "import matplotlib.pyplot"),
        ("layout3d.solid.shape", "from layout3d.catalog import default"),
        ("layout3d.fields", "from layout3d.catalog import default"),
    ],
)
def test_an_import_that_runs_up_is_found(module, source):
    assert len(faults_of(module, source)) == 1


@pytest.mark.parametrize(
    ("module", "source"),
    [
        ("layout3d.draw.picture", "import pyvista\nfrom layout3d.model.model import Model"),
        ("layout3d.fields", "from layout3d.units import show"),
        ("layout3d.cli", "from layout3d.commands.check import check"),
    ],
)
def test_an_import_that_runs_down_is_let_be(module, source):
    assert faults_of(module, source) == []


def run_fresh(code: str) -> str:
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=120, check=True
    )
    return done.stdout


def test_checking_never_loads_what_draws():
    """Nor the linear programme, which a pile of stones alone needs; with nothing kept, all is computed.

    And the sound scene that all rules look at has neither fault nor warning.
    """
    scene = Path(__file__).parent / "checks" / "clean.yaml"
    heavy = ("pyvista", "vtkmodules", "matplotlib", "trimesh", "scipy.optimize", "pydantic")
    told = run_fresh(
        "import contextlib, io, json, os, sys\n"
        "os.environ['LAYOUT3D_CACHE'] = 'off'\n"
        "import layout3d.checks\n"
        "from layout3d.cli import main\n"
        "from layout3d.swim import room\n"
        "room.CELLS = 20_000\n"
        "with contextlib.redirect_stdout(io.StringIO()) as told:\n"
        f"    code = main(['check', {str(scene)!r}, '--json'])\n"
        "told = [one for one in json.loads(told.getvalue())['findings'] if one['severity'] != 'note']\n"
        f"print(code, told, [name for name in {heavy!r} if name in sys.modules])\n"
    )
    assert told.strip() == "0 [] []"


def test_help_loads_nothing_heavy():
    """What `layout3d --help` waits for: with none of these it answers in about a tenth of a second."""
    heavy = ("numpy", "yaml", "pint", "manifold3d", "coal", "rich", "layout3d.scene", "layout3d.model")
    told = run_fresh(f"import sys, layout3d.cli\nprint([name for name in {heavy!r} if name in sys.modules])")
    assert told.strip() == "[]"


def test_drawing_what_was_kept_loads_no_part_of_the_model():
    """A further view of a scene waits for none of these."""
    heavy = (
        "manifold3d",
        "coal",
        "scipy",
        "pyvista",
        "matplotlib",
        "layout3d.parts",
        "layout3d.fittings",
    )
    told = run_fresh(
        "import sys, layout3d.cli, layout3d.commands.answer, layout3d.checks.base\n"
        "import layout3d.draw.picture, layout3d.draw.pieces\n"
        f"print([name for name in {heavy!r} if name in sys.modules])"
    )
    assert told.strip() == "[]"


def test_the_walks_for_newcomers_name_modules_that_are_there_and_at_most_eight():
    text = (Path(__file__).resolve().parent.parent / "DEVELOPERS.md").read_text(encoding="utf-8")
    walks = text.split("## Two walks")[1].split("## ")[0].split("From ")[1:]
    for walk in walks:
        steps = re.findall(r"(?m)^\d\. `([\w/]+\.py)`", walk)
        assert 4 <= len(set(steps)) == len(steps) <= 8
        assert all((PACKAGE / step).is_file() for step in steps)
    assert len(walks) == 2


def names_in(module: str) -> set[str]:
    """What a module of the package defines, imports or holds as modules."""
    path = PACKAGE.joinpath(*module.split(".")[1:])
    file = path / "__init__.py" if path.is_dir() else path.with_suffix(".py")
    found = {each.stem for each in path.glob("*.py")} if path.is_dir() else set()
    for node in ast.parse(file.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.Import | ast.ImportFrom):
            found |= {alias.asname or alias.name for alias in node.names}
        elif isinstance(node, ast.FunctionDef | ast.ClassDef):
            found.add(node.name)
        else:
            found |= {name.id for name in ast.walk(node) if isinstance(name, ast.Name)}
    return found


def test_scripts_import_what_there_is():
    """Most are run by hand, now and then: a module that moved would be missed only then."""
    for script in sorted((PACKAGE.parent / "scripts").iterdir()):
        source = script.read_text(encoding="utf-8") if script.is_file() else ""
        if script.suffix != ".py" and "python" not in source.partition("\n")[0]:
            continue
        for node in imports_in(source):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("layout3d."):
                missing = {alias.name for alias in node.names} - names_in(node.module or "")
                assert not missing, (script.name, node.module)
