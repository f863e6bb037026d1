"""What DEVELOPERS.md says about the code is so."""

from __future__ import annotations

import ast
import subprocess
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
MODULES = sorted((ROOT / "incircuit").rglob("*.py"))
LONGEST_MODULE = 400
LONGEST_FUNCTION = 75

Function = ast.FunctionDef | ast.AsyncFunctionDef
by_module = pytest.mark.parametrize("module", MODULES, ids=[str(m.relative_to(ROOT)) for m in MODULES])


def definitions(module: Path) -> Iterator[ast.ClassDef | Function]:
    """Every class and function of a module, nested ones included."""
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ClassDef | Function):
            yield node


def public(body: list[ast.stmt]) -> Iterator[ast.ClassDef | Function]:
    """Public classes and functions of a body, and the public methods of those classes."""
    for node in body:
        if isinstance(node, ast.ClassDef | Function) and not node.name.startswith("_"):
            yield node
            if isinstance(node, ast.ClassDef):
                yield from public(node.body)


@by_module
def test_modules_and_functions_are_short(module: Path) -> None:
    assert len(module.read_text(encoding="utf-8").splitlines()) <= LONGEST_MODULE
    for node in definitions(module):
        if isinstance(node, Function):
            assert (node.end_lineno or 0) - node.lineno < LONGEST_FUNCTION, node.name


@by_module
def test_public_names_are_documented(module: Path) -> None:
    tree = ast.parse(module.read_text(encoding="utf-8"))
    assert ast.get_docstring(tree), "the module has no docstring"
    missing = [node.name for node in public(tree.body) if not ast.get_docstring(node)]
    assert missing == []


@by_module
def test_errors_are_caught_by_name(module: Path) -> None:
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        assert not (isinstance(node, ast.ExceptHandler) and node.type is None), f"line {node.lineno}"


def test_developers_md_has_every_layer_and_no_other() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    layers = {
        name.strip().replace(".", "/")
        for line in project["tool"]["importlinter"]["contracts"][0]["layers"]
        for name in line.split("|")
    } - {"incircuit/__main__"}
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert {line.split("`")[1] for line in text.splitlines() if line.startswith("| `incircuit/")} == layers
    inside = {path for path in (ROOT / "incircuit").iterdir() if path.name[0] not in "_."}
    modules = {path for path in inside if path.suffix == ".py" or (path / "__init__.py").exists()}
    assert {f"incircuit/{path.stem}" for path in modules} == layers


def test_the_top_level_holds_what_it_should() -> None:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    top = {line.split("/")[0] for line in listed.splitlines()}
    documents = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml"}
    folders = {"incircuit", "boards", "tests", "examples"}
    assert {name for name in top if not name.startswith(".")} == documents | folders
