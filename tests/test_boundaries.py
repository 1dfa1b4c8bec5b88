"""Arrows in the code point one way, and the computation touches nothing outside itself.

pages, api -> logbook -> records, advice -> metrology.  Each rule is a function from a source text
to the faults in it, so that planted bad sources can show that it catches them.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
SERVER = ROOT / "server"

PURE_STDLIB = {
    "__future__",
    "bisect",
    "collections",
    "dataclasses",
    "decimal",
    "difflib",
    "enum",
    "fractions",
    "functools",
    "itertools",
    "math",
    "operator",
    "re",
    "statistics",
    "string",
    "typing",
}
TABLES = "server.metrology.tables"  # the one place that reads packaged files
TABLES_STDLIB = PURE_STDLIB | {"csv", "importlib"}
OUTSIDE = {
    "open",
    "print",
    "input",
    "eval",
    "exec",
    "__import__",
    "now",
    "today",
    "utcnow",
    "monotonic",
    "read_text",
    "read_bytes",
    "write_text",
    "write_bytes",
}
TABLES_MAY_CALL = {"open", "read_text"}

# What each layer may import of server; a name stands for the module and all below it.
WORDING = "server.wording"  # text that can be told in another language; pure
MAY_IMPORT = {
    "metrology": {"server.metrology", WORDING},
    "advice": {"server.advice", "server.metrology", WORDING},
    "records": {"server.records", "server.settings", WORDING},
    "logbook": {
        "server.__version__",
        "server.logbook",
        "server.records",
        "server.advice",
        "server.metrology",
        "server.settings",
        WORDING,
    },
    "operate": {
        "server.__version__",
        "server.operate",
        "server.logbook",
        "server.records",
        "server.settings",
        WORDING,
    },
    "sharing": {
        "server.sharing",
        "server.logbook",
        "server.records",
        "server.settings",
        WORDING,
    },
    "api": {
        "server.__version__",
        "server.api",
        "server.logbook",
        "server.advice",
        "server.metrology",
        "server.records.tables",  # rows as types, handed through
        "server.sharing",
        "server.guard",
        "server.settings",
        WORDING,
    },
    "pages": {
        "server.__version__",
        "server.pages",
        "server.logbook",
        "server.advice",
        "server.metrology",
        "server.records.tables",
        "server.sharing",
        "server.guard",
        "server.settings",
        WORDING,
    },
}
QUERYING_LAYERS = {"records", "logbook", "sharing", "operate"}
QUERYING_FILES = {"server.demo"}  # asks whether the database is empty
SESSION_WORK = {"exec", "execute", "add", "add_all", "commit", "flush", "delete", "merge"}


def imported(tree: ast.AST, module: str, is_package: bool) -> Iterator[tuple[int, str]]:
    """(line, dotted name) of everything imported; "from a import b" gives a.b."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield node.lineno, alias.name
        if isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                parts = module.split(".")
                up = node.level - (1 if is_package else 0)
                base = ".".join([*parts[: len(parts) - up], *([base] if base else [])])
            for alias in node.names:
                yield node.lineno, f"{base}.{alias.name}"


def is_below(name: str, roots: set[str]) -> bool:
    return any(name == root or name.startswith(f"{root}.") for root in roots)


def purity_faults(source: str, module: str, is_package: bool = False) -> list[str]:
    """What a module of the computation does that only the outside may."""
    tree = ast.parse(source)
    is_tables = module == TABLES
    stdlib = TABLES_STDLIB if is_tables else PURE_STDLIB
    found = [
        f"{module}:{line} imports {name}"
        for line, name in imported(tree, module, is_package)
        if not name.startswith("server.") and name.split(".")[0] not in stdlib
    ]
    banned = OUTSIDE - TABLES_MAY_CALL if is_tables else OUTSIDE
    for node in ast.walk(tree):
        used = getattr(node, "id", None) or getattr(node, "attr", None)
        if isinstance(used, str) and used in banned:
            found.append(f"{module}:{getattr(node, 'lineno', 0)} uses {used}")
    return found


def arrow_faults(source: str, module: str, is_package: bool = False) -> list[str]:
    """Imports of server that point the wrong way."""
    layer = module.split(".")[1] if "." in module else ""
    if layer not in MAY_IMPORT:
        return []
    return [
        f"{module}:{line} imports {name}"
        for line, name in imported(ast.parse(source), module, is_package)
        if name.split(".")[0] == "server" and not is_below(name, MAY_IMPORT[layer])
    ]


def session_faults(source: str, module: str) -> list[str]:
    """Database work outside the logbook and the records."""
    layer = module.split(".")[1] if "." in module else ""
    if layer in QUERYING_LAYERS or module in QUERYING_FILES:
        return []
    found = []
    for node in ast.walk(ast.parse(source)):
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)):
            continue
        holder = node.func.value
        name = getattr(holder, "id", None) or getattr(holder, "attr", "")
        if node.func.attr in SESSION_WORK and "session" in str(name).lower():
            found.append(f"{module}:{node.lineno} calls {name}.{node.func.attr}")
    return found


def module_of(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def sources(*folders: str) -> list[Path]:
    found = [path for folder in folders for path in sorted((SERVER / folder).rglob("*.py"))]
    assert found, f"no source in {folders}"
    return found


def test_the_computation_touches_nothing_outside_itself() -> None:
    paths = [*sources("metrology", "advice"), SERVER / "wording.py"]
    assert len(paths) > 30
    faults = [
        fault
        for path in paths
        for fault in purity_faults(path.read_text(), module_of(path), path.stem == "__init__")
    ]

    assert faults == []


def test_arrows_point_one_way() -> None:
    for layer in MAY_IMPORT:
        assert sources(layer)
    faults = [
        fault
        for path in sources(*MAY_IMPORT)
        for fault in arrow_faults(path.read_text(), module_of(path), path.stem == "__init__")
    ]

    assert faults == []


def test_only_the_logbook_and_the_records_work_on_the_database() -> None:
    paths = [path for path in sorted(SERVER.rglob("*.py")) if "static" not in path.parts]
    assert len(paths) > 60
    faults = [
        fault for path in paths for fault in session_faults(path.read_text(), module_of(path))
    ]

    assert faults == []


@pytest.mark.parametrize(
    "source",
    [
        "import fastapi",
        "from sqlmodel import Session",
        "import datetime",
        "import time",
        "import os",
        "import numpy",
        "from importlib import resources",
        "import csv",
        "def f():\n    import sqlite3",
        "open('limits.csv')",
        "print('hello')",
        "stamp = clock.now()",
        "text = path.read_text()",
        "__import__('os')",
        "eval('1')",
    ],
)
def test_the_guard_of_the_computation_catches(source: str) -> None:
    assert len(purity_faults(source, "server.metrology.planted")) == 1


@pytest.mark.parametrize(
    "source",
    [
        "import math",
        "from collections.abc import Sequence",
        "from server.metrology.model import Kind",
        "total = value.exact",
    ],
)
def test_the_guard_of_the_computation_lets_pass(source: str) -> None:
    assert purity_faults(source, "server.advice.planted") == []


def test_only_the_tables_read_packaged_files() -> None:
    source = "from importlib.resources import files\nfiles('server').joinpath('a.csv').open()"

    assert purity_faults(source, TABLES) == []
    assert len(purity_faults(source, "server.metrology.wires")) == 2
    assert purity_faults("import sqlite3", TABLES) != []


@pytest.mark.parametrize(
    ("module", "source"),
    [
        ("server.metrology.planted", "from server.advice.model import Cut"),
        ("server.metrology.planted", "from server.settings import Settings"),
        ("server.metrology.threads.planted", "from ... import logbook"),
        ("server.advice.planted", "from server.logbook.setup import Setup"),
        ("server.advice.planted", "import server.records.tables"),
        ("server.records.planted", "from server.logbook import parts"),
        ("server.records.planted", "from server.metrology.model import Kind"),
        ("server.logbook.planted", "from server.api.errors import install"),
        ("server.logbook.planted", "from server.pages import words"),
        ("server.logbook.planted", "from server import app"),
        ("server.api.planted", "from server.pages.render import error_page"),
        ("server.api.planted", "from server.records.database import Database"),
        ("server.pages.planted", "from server.api.routes import router"),
        ("server.pages.planted", "def f():\n    from server.records import database"),
        ("server.sharing.planted", "from server.pages.words import shown"),
    ],
)
def test_the_guard_of_the_arrows_catches(module: str, source: str) -> None:
    assert len(arrow_faults(source, module)) == 1


@pytest.mark.parametrize(
    ("module", "source"),
    [
        ("server.pages.planted", "session.exec(select(PartRow))"),
        ("server.api.planted", "session.add(row)"),
        ("server.app", "self.session.commit()"),
        ("server.guard", "my_session.execute(text('SELECT 1'))"),
    ],
)
def test_the_guard_of_the_database_catches(module: str, source: str) -> None:
    assert len(session_faults(source, module)) == 1


def test_the_guard_of_the_database_lets_pass() -> None:
    assert session_faults("seen.add(1)", "server.pages.planted") == []
    assert session_faults("session.add(row)", "server.logbook.planted") == []
