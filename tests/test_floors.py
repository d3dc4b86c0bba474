"""The house holds: imports point down only, every third-party package has one home, the library is pure.

The floors are those of DEVELOPERS.md. Imports are read from the source, wherever they stand in a module.
"""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]

FLOORS = {
    "units": 0, "errors": 0, "progress": 0,
    "domain": 1,
    "floor": 2, "checker": 2,
    "seams": 3, "sundries": 3, "site": 3,
    "model": 4, "search": 4, "bounds": 4,
    "files": 5, "drawing": 5, "report": 5, "shop": 5,
    "rule_costs": 5,
    "pipeline": 6,
    "estimating": 7,
}  # fmt: skip
"""Package or module of nesting/ -> its floor."""

BESIDE = {("search", "model"), ("bounds", "model"), ("report", "drawing")}
"""(from, to) on one floor that may be imported."""

CHECKER_MAY = {"domain", "units", "errors"}
"""All that the checker shares with the planner."""

HOMES = {
    "shapely": ("nesting/floor/",),
    "numpy": ("nesting/floor/", "nesting/model/", "nesting/search/", "nesting/bounds/"),
    "numba": ("nesting/search/", "nesting/bounds/"),
    "svgwrite": ("nesting/drawing/svg.py",),
    "ortools": ("nesting/model/", "nesting/bounds/", "nesting/sundries/", "benchmarks/plain_model.py"),
    "ruamel": ("nesting/files/",),
    "ezdxf": ("nesting/files/",),
    "jinja2": ("nesting/report/engine.py",),
    "markupsafe": ("nesting/report/engine.py",),
    "pydantic": ("nesting/files/",),
    "pydantic_core": ("nesting/files/",),
    "sqlalchemy": ("nesting/shop/",),
    "alembic": ("nesting/shop/",),
    "psycopg": ("nesting/shop/",),
    "click": ("cli/", "benchmarks/"),
    "distributed": ("nesting/search/cluster.py",),
    "rectpack": ("benchmarks/packers.py",),
    "packingsolver": ("benchmarks/packers.py",),
}
"""Third-party package -> where it may be imported."""

SEEDED = ("Random", "random.Generator", "random.PCG64")
"""Generators that somebody holds; that they get a seed is looked at as well."""

CLOCKS = {"time", "datetime"}
OUTSIDE = {"os", "sys", "subprocess", "socket", "tempfile", "shutil", "logging"}
"""What reaches beyond a function's arguments; the disk is the affair of files/ alone."""
DISK = ("nesting/files/", "nesting/shop/")
LAYERS = ("nesting", "cli", "benchmarks")


def _modules(*tops: str) -> list[Path]:
    return sorted(path for top in tops for path in (ROOT / top).rglob("*.py"))


def _name(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def imports(tree: ast.Module) -> Iterator[str]:
    """Yield the dotted names of all modules imported anywhere in a module; relative ones are refused."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"line {node.lineno}: a relative import"
            yield node.module or ""
            if node.module in LAYERS:  # from nesting import units
                yield from (f"{node.module}.{alias.name}" for alias in node.names)


def part_of(dotted: str) -> str:
    """Return the part of nesting/ that a dotted name lies in, "" for nesting itself or anything else."""
    names = dotted.split(".")
    return names[1] if names[0] == "nesting" and len(names) > 1 and names[1] in FLOORS else ""


def upward(part: str, dotted: str) -> bool:
    """Tell whether a module of `part` must not import `dotted`."""
    if dotted.split(".")[0] in ("cli", "benchmarks", "tests"):
        return True
    other = part_of(dotted)
    if not other or other == part:
        return False
    if part == "checker":
        return other not in CHECKER_MAY
    if part == "files" and other == "checker":
        return True
    if FLOORS[other] == FLOORS[part]:
        return FLOORS[part] > 0 and (part, other) not in BESIDE
    return FLOORS[other] > FLOORS[part]


def impure(tree: ast.Module) -> Iterator[str]:
    """Yield what a module of the library does that is not a function of its arguments."""
    for dotted in imports(tree):
        if dotted.split(".")[0] in CLOCKS:
            yield f"reads a clock: {dotted}"
        if dotted.split(".")[0] in OUTSIDE:
            yield f"reaches outside: {dotted}"
    for node in ast.walk(tree):
        if isinstance(node, ast.Global):
            yield f"line {node.lineno}: changes module state"
        if not isinstance(node, ast.Call):
            continue
        called = ast.unparse(node.func)
        if called in ("print", "input", "open", "breakpoint"):
            yield f"line {node.lineno}: {called}()"
        if called.endswith(SEEDED) and not (node.args or node.keywords):
            yield f"line {node.lineno}: a random generator without a seed"
        if called.startswith(("random.", "np.random.", "numpy.random.")) and not called.endswith(SEEDED):
            yield f"line {node.lineno}: global random state"


@pytest.mark.parametrize("path", _modules("nesting"), ids=_name)
def test_imports_point_down(path: Path) -> None:
    part = part_of(".".join(path.relative_to(ROOT).with_suffix("").parts))
    found = list(imports(ast.parse(path.read_text(encoding="utf-8"))))
    if not part:
        assert path == ROOT / "nesting" / "__init__.py", "a module that stands on no floor"
        assert not [dotted for dotted in found if part_of(dotted)], "nesting itself imports nothing of its own"
        return
    assert [dotted for dotted in found if upward(part, dotted)] == []


@pytest.mark.parametrize("path", _modules("cli"), ids=_name)
def test_the_command_line_knows_nothing_of_benchmarks_and_tests(path: Path) -> None:
    found = imports(ast.parse(path.read_text(encoding="utf-8")))
    assert [dotted for dotted in found if dotted.split(".")[0] in ("benchmarks", "tests")] == []


@pytest.mark.parametrize("path", _modules(*LAYERS), ids=_name)
def test_every_third_party_package_has_one_home(path: Path) -> None:
    for dotted in imports(ast.parse(path.read_text(encoding="utf-8"))):
        package = dotted.split(".")[0]
        if package in sys.stdlib_module_names or package in LAYERS:
            continue
        assert package in HOMES, f"{package} has no home: name one in HOMES and in pyproject.toml"
        assert _name(path).startswith(HOMES[package]), f"{package} is imported outside its home"


@pytest.mark.parametrize("path", _modules("nesting"), ids=_name)
def test_the_library_is_made_of_functions_of_their_arguments(path: Path) -> None:
    found = list(impure(ast.parse(path.read_text(encoding="utf-8"))))
    if _name(path).startswith(DISK):
        found = [what for what in found if not what.startswith("reaches outside: os")]
    assert found == []


def test_all_floors_are_found() -> None:
    parts = {part_of(".".join(path.relative_to(ROOT).with_suffix("").parts)) for path in _modules("nesting")}
    built = {
        "units",
        "domain",
        "floor",
        "checker",
        "seams",
        "sundries",
        "site",
        "model",
        "search",
        "bounds",
        "files",
        "drawing",
    }
    assert built | {"report", "shop", "pipeline", "estimating"} <= parts


@pytest.mark.parametrize(
    ("part", "text"),
    [
        ("domain", "from nesting.files.reading import read_text"),
        ("checker", "from nesting.floor import parts"),
        ("checker", "import nesting.seams.laid"),
        ("files", "from nesting import checker"),
        ("seams", "def f():\n    from nesting.model.instance import Piece"),
        ("files", "from nesting.drawing.scene import Scene"),
        ("pipeline", "import cli.main"),
        ("model", "from nesting.search.engine import solve"),
    ],
)
def test_an_import_that_points_up_is_caught(part: str, text: str) -> None:
    assert any(upward(part, dotted) for dotted in imports(ast.parse(text)))


@pytest.mark.parametrize(
    "text",
    [
        "print(1)",
        "import time",
        "from datetime import datetime",
        "import random\nrandom.Random()",
        "import numpy as np\nnp.random.Generator(np.random.PCG64())",
        "import random\nrandom.shuffle([])",
        "import os",
        "def f():\n    global x",
        "open('x')",
    ],
)
def test_what_is_not_pure_is_caught(text: str) -> None:
    assert list(impure(ast.parse(text)))


def test_a_seeded_generator_and_a_downward_import_pass() -> None:
    assert not list(impure(ast.parse("import random\nrandom.Random(7)")))
    assert not list(impure(ast.parse("import numpy as np\nnp.random.Generator(np.random.PCG64(7))")))
    assert not any(upward("search", dotted) for dotted in imports(ast.parse("from nesting.model import instance")))
