"""Runs the unit tests of a Python file and counts them.

usage: unittests.py FILE COUNTS

Writes two numbers to COUNTS: how many tests passed, and how many did not. One
that is skipped did not: what it needs was to be installed, and jupyter_kernel_test
skips what a kernel gives it no sample for. Exit code: 0 if all passed, 1 if not,
2 for a wrong command line.
"""
import os
import sys
import unittest


def main(file, counts):
    sys.path.insert(0, os.path.dirname(file))
    name = os.path.splitext(os.path.basename(file))[0]
    result = unittest.TextTestRunner(verbosity=2).run(unittest.defaultTestLoader.loadTestsFromName(name))
    bad = len({str(test) for test, _ in result.failures + result.errors + result.skipped})
    with open(counts, "w") as f:
        print(result.testsRun - bad, max(bad, int(not result.testsRun)), file=f)
    return int(bad > 0 or not result.testsRun)


if __name__ == "__main__":
    if len(sys.argv) != 3:
        print(__doc__, file=sys.stderr)
        sys.exit(2)
    sys.exit(main(*sys.argv[1:]))
