"""Runs notebooks through Jupyter's own client library and compares.

usage: compare_nbclient.py KERNEL NOTEBOOK EXECUTED [NOTEBOOK EXECUTED]...
       compare_nbclient.py -stored STORED EXECUTED [STORED EXECUTED]...

Each NOTEBOOK is executed with nbclient against the installed kernel KERNEL, in
the notebook's folder, and its outputs are compared with those of EXECUTED, the
same notebook as `rotorhum run` executed it. Prints a line per notebook and, for
every cell that differs, both outputs. With -stored nothing is executed: STORED is the
notebook as another front end executed and saved it. Exit code: 0 all agree, 1
some differ.
"""
import copy
import difflib
import json
import os
import re
import sys

import nbformat
from nbclient import NotebookClient
from nbclient.exceptions import CellExecutionError


def terminal(text):
    """What a terminal leaves of text with carriage returns and backspaces.

    Front ends store it so; nbclient stores the text as it came.
    """
    lines = []
    for line in text.replace("\r\n", "\n").split("\n"):
        shown, at = [], 0
        for c in line:
            if c == "\r":
                at = 0
            elif c == "\b":
                at = max(at - 1, 0)
            else:
                shown[at:at + 1] = [c]
                at += 1
        lines.append("".join(shown))
    return "\n".join(lines)


def comparable(cell):
    """The cell's outputs with what depends on timing removed.

    nbclient keeps the pieces in which a stream arrived; `rotorhum run` joins
    them. Where a person watches, slow work shows a bar, which leaves a display
    with nothing in it when it is done.
    """
    outputs = []
    for o in copy.deepcopy(cell.get("outputs", [])):
        if o.output_type == "display_data" and o.data == {"text/plain": ""}:
            continue
        last = outputs[-1] if outputs else None
        if (o.output_type == "stream" and last and last.output_type == "stream"
                and last.name == o.name):
            last.text += o.text
        else:
            outputs.append(o)
    for o in outputs:
        if o.output_type == "stream":
            o.text = terminal(o.text)
        o.pop("transient", None)
    return {"execution_count": cell.get("execution_count"), "outputs": outputs}


def execute(name, kernel):
    nb = nbformat.read(name, as_version=4)
    for cell in nb.cells:
        tags = cell.metadata.get("tags", [])
        if "raises-error" in tags:  # nbclient knows this one
            cell.metadata["tags"] = tags + ["raises-exception"]
    limit = nb.metadata.get("rotorhum", {}).get("timeout_s", 600)
    client = NotebookClient(
        nb, kernel_name=kernel, timeout=limit, record_timing=False,
        resources={"metadata": {"path": os.path.dirname(os.path.abspath(name))}})
    try:
        client.execute()
    except CellExecutionError as e:
        return nb, re.sub("\x1b\\[[0-9;]*m", "", str(e)).strip().splitlines()[-1]
    return nb, None


def compare(name, kernel, executed):
    if kernel == "-stored":
        theirs, failure = nbformat.read(name, as_version=4), None
    else:
        theirs, failure = execute(name, kernel)
    ours = nbformat.read(executed, as_version=4)
    if failure:
        print(f"{name}: nbclient stopped: {failure}")
    a = [c for c in theirs.cells if c.cell_type == "code"]
    b = [c for c in ours.cells if c.cell_type == "code"]
    if len(a) != len(b):
        print(f"{name}: {len(a)} code cells, but {len(b)} in {executed}")
        return False
    same = failure is None
    for i, (x, y) in enumerate(zip(a, b), 1):
        left, right = (json.dumps(comparable(c), indent=1, sort_keys=True, ensure_ascii=False).split("\n")
                       for c in (x, y))
        if left == right:
            continue
        same = False
        print(f"{name}: code cell {i} ({x.get('id')}) differs:")
        for line in list(difflib.unified_diff(left, right, "Jupyter", "rotorhum run", n=2, lineterm=""))[:40]:
            print("    " + (line if len(line) < 200 else line[:200] + "…"))
    if same:
        print(f"{name}: {len(a)} code cells agree")
    return same


def main(kernel, *names):
    if not names or len(names) % 2:
        sys.exit(__doc__)
    results = [compare(names[i], kernel, names[i + 1]) for i in range(0, len(names), 2)]
    return 0 if all(results) else 1


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
