"""Notebooks run from top to bottom without a warning, and are stored without outputs."""

from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

from tests.conftest import ROOT

NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))
A_MINUTE_OR_SO = 200
"""Seconds; on a busy machine. A notebook takes 10 to 30 on an idle one."""


@pytest.mark.slow
@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_runs_from_top_to_bottom(path: Path, tmp_path: Path):
    notebook = nbformat.read(path, as_version=4)
    client = NotebookClient(
        notebook,
        timeout=A_MINUTE_OR_SO,
        kernel_name="python3",
        resources={"metadata": {"path": str(tmp_path)}},
    )
    client.execute()
    outputs = [output for cell in notebook.cells for output in cell.get("outputs", ())]
    warned = [output.text for output in outputs if output.get("name") == "stderr"]
    assert warned == []
    assert any("image/png" in output.get("data", {}) for output in outputs)
    assert list(tmp_path.iterdir()) == [], "leaves files where it runs"


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_is_stored_without_outputs(path: Path):
    """Differences stay readable, and what a reader sees is what the code does now."""
    notebook = nbformat.read(path, as_version=4)
    nbformat.validate(notebook)
    cells = [cell for cell in notebook.cells if cell.cell_type == "code"]
    assert [cell.outputs for cell in cells] == [[]] * len(cells)
    assert {cell.execution_count for cell in cells} == {None}


def test_all_are_named_in_the_docs():
    page = (ROOT / "docs" / "notebooks.md").read_text(encoding="utf-8")
    assert [path.name for path in NOTEBOOKS if path.name not in page] == []
