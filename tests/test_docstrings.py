"""What a room hands out is described in full: parameters, result, what it raises.

The layout is that of numpydoc, https://numpydoc.readthedocs.io/en/latest/format.html.
"""

import ast
import importlib
import inspect
from collections.abc import Iterator
from pathlib import Path

import forestcycle
from tests.conftest import ROOT

ROOMS = ("inventory", "practice", "travel", "schedule", "outlook", "publish", "cycle")


def handed_out() -> Iterator[tuple[str, object]]:
    """The functions and classes in the ``__all__`` of the package and of its rooms."""
    modules = [forestcycle, *(importlib.import_module(f"forestcycle.{room}") for room in ROOMS)]
    for module in modules:
        for name in module.__all__:
            yield f"{module.__name__}.{name}", getattr(module, name)


def missing_sections(function: object) -> list[str]:
    """Sections that the function's signature asks for and its docstring lacks."""
    text = inspect.getdoc(function) or ""
    signature = inspect.signature(function)
    takes = [name for name in signature.parameters if name not in ("self", "cls")]
    gives = signature.return_annotation not in (None, "None", inspect.Signature.empty)
    lacks_parameters = takes and "Parameters" not in text
    lacks_result = gives and "Returns" not in text and "Yields" not in text
    return ["Parameters"] * bool(lacks_parameters) + ["Returns"] * bool(lacks_result)


def test_functions_that_rooms_hand_out_are_described_in_full():
    missing = {
        name: missing_sections(thing)
        for name, thing in handed_out()
        if inspect.isfunction(thing) and missing_sections(thing)
    }
    assert missing == {}


def test_classes_that_rooms_hand_out_have_a_docstring():
    missing = [name for name, thing in handed_out() if inspect.isclass(thing) and not thing.__doc__]
    assert missing == []


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
