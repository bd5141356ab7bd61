#!/bin/bash
# Builds the program rotorhum:
#
#   bash scripts/build.sh [FILE]     else build/rotorhum
#
# It is built without C, so that it runs on any Linux of its kind of processor,
# and without the tables that only debuggers read (-s). Call stacks of a crash
# stay complete. "go build ./kernel/rotorhum" works too; what it makes is half as
# large again. Without C a microphone is reached through the programs parec or
# arecord; with it, the program speaks to the sound system itself.
set -eu -o pipefail
file=$(realpath -m "${1:-$(dirname "$0")/../build/rotorhum}")
cd "$(dirname "$0")/.."
CGO_ENABLED=0 exec go build -ldflags=-s -o "$file" ./kernel/rotorhum
