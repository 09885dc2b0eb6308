"""Run every notebook of docs/notebooks in a kernel, from the top folder; nothing is written back."""

import tempfile
from pathlib import Path

import nbformat
from nbclient import NotebookClient

TOP = Path(__file__).resolve().parents[1]
for path in sorted((TOP / "docs" / "notebooks").glob("*.ipynb")):
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "data_demo").symlink_to(TOP / "data_demo")
        book = nbformat.read(path, as_version=4)
        NotebookClient(book, timeout=120, resources={"metadata": {"path": folder}}).execute()
    print(path.name)
