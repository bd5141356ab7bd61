#!/usr/bin/python3
"""Programs of Jupyter that start the installed kernel themselves.

Needs Debian's jupyter-console and jupyter-nbconvert; what is missing is skipped.
"""
import html
import importlib.util
import json
import os
import re
import subprocess
import sys
import tempfile
import unittest

KERNEL = "rotorhum"
PATIENCE = 120  # seconds
ANSI = re.compile(r"\x1b\[[0-9;]*m")


def has(module):
    return importlib.util.find_spec(module) is not None


class Programs(unittest.TestCase):
    def setUp(self):
        scratch = tempfile.TemporaryDirectory()
        self.addCleanup(scratch.cleanup)
        self.scratch = scratch.name

    def run_module(self, module, *args, stdin=""):
        p = subprocess.run([sys.executable, "-m", module, *args], input=stdin, cwd=self.scratch,
                           stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, timeout=PATIENCE)
        self.assertEqual(p.returncode, 0, p.stdout)
        return ANSI.sub("", p.stdout)

    def test_kernelspec_list(self):
        said = self.run_module("jupyter_client.kernelspecapp", "list", "--json")
        specs = json.loads(said[said.index("{\n"):])["kernelspecs"]
        self.assertIn(KERNEL, specs)
        found = specs[KERNEL]
        spec = found["spec"]
        self.assertEqual((spec["language"], spec["interrupt_mode"]), ("go", "message"))
        self.assertTrue(os.access(spec["argv"][0], os.X_OK), spec["argv"])
        for logo in ("logo-32x32.png", "logo-64x64.png", "logo-svg.svg"):
            self.assertTrue(os.path.getsize(os.path.join(found["resource_dir"], logo)) > 0, logo)

    @unittest.skipUnless(has("jupyter_console"), "jupyter-console is not installed")
    def test_console(self):
        said = self.run_module("jupyter_console", "--kernel", KERNEL, "--simple-prompt", stdin="\n".join([
            "x := 6 * 7", "x", 'panic("no")', 'name := must(input("who? "))', "ada", "name", ""]))
        for line in ("Out[2]: 42", "Panic: no", "who? ", "Out[5]: ada"):
            self.assertIn(line, said)

    @unittest.skipUnless(has("nbconvert"), "jupyter-nbconvert is not installed")
    def test_nbconvert(self):
        cell = {"cell_type": "code", "execution_count": None, "metadata": {}, "outputs": []}
        sources = ['import ("fmt"; "rotorhum/kernel/show")', 'for i := 0; i < 3; i++ {\n\tfmt.Println("turn", i)\n}',
                   'show.HTML("<b id=\'mark\'>bold</b>")']
        notebook = {"nbformat": 4, "nbformat_minor": 5,
                    "metadata": {"kernelspec": {"name": KERNEL, "display_name": "Rotorhum (Go)", "language": "go"}},
                    "cells": [dict(cell, id="c%d" % i, source=s) for i, s in enumerate(sources)]}
        path = os.path.join(self.scratch, "lesson.ipynb")
        with open(path, "w") as f:
            json.dump(notebook, f)
        self.run_module("nbconvert", "--to", "notebook", "--execute", "--output", "done", path)
        with open(os.path.join(self.scratch, "done.ipynb")) as f:
            done = json.load(f)
        info = done["metadata"]["language_info"]
        self.assertEqual((info["name"], info["file_extension"], info["mimetype"]), ("go", ".go", "text/x-go"))
        self.run_module("nbconvert", "--execute", "--to", "html", "--output", "page", os.path.join(self.scratch, "done.ipynb"))
        with open(os.path.join(self.scratch, "page.html")) as f:
            page = f.read()
        for part in ("turn 2", "<b id='mark'>bold</b>", "hl-go"):  # the last says that it is coloured as Go
            self.assertTrue(part in page, "%s is not in the page" % part)

        self.run_module("nbconvert", "--to", "script", os.path.join(self.scratch, "done.ipynb"))
        with open(os.path.join(self.scratch, "done.go")) as f:
            self.assertIn('fmt.Println("turn", i)', html.unescape(f.read()))


if __name__ == "__main__":
    unittest.main()
