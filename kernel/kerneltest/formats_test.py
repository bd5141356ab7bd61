#!/usr/bin/python3
"""Notebooks of all formats from 4.0 to 4.5, cleaned and run, as the reference sees them.

Needs Debian's python3-nbformat, the reference implementation of the format: what
the program writes must be valid by its JSON schema, and reading and writing it there
must change nothing. ROTORHUM names the program; without it, it is built with Go.
"""
import copy
import json
import os
import subprocess
import tempfile
import unittest

import nbformat
from nbformat.validator import validate

HERE = os.path.dirname(os.path.abspath(__file__))


def program(scratch):
    given = os.environ.get("ROTORHUM")
    if given:
        return os.path.abspath(given)
    built = os.path.join(scratch, "rotorhum")
    subprocess.run(["go", "build", "-o", built, "rotorhum/kernel/rotorhum"], cwd=HERE, check=True)
    return built


def example(minor):
    """A notebook with all that format 4.minor has, valid by its schema."""
    run = {"iopub.execute_input": "2026-01-01T00:00:00Z"}
    cells = [
        {"cell_type": "markdown", "metadata": {"own": {"deep": [1, 2.50, None]}}, "source": ["# Title\n", "text"]},
        {"cell_type": "code", "metadata": {"collapsed": True, "scrolled": "auto", "tags": ["a", "b"], "own": 1},
         "execution_count": 7, "source": "x := 6 * 7\nx", "outputs": [
             {"output_type": "stream", "name": "stdout", "text": ["a\n", "b\n"]},
             {"output_type": "stream", "name": "stdout", "text": "c\n"},
             {"output_type": "display_data", "metadata": {}, "data": {
                 "text/plain": "words", "image/svg+xml": ["<svg xmlns='http://www.w3.org/2000/svg'>\n", "</svg>"]}},
             {"output_type": "execute_result", "execution_count": 7, "metadata": {}, "data": {"text/plain": ["4", "2"]}},
             {"output_type": "error", "ename": "E", "evalue": "v", "traceback": ["one", "two"]}]},
        {"cell_type": "raw", "metadata": {"format": "text/plain"}, "source": "raw"},
        {"cell_type": "code", "metadata": {}, "execution_count": None, "source": "", "outputs": []},
    ]
    if minor >= 1:
        cells[0]["attachments"] = {"a.png": {"image/png": "AAAA"}}
        cells[0]["source"].append("\n![a](attachment:a.png)")
    if minor >= 2:
        cells[1]["outputs"][2]["data"]["application/json"] = {"k": [1, "two", {"three": 3}]}
        cells[1]["outputs"][2]["data"]["application/vnd.own+json"] = ["kept", "apart"]
    if minor >= 3:
        cells[1]["metadata"]["jupyter"] = {"outputs_hidden": True, "source_hidden": True}
    if minor >= 4:
        cells[1]["metadata"]["execution"] = run
    if minor >= 5:
        for i, cell in enumerate(cells):
            cell["id"] = "cell-%d" % i
    return {"nbformat": 4, "nbformat_minor": minor, "cells": cells, "metadata": {
        "kernelspec": {"name": "rotorhum", "display_name": "Rotorhum (Go)", "language": "go"},
        "language_info": {"name": "go", "version": "1.26"}, "title": "t", "own": {"kept": [True]}}}


class Formats(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.scratch = tempfile.TemporaryDirectory()
        cls.addClassCleanup(cls.scratch.cleanup)
        cls.program = program(cls.scratch.name)

    def call(self, *args, code=0):
        p = subprocess.run([self.program, *args], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, timeout=120)
        self.assertEqual(p.returncode, code, p.stdout)
        return p.stdout

    def write(self, name, notebook):
        path = os.path.join(self.scratch.name, name)
        with open(path, "w", encoding="utf-8") as f:
            json.dump(notebook, f)
        return path

    def read(self, path):
        with open(path, encoding="utf-8") as f:
            text = f.read()
        notebook = nbformat.reads(text, as_version=nbformat.NO_CONVERT)
        validate(notebook)
        self.assertEqual((notebook.nbformat, notebook.nbformat_minor), (4, 5))
        self.assertEqual(nbformat.writes(notebook) + "\n", text, "the reference writes another text")
        return json.loads(text)

    def test_clean(self):
        first = None
        for minor in range(6):
            for keep in (False, True):
                with self.subTest(format="4.%d" % minor, outputs=keep):
                    before = example(minor)
                    validate(nbformat.from_dict(copy.deepcopy(before)))
                    path = self.write("clean.ipynb", before)
                    flags = ["-outputs"] if keep else []
                    self.call("clean", "-check", *flags, path, code=1)
                    self.call("clean", *flags, path)
                    after = self.read(path)
                    self.assertEqual(self.call("clean", "-check", *flags, path), "")
                    ids = [c["id"] for c in after["cells"]]
                    self.assertEqual(len(set(ids)), 4)
                    if minor >= 5:
                        self.assertEqual(ids, ["cell-%d" % i for i in range(4)])
                    else:  # the same in all older formats, and at every call
                        self.assertTrue(first is None or ids[1:] == first[1:], ids)
                        first = ids
                    self.assertEqual(after["metadata"]["own"], before["metadata"]["own"])
                    self.assertEqual(after["cells"][0]["metadata"], before["cells"][0]["metadata"])
                    self.assertEqual(after["cells"][0].get("attachments"), before["cells"][0].get("attachments"))
                    self.assertEqual(after["cells"][2]["metadata"], before["cells"][2]["metadata"])
                    code = after["cells"][1]
                    self.assertIsNone(code["execution_count"])
                    self.assertEqual(code["metadata"].get("tags"), ["a", "b"])
                    self.assertNotIn("execution", code["metadata"])
                    self.assertEqual(len(code["outputs"]), 4 if keep else 0)
                    if keep and minor >= 2:
                        data = code["outputs"][1]["data"]
                        old = before["cells"][1]["outputs"][2]["data"]
                        for mime in ("application/json", "application/vnd.own+json"):
                            self.assertEqual(data[mime], old[mime])

    def test_run_and_verify(self):
        for minor in range(6):
            with self.subTest(format="4.%d" % minor):
                path = self.write("run.ipynb", example(minor))
                out = os.path.join(self.scratch.name, "out-%d.ipynb" % minor)
                self.call("run", "-quiet", "-nohtml", "-o", out, path)
                notebook = self.read(out)
                self.assertEqual(notebook["cells"][1]["outputs"][0]["data"]["text/plain"], ["42"])
                self.assertIn("program", notebook["metadata"]["rotorhum"]["provenance"])
                self.call("verify", out)
                self.call("verify", path, code=4)  # its stored outputs are invented


if __name__ == "__main__":
    unittest.main()
