# SPDX-License-Identifier: MIT
"""The notebooks run from top to bottom, say nothing on the error stream, and are stored without results."""

import json
import pathlib
import re
import sys

import nbformat
import pytest
from nbclient import NotebookClient

FOLDER = pathlib.Path(__file__).resolve().parents[2] / "bindings" / "python" / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))


def test_there_are_three():
    assert [path.stem for path in NOTEBOOKS] == ["checking_the_method", "one_machine", "shop_season"]


@pytest.fixture(scope="module")
def kernel(tmp_path_factory):
    """A kernel of the interpreter that runs the tests, whatever kernels the machine has."""
    folder = tmp_path_factory.mktemp("jupyter")
    place = folder / "kernels" / "python3"
    place.mkdir(parents=True)
    words = [sys.executable, "-m", "ipykernel_launcher", "-f", "{connection_file}"]
    (place / "kernel.json").write_text(json.dumps({"argv": words, "display_name": "Python 3", "language": "python"}))
    return str(folder)


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_it_is_stored_without_results_and_without_places_of_a_machine(path):
    notebook = nbformat.read(path, as_version=4)
    nbformat.validate(notebook)
    code = [cell for cell in notebook.cells if cell.cell_type == "code"]
    assert len(code) >= 5
    assert all(cell.outputs == [] and cell.execution_count is None for cell in code)
    assert not re.search(r"[\"'(](/|[A-Z]:\\|~)", path.read_text(encoding="utf-8").replace("\\\\n", " "))


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_it_runs_and_shows_tables_and_pictures(path, kernel, monkeypatch):
    monkeypatch.setenv("JUPYTER_PATH", kernel)
    monkeypatch.setenv("PYTHONWARNINGS", "ignore::DeprecationWarning")
    monkeypatch.delenv("MPLBACKEND", raising=False)
    notebook = nbformat.read(path, as_version=4)
    NotebookClient(
        notebook, timeout=600, kernel_name="python3", resources={"metadata": {"path": str(FOLDER)}}
    ).execute()
    outputs = [output for cell in notebook.cells if cell.cell_type == "code" for output in cell.outputs]
    assert [output["text"] for output in outputs if output.get("name") == "stderr"] == []
    shown = [output.get("data", {}) for output in outputs]
    assert sum("image/png" in data for data in shown) >= 2
    assert len(outputs) >= 5
