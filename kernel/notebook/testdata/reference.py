"""Writes reference-4.5.ipynb with the reference implementation, nbformat.

Run as: python3 reference.py reference-4.5.ipynb
The stored file was written by nbformat 5.5.0 (Debian 12).
"""
import sys

import nbformat
from nbformat.v4 import (
    new_code_cell, new_markdown_cell, new_notebook, new_output)
from nbformat.notebooknode import NotebookNode

head = new_markdown_cell(
    "# Umlauts äöü, 漢字, 🎡\nLine two & <b>three</b>\n\n"
    "Tab\tquote\" backslash\\ slash/ bell\x07 del\x7f", id="head")
head["attachments"] = {
    "dot.svg": {"image/svg+xml": "<svg xmlns='http://www.w3.org/2000/svg'>\n<circle r='1'/>\n</svg>"},
    "a.png": {"image/png": "iVBORw0KGgo="},
}
ends = new_markdown_cell(
    "line ends of str.splitlines: \x0b \x0c \x1c \x1d \x1e \x85 \u2028 \u2029 \r end", id="odd-ends")
run = new_code_cell("fmt.Println(1)\nx := 2\n", id="run_1", execution_count=7,
                    metadata={"tags": ["parameters", "x"]})
run.outputs = [
    new_output("stream", name="stdout", text="1\n2\nno end"),
    new_output("stream", name="stderr", text="warn\n"),
    new_output("display_data", {
        "text/plain": "a picture\nof two lines", "text/html": "",
        "image/png": "AAAA\n", "image/svg+xml": "<svg>\n</svg>",
        "application/json": {"k": ["a\n", "b"]}, "application/vnd.x+json": ["l1\n", "l2"],
        "application/javascript": "a\nb"},
        metadata={"image/png": {"width": 3, "height": 4}}),
    new_output("execute_result", {"text/plain": "42"}, execution_count=7),
    new_output("error", ename="Panic", evalue="boom",
               traceback=["\x1b[31mPanic\x1b[0m: boom", "line\nwith end"]),
]
raw = NotebookNode(cell_type="raw", id="raw-1", metadata={"format": "text/latex"}, source="raw")
nb = new_notebook(
    metadata={
        "kernelspec": {"display_name": "Rotorhum (Go)", "language": "go", "name": "rotorhum"},
        "language_info": {"name": "go"},
        "zeta": {"b": 1, "a": [1, 2.5, -3e-07, 1e22, True, None, [], {}]},
        "authors": [{"name": "Gullwing Pier Science Club (invented)"}]},
    cells=[head, ends, new_code_cell("", id="empty"), run, raw])
nbformat.write(nb, sys.argv[1])
