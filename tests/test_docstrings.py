"""Every public function is described in full: parameters, result, what it raises.

The layout is that of numpydoc, https://numpydoc.readthedocs.io/en/latest/format.html.
"""

import ast
import importlib
import inspect
import re
from collections.abc import Iterator
from pathlib import Path

import forestcycle
from tests.conftest import ROOT

ROOMS = ("inventory", "practice", "travel", "schedule", "outlook", "publish", "cycle")

NO_RESULT = ("None", "Iterator[None]")
POINTER = re.compile(r"^(As|Parameters are those of) :(func|meth):`", re.MULTILINE)


def handed_out() -> Iterator[tuple[str, object]]:
    """The functions and classes in the ``__all__`` of the package and of its rooms."""
    modules = [forestcycle, *(importlib.import_module(f"forestcycle.{room}") for room in ROOMS)]
    for module in modules:
        for name in module.__all__:
            yield f"{module.__name__}.{name}", getattr(module, name)


def test_classes_that_rooms_hand_out_have_a_docstring():
    missing = [name for name, thing in handed_out() if inspect.isclass(thing) and not thing.__doc__]
    assert missing == []


def public_functions(path: Path) -> Iterator[tuple[str, ast.FunctionDef]]:
    """The functions of a module and of its public classes, by name."""

    def within(body: list[ast.stmt], prefix: str) -> Iterator[tuple[str, ast.FunctionDef]]:
        for node in body:
            if getattr(node, "name", "_").startswith("_"):
                continue
            if isinstance(node, ast.FunctionDef):
                yield f"{prefix}{node.name}", node
            elif isinstance(node, ast.ClassDef):
                yield from within(node.body, f"{prefix}{node.name}.")

    tree = ast.parse(path.read_text(encoding="utf-8"))
    yield from within(tree.body, f"{path.relative_to(ROOT)}: ")


def decorators(function: ast.FunctionDef) -> set[str]:
    return {ast.unparse(part).split("(")[0].split(".")[-1] for part in function.decorator_list}


def sections_to_write(function: ast.FunctionDef) -> set[str]:
    """The sections that a function's signature asks for; a property is described as one value."""
    if decorators(function) & {"property", "cached_property"}:
        return set()
    given = function.args
    takes = [*given.posonlyargs, *given.args, *given.kwonlyargs, given.vararg, given.kwarg]
    takes = [one.arg for one in takes if one and one.arg not in ("self", "cls")]
    result = ast.unparse(function.returns) if function.returns else "None"
    asked = {"Parameters": bool(takes), "Returns": result not in NO_RESULT}
    return {section for section, wanted in asked.items() if wanted}


def sections_written(function: ast.FunctionDef) -> set[str]:
    """The sections that there are; a docstring that points to another has all of that one."""
    text = ast.get_docstring(function) or ""
    written = set(re.findall(r"^(\w+)\n-{5,}$", text, re.MULTILINE))
    if "Yields" in written or POINTER.search(text):
        written.add("Returns")
    if POINTER.search(text):
        written.add("Parameters")
    return written


def test_every_public_function_is_described_in_full():
    rooms = [path for path in (ROOT / "forestcycle").rglob("*.py") if "cli" not in path.parts]
    lacking = {
        name: sections_to_write(function) - sections_written(function)
        for path in rooms
        for name, function in public_functions(path)
    }
    assert {name: sections for name, sections in lacking.items() if sections} == {}


def raising_without_saying(path: Path) -> Iterator[str]:
    """Public functions of a module that raise and have no section that says so."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        if not isinstance(node, ast.FunctionDef) or node.name.startswith("_"):
            continue
        raises = any(
            isinstance(part, ast.Raise) and part.exc is not None for part in ast.walk(node)
        )
        if raises and "Raises" not in (ast.get_docstring(node) or ""):
            yield f"{path.relative_to(ROOT)}: {node.name}"


def test_public_functions_say_what_they_raise():
    rooms = [path for path in (ROOT / "forestcycle").rglob("*.py") if "cli" not in path.parts]
    assert [name for path in rooms for name in raising_without_saying(path)] == []
