#!/bin/bash
# Opens the lessons in a Jupyter front end with the Rotorhum kernel:
#
#   bash scripts/jupyter.sh [FLAG OF THE FRONT END]...
#   bash scripts/jupyter.sh -n       do everything but open the front end
#
# It builds the kernel (into build/), registers it for you, and starts the
# jupyter-lab or jupyter-notebook that is on your PATH. Where there is none it
# makes one: in build/conda from environment.yml where mamba or conda is there,
# else Debian's package jupyter-notebook, as root or through sudo.
set -eu -o pipefail
cd "$(dirname "$0")/.."
. scripts/debian.sh

dry=no
if [ "${1:-}" = -n ]; then
  dry=yes
  shift
fi
say() { printf '%s\n' "-- $*"; }

command -v go >/dev/null || { echo "Go is missing: see https://go.dev/doc/install" >&2; exit 2; }

# front_end prints the command that starts a front end, one word a line.
front_end() {
  local name
  for name in jupyter-lab jupyter-notebook; do
    if command -v "$name"; then
      return 0
    fi
  done
  return 1
}

if ! front_end >/dev/null; then
  for tool in mamba conda micromamba; do
    command -v "$tool" >/dev/null || continue
    say "no Jupyter on PATH; making one in build/conda with $tool from environment.yml"
    [ -x build/conda/bin/jupyter-lab ] || "$tool" env create -y -p "$PWD/build/conda" -f environment.yml
    PATH=$PWD/build/conda/bin:$PATH
    break
  done
fi
if ! front_end >/dev/null; then
  say "no Jupyter on PATH; installing Debian's package jupyter-notebook"
  need_debian jupyter-notebook || exit 2
fi
start=$(front_end)
say "front end: $start"

say "building the kernel: build/rotorhum"
bash scripts/build.sh
say "registering it"
build/rotorhum install

# Jupyter refuses to run as root unless told.
flags=()
[ "$(id -u)" -ne 0 ] || flags+=(--allow-root)
cd notebooks
say "opening notebooks/: $start ${flags[*]} $*"
[ $dry = no ] || exit 0
exec "$start" "${flags[@]}" "$@"
