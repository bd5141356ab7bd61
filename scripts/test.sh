#!/bin/bash
# Runs everything that continuous integration runs, from a clean clone:
#
#   bash scripts/test.sh               everything
#   bash scripts/test.sh -nobrowser    all but the browser and the hub
#   bash scripts/test.sh -go           only what needs Go alone
#
# It installs the Debian packages that the tests need, as root or through sudo;
# where it may not, it lists them and stops. The kernel is registered in a
# temporary folder: your own Jupyter is not touched. The last line counts what
# passed and failed; the exit code is 0 only if nothing failed.
set -u -o pipefail
cd "$(dirname "$0")/.." || exit 2
. scripts/debian.sh

go_only=no browser=yes
for flag in "$@"; do
  case $flag in
    -go) go_only=yes browser=no ;;
    -nobrowser) browser=no ;;
    *) sed -n '2,12s/^# \{0,1\}//p' "$0"; exit 2 ;;
  esac
done

passed=0 failed=0 begun=$SECONDS
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT

heading() { printf '\n== %s\n' "$*"; }

# check WHAT COMMAND...: one check; its output is shown when it fails.
check() {
  local what=$1 log=$scratch/check.log
  shift
  if "$@" >"$log" 2>&1; then
    passed=$((passed + 1))
    printf 'ok    %s\n' "$what"
  else
    failed=$((failed + 1))
    printf 'FAIL  %s\n' "$what"
    sed 's/^/      /' "$log" | tail -n 60
  fi
}

# go_tests WHAT FLAG... PACKAGE...: runs Go tests and counts each of them.
go_tests() {
  local what=$1 good=0 bad=1
  shift
  rm -f "$scratch/counts"
  go test -json "$@" 2>&1 | "$scratch/tally" "$scratch/counts"
  [ -f "$scratch/counts" ] && read -r good bad <"$scratch/counts"
  passed=$((passed + good))
  failed=$((failed + bad))
  printf '%-5s %s: %d passed, %d failed\n' "$([ "$bad" -eq 0 ] && echo ok || echo FAIL)" "$what" "$good" "$bad"
}

# py_tests WHAT FILE: runs the Python tests of a file and counts each of them. One
# that is left out counts as failed: what it needs was to be installed.
py_tests() {
  local what=$1 log=$scratch/check.log good=0 bad=1
  "$python" scripts/unittests.py "$2" "$scratch/counts" >"$log" 2>&1
  [ $? -le 1 ] && read -r good bad <"$scratch/counts"
  passed=$((passed + good))
  failed=$((failed + bad))
  [ "$bad" -eq 0 ] || sed 's/^/      /' "$log" | tail -n 100
  printf '%-5s %s: %d passed, %d failed\n' "$([ "$bad" -eq 0 ] && echo ok || echo FAIL)" "$what" "$good" "$bad"
}

# same_texts WHAT NAME FLAG...: the program built otherwise must print the same.
same_texts() {
  local what=$1 name=$2 notebook base others=()
  shift 2
  check "build with $what" go build "$@" -o "$scratch/$name" ./kernel/rotorhum
  for notebook in "${notebooks[@]}"; do
    base=$(basename "$notebook" .ipynb).executed.ipynb
    "$scratch/$name" run -quiet -nohtml -dir "$scratch/run-$name" "$notebook" >/dev/null 2>&1
    others+=("$scratch/run/$base" "$scratch/run-$name/$base")
  done
  check "$what gives the same texts" go run ./scripts/sametext "${others[@]}"
}

# listened PROGRAM: trials that a sound server plays and the program listens to.
listened() {
  local what="trials through a sound server" log=$scratch/check.log
  "$scratch/nullsink" -trials 3 -program "$1" >"$log" 2>&1
  case $? in
    0) passed=$((passed + 1)) ; printf 'ok    %s\n' "$what" ; sed 's/^/      /' "$log" ;;
    3) printf 'skip  %s: %s\n' "$what" "$(tail -n 1 "$log")" ;;
    *) failed=$((failed + 1)) ; printf 'FAIL  %s\n' "$what" ; sed 's/^/      /' "$log" | tail -n 60 ;;
  esac
}

unformatted() {
  local list
  list=$(gofmt -s -l kernel tacho scripts) || return 1
  [ -z "$list" ] || { echo "gofmt -s would change:"; echo "$list"; return 1; }
}

# small FILE BYTES: the file has fewer bytes than that.
small() {
  local size
  size=$(wc -c <"$1") || return 1
  [ "$size" -lt "$2" ] || { echo "$1 has $size bytes, not less than $2"; return 1; }
}

# in_sync FOLDER COMMAND...: COMMAND must write into FOLDER what stands there.
in_sync() {
  local folder=$1
  shift
  cp -r "$folder" "$scratch/before" || return 1
  "$@" || return 1
  diff -r "$scratch/before" "$folder" >"$scratch/diff"
  local code=$?
  rm -rf "$scratch/before"
  [ $code -eq 0 ] || { echo "what $* makes was not committed:"; head -n 20 "$scratch/diff"; return 1; }
}

command -v go >/dev/null || { echo "Go is missing: see https://go.dev/doc/install" >&2; exit 2; }
if [ $go_only = no ]; then
  packages=(gcc libc6-dev python3-nbclient python3-nbformat python3-jupyter-client python3-jupyter-kernel-test
    jupyter-console jupyter-nbconvert
    # what the tests compare with: another decoder, other transforms, odd files, instruments
    ffmpeg sox python3-scipy libpython3.11-testsuite freepats timgm6mb-soundfont sonic-pi-samples
    # a sound server with a device that leads nowhere, to listen to
    pulseaudio pulseaudio-utils)
  [ $browser = no ] || packages+=(jupyter-notebook chromium jupyterhub)
  need_debian "${packages[@]}" || exit 2
  [ $browser = no ] || need_node || exit 2
  python=$(python_with nbclient nbformat jupyter_client jupyter_kernel_test jupyter_console nbconvert) || exit 2
fi

heading "Form"
check "gofmt -s" unformatted
check "go vet" go vet ./...
check "build" bash scripts/build.sh "$scratch/rotorhum"
check "the program has less than 60 MB" small "$scratch/rotorhum" 60000000
check "build for arm64" env GOARCH=arm64 CGO_ENABLED=0 go build ./...
if [ -d kernel/bindings ]; then
  check "generated tables are in sync" in_sync kernel/bindings go generate ./kernel/bindings/...
fi

heading "Go tests"
check "build of the counter" go build -o "$scratch/tally" ./scripts/tally
race=(./kernel/wire/... ./kernel/session/... ./kernel/interp/... ./kernel/notebook/... ./kernel/kerneltest/...)
raced=$(go list "${race[@]}")
mapfile -t rest < <(go list ./... | grep -vxF "$raced")
go_tests "with the race detector" -race -timeout 10m "${race[@]}"
go_tests "all others" -timeout 10m "${rest[@]}"
go_tests "transforms in plain Go" -tags purego ./tacho/internal/transform

shopt -s nullglob
notebooks=(notebooks/*.ipynb)
heading "Notebooks without Jupyter"
pairs=()
check "there are notebooks" test ${#notebooks[@]} -gt 0
for notebook in "${notebooks[@]}"; do
  check "$notebook is clean" "$scratch/rotorhum" clean -check "$notebook"
  check "$notebook runs" "$scratch/rotorhum" run -quiet -dir "$scratch/run" "$notebook"
  pairs+=("$notebook" "$scratch/run/$(basename "$notebook" .ipynb).executed.ipynb")
done
check "two fresh runs of every notebook are the same" "$scratch/rotorhum" verify -quiet "${notebooks[@]}"
same_texts "plain Go instead of vector code" plain -tags purego
if grep -qw fma /proc/cpuinfo && grep -qw bmi2 /proc/cpuinfo && [ "$(go env GOARCH)" = amd64 ]; then
  GOAMD64=v3 same_texts "fused multiply-add" fused
fi

if [ $go_only = no ]; then
  heading "Listening"
  check "build of the null sink" go build -o "$scratch/nullsink" ./scripts/nullsink
  listened "$scratch/rotorhum"
fi

if [ $go_only = no ]; then
  # Nothing below touches the kernels, settings or history of who runs this.
  export JUPYTER_DATA_DIR=$scratch/jupyter JUPYTER_CONFIG_DIR=$scratch/config JUPYTER_RUNTIME_DIR=$scratch/runtime
  export XDG_DATA_HOME=$scratch/data
  unset JUPYTER_PATH
  heading "The kernel in Jupyter"
  check "the kernel installs" "$scratch/rotorhum" install
  for ((i = 0; i < ${#pairs[@]}; i += 2)); do
    check "${pairs[i]} through nbclient gives the same" "$python" scripts/compare_nbclient.py rotorhum "${pairs[@]:i:2}"
  done
  py_tests "jupyter_kernel_test and the life of a kernel" kernel/kerneltest/blackbox_test.py
  py_tests "jupyter console and nbconvert" kernel/kerneltest/programs_test.py
  export ROTORHUM=$scratch/rotorhum
  py_tests "formats 4.0 to 4.5 as nbformat sees them" kernel/kerneltest/formats_test.py
fi
if [ $browser = yes ]; then
  heading "Front ends"
  check "scripts/jupyter.sh, up to opening the front end" bash scripts/jupyter.sh -n
  check "the notebooks in a browser" bash scripts/browser.sh -program "$scratch/rotorhum" "${notebooks[@]}"
  check "two people at one JupyterHub" bash scripts/hub.sh -program "$scratch/rotorhum"
fi

printf '\n%d min %d s\n' $(((SECONDS - begun) / 60)) $(((SECONDS - begun) % 60))
printf '%d passed, %d failed\n' $passed $failed
[ $failed -eq 0 ]
