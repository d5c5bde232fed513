"""Write docs/commands.md and docs/settings.md from the program itself.

``python -m tests.tools.write_command_docs``; a test holds the two in step.
"""

import types
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Literal, Union, get_args, get_origin

import click
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from forestcycle.cli.exit_codes import MEANINGS
from forestcycle.cli.main import commands
from forestcycle.settings import CycleSettings

AROUND_COMMANDS = """## Exit codes

Scripts may rely on them.

| code | meaning |
| ---: | --- |
{codes}

Results go to standard output, progress and faults to standard error. A fault says what
is wrong, where, and the remedy, in one line; all that were found come at once. With
`FORESTCYCLE_TRACEBACK=1` in the environment a fault of forestcycle itself shows where
in the code it arose.

## Completion in the shell

The shell completes commands, options and files once it is told how, in its start-up
file:

```sh
eval "$(_FORESTCYCLE_COMPLETE=bash_source forestcycle)"              # ~/.bashrc
eval "$(_FORESTCYCLE_COMPLETE=zsh_source forestcycle)"               # ~/.zshrc
_FORESTCYCLE_COMPLETE=fish_source forestcycle | source               # ~/.config/fish/config.fish
```
"""
DOCS = Path(__file__).resolve().parents[2] / "docs"
WIDTH = 88


def command_page() -> str:
    """Help of every command, as the terminal shows it."""
    parts = ["# Commands", "", "What `forestcycle COMMAND --help` says.", ""]
    parts += ["```text", _help(commands, "forestcycle"), "```", ""]
    for name, command in sorted(commands.commands.items()):
        parts += [f"## {name}", "", "```text", _help(command, f"forestcycle {name}"), "```", ""]
    codes = "\n".join(f"| {code} | {meaning} |" for code, meaning in MEANINGS.items())
    return "\n".join([*parts, AROUND_COMMANDS.format(codes=codes)])


def _help(command: click.Command, name: str) -> str:
    context = click.Context(
        command, info_name=name, terminal_width=WIDTH, **commands.context_settings
    )
    return command.get_help(context)


def settings_page() -> str:
    """Every table and key of ``cycle.toml``."""
    parts = [
        "# Settings",
        "",
        "What `cycle.toml` may say. `forestcycle inspect FILE` proposes one; an unknown",
        "key is a fault. File names are relative to the settings file. Money is in",
        "hundredths of the currency.",
        "",
    ]
    for name, model, many in tables(CycleSettings):
        parts += [f"## `{'[[' if many else '['}{name}{']]' if many else ']'}`", ""]
        parts += [*_lines(model.__doc__), "", "| key | kind | default | meaning |"]
        parts += ["| --- | --- | --- | --- |"]
        parts += [
            f"| `{key}` | {_kind(field)} | {_default(field)} | {_meaning(field)} |"
            for key, field in model.model_fields.items()
            if _model(field.annotation) is None
        ]
        parts.append("")
    return "\n".join(parts)


def tables(model: type[BaseModel], path: str = "") -> Iterator[tuple[str, type[BaseModel], bool]]:
    """Walk all tables with keys of their own: name, model, and whether there are several."""
    if path and any(_model(field.annotation) is None for field in model.model_fields.values()):
        yield path, model, False
    for key, field in model.model_fields.items():
        inner = _model(field.annotation)
        if inner is None:
            continue
        name = f"{path}.{key}" if path else key
        if get_origin(field.annotation) is tuple:
            yield name, inner, True
        else:
            yield from tables(inner, name)


def _model(annotation: Any) -> type[BaseModel] | None:
    for kind in (annotation, *get_args(annotation)):
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            return kind
    return None


def _kind(field: FieldInfo) -> str:
    return _kind_of(field.annotation).replace("|", "\\|")


def _kind_of(annotation: Any) -> str:
    origin, inner = get_origin(annotation), get_args(annotation)
    if origin is Literal:
        return ", ".join(f"`{word}`" for word in inner)
    if origin in (Union, types.UnionType):
        return " or ".join(_kind_of(kind) for kind in inner if kind is not type(None))
    if origin is tuple:
        return f"list of {_kind_of(inner[0])}"
    if origin is dict:
        return f"table: text = {_kind_of(inner[1])}"
    if origin is not None:
        return _kind_of(inner[0])
    plain = {"str": "text", "int": "whole number", "float": "number", "bool": "true or false"}
    return plain.get(annotation.__name__, annotation.__name__)


def _default(field: FieldInfo) -> str:
    if field.is_required():
        return "required"
    value = field.get_default(call_default_factory=True)
    if value is None or value in ((), {}, ""):
        return "-"
    if isinstance(value, tuple):
        return ", ".join(f"`{part}`" for part in value)
    return f"`{value}`"


def _meaning(field: FieldInfo) -> str:
    return (field.description or "").replace("|", "\\|")


def _lines(text: str | None) -> list[str]:
    return [line.strip() for line in (text or "").strip().splitlines()]


def main() -> None:
    (DOCS / "commands.md").write_text(command_page(), encoding="utf-8")
    (DOCS / "settings.md").write_text(settings_page(), encoding="utf-8")


if __name__ == "__main__":
    main()
