package notebook

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

const lived = `{"cells":[
 {"cell_type":"code","id":"a","source":"x","execution_count":3,
  "metadata":{"tags":["t"],"execution":{"iopub.status.busy":"2026-01-01T00:00:00Z"},"collapsed":true,"scrolled":true,"trusted":true,
   "jupyter":{"outputs_hidden":true},"own":1},
  "outputs":[{"output_type":"stream","name":"stdout","text":"gone"}]},
 {"cell_type":"code","id":"b","source":"y","execution_count":4,"metadata":{"tags":["keep-output"],"jupyter":{"source_hidden":true,"outputs_hidden":true}},
  "outputs":[{"output_type":"execute_result","data":{"text/plain":"kept"},"metadata":{},"execution_count":4}]},
 {"cell_type":"code","id":"c","source":"z","execution_count":5,"metadata":{"tags":["solution"],"collapsed":true,"jupyter":{"source_hidden":true,"outputs_hidden":true}},
  "outputs":[]}
],"metadata":{"widgets":{"w":1},"signature":"s","language_info":{"name":"go","version":"go1.26.8"},"own":2},"nbformat":4,"nbformat_minor":5}`

const cleaned = `{
 "cells": [
  {
   "cell_type": "code",
   "execution_count": null,
   "id": "a",
   "metadata": {
    "own": 1,
    "tags": [
     "t"
    ]
   },
   "outputs": [],
   "source": [
    "x"
   ]
  },
  {
   "cell_type": "code",
   "execution_count": null,
   "id": "b",
   "metadata": {
    "jupyter": {
     "source_hidden": true
    },
    "tags": [
     "keep-output"
    ]
   },
   "outputs": [
    {
     "data": {
      "text/plain": [
       "kept"
      ]
     },
     "execution_count": null,
     "metadata": {},
     "output_type": "execute_result"
    }
   ],
   "source": [
    "y"
   ]
  },
  {
   "cell_type": "code",
   "execution_count": null,
   "id": "c",
   "metadata": {
    "jupyter": {
     "outputs_hidden": true,
     "source_hidden": true
    },
    "tags": [
     "solution"
    ]
   },
   "outputs": [],
   "source": [
    "z"
   ]
  }
 ],
 "metadata": {
  "language_info": {
   "name": "go"
  },
  "own": 2
 },
 "nbformat": 4,
 "nbformat_minor": 5
}
`

func TestClean(t *testing.T) {
	got := cleanText(t, lived, false)
	if got != cleaned {
		t.Errorf("Clean: %s", firstDifference(got, cleaned))
	}
	if again := cleanText(t, got, false); again != got {
		t.Errorf("cleaning twice differs: %s", firstDifference(again, got))
	}
	if kept := cleanText(t, lived, true); !strings.Contains(kept, "gone") || strings.Contains(kept, "2026") || strings.Contains(kept, `_count": 3`) {
		t.Errorf("with outputs kept:\n%s", kept)
	}
}

func cleanText(t *testing.T, file string, keepOutputs bool) string {
	t.Helper()
	nb, err := Read([]byte(file))
	if err != nil {
		t.Fatal(err)
	}
	nb.Clean(keepOutputs)
	b, err := nb.Encode()
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func TestReplaceFile(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "a.ipynb")
	if err := ReplaceFile(name, []byte("one")); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(name, 0o600); err != nil {
		t.Fatal(err)
	}
	link := filepath.Join(dir, "link.ipynb")
	if err := os.Symlink("a.ipynb", link); err != nil {
		t.Fatal(err)
	}
	if err := ReplaceFile(link, []byte("two")); err != nil {
		t.Fatal(err)
	}
	if b, _ := os.ReadFile(name); string(b) != "two" {
		t.Errorf("the link's target holds %q, want two", b)
	}
	if info, _ := os.Lstat(link); info.Mode()&os.ModeSymlink == 0 {
		t.Error("the link is no link any more")
	}
	if info, _ := os.Stat(name); info.Mode().Perm() != 0o600 {
		t.Errorf("permissions became %v", info.Mode().Perm())
	}
	if err := ReplaceFile(dir, []byte("x")); err == nil {
		t.Error("a folder was replaced")
	}
	if err := ReplaceFile(filepath.Join(dir, "none", "a"), []byte("x")); !os.IsNotExist(err) {
		t.Errorf("a missing folder gives %v", err)
	}
	if left, _ := filepath.Glob(filepath.Join(dir, ".*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}
