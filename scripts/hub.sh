#!/bin/bash
# Starts a JupyterHub with two users who run the kernel at the same time:
#
#   bash scripts/hub.sh [-program ROTORHUM]
#
# Without -program a rotorhum is built. Needs Debian's jupyterhub, which it
# installs as root or through sudo. The hub, its users and the kernel live in a
# temporary folder and on ports of 127.0.0.1 that are free.
set -eu -o pipefail
cd "$(dirname "$0")/.."
. scripts/debian.sh

scratch=$(mktemp -d)
program=$scratch/rotorhum
trap 'rm -rf "$scratch"' EXIT

need_debian jupyterhub || exit 2
python=$(python_with jupyterhub notebook tornado) || exit 2
if [ "${1:-}" = -program ]; then
  program=$(realpath "$2")
else
  bash scripts/build.sh "$program"
fi
"$program" install -prefix "$scratch/prefix" >/dev/null
"$python" scripts/hub.py "$scratch"
