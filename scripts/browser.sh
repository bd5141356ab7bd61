#!/bin/bash
# Works through notebooks in a real browser: Debian's classic front end in
# headless Chromium, as a person would with menu, keys and mouse. First
# scripts/browser.ipynb (run, complete, inspect, interrupt, restart), then every
# NOTEBOOK is run as a whole. What the front end saves must be what rotorhum run
# stores.
#
#   bash scripts/browser.sh [-keep FOLDER] [-program ROTORHUM] [NOTEBOOK]...
#
# Notebooks lie in notebooks/. Without -program a rotorhum is built. -keep leaves
# screenshots and logs in FOLDER. Needs Debian's jupyter-notebook and chromium,
# Node 18 or later with npm, from which the driver, playwright-core, comes;
# CHROMIUM names another browser program than /usr/bin/chromium. Installs what is
# missing from Debian, as root or through sudo, and registers the kernel in a
# temporary folder only.
set -eu -o pipefail
cd "$(dirname "$0")/.."
. scripts/debian.sh

scratch=$(mktemp -d)
shots=$scratch/shots program=
while [ $# -gt 1 ]; do
  case $1 in
    -keep) mkdir -p "$2"; shots=$(realpath "$2") ;;
    -program) program=$(realpath "$2") ;;
    *) break ;;
  esac
  shift 2
done
mkdir -p "$shots" "$scratch/work" "$scratch/runtime"
server=
finish() {
  if [ -n "$server" ]; then
    kill "$server" 2>/dev/null || true
    wait "$server" 2>/dev/null || true
  fi
  rm -rf "$scratch"
}
trap finish EXIT

need_debian jupyter-notebook chromium python3-nbclient || exit 2
python=$(python_with notebook nbformat nbclient) || exit 2
need_node || exit 2

if [ -z "$program" ]; then
  program=$scratch/rotorhum
  bash scripts/build.sh "$program"
fi

export XDG_DATA_HOME=$scratch/data JUPYTER_DATA_DIR=$scratch/data/jupyter JUPYTER_CONFIG_DIR=$scratch/config JUPYTER_RUNTIME_DIR=$scratch/runtime
unset JUPYTER_PATH
"$program" install >/dev/null
cp -r scripts/browser.ipynb notebooks datasets "$scratch/work/"
# the same once more, which the front end does not save over
mkdir "$scratch/plain"
cp -r scripts/browser.ipynb notebooks "$scratch/plain/"
ln -s "$scratch/work/datasets" "$scratch/plain/datasets"
driver() { npm install --prefix "$scratch/node" --no-audit --no-fund playwright-core@1.59 >"$scratch/npm.log" 2>&1; }
driver || driver || { cat "$scratch/npm.log" >&2; exit 2; }

port=$("$python" -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])')
token=$("$python" -c 'import secrets; print(secrets.token_hex(16))')
"$python" -m notebook --allow-root --no-browser --ip=127.0.0.1 --port="$port" --port-retries=0 \
  --NotebookApp.token="$token" --notebook-dir="$scratch/work" >"$shots/server.log" 2>&1 &
server=$!

NODE_PATH=$scratch/node/node_modules node scripts/browser.cjs "http://127.0.0.1:$port" "$token" "$shots" "$scratch/profile" browser.ipynb "$@"

# What the front end stored is what the program without Jupyter stores.
pairs=()
for notebook in scripts/browser.ipynb "$@"; do
  notebook=${notebook#scripts/}
  "$program" run -quiet -nohtml -dir "$scratch/run" "$scratch/plain/$notebook" >/dev/null
  pairs+=("$scratch/work/$notebook" "$scratch/run/$(basename "$notebook" .ipynb).executed.ipynb")
done
"$python" scripts/compare_nbclient.py -stored "${pairs[@]}"
