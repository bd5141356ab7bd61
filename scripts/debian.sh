# Sourced by the scripts beside it: what they need from Debian.

# need_debian PACKAGE...
# Installs those of the packages that are missing, as root or through sudo
# without a password. Where that is not possible it prints what is missing, with
# the command that installs it, and returns 1.
need_debian() {
  local missing=() p
  if ! command -v dpkg-query >/dev/null; then
    echo "This is not a Debian system. Install what corresponds to these Debian packages:" >&2
    echo "  $*" >&2
    return 1
  fi
  for p in "$@"; do
    [ "$(dpkg-query -W -f '${db:Status-Status}' "$p" 2>/dev/null)" = installed ] || missing+=("$p")
  done
  [ ${#missing[@]} -eq 0 ] && return 0
  local as_root=()
  if [ "$(id -u)" -ne 0 ]; then
    if command -v sudo >/dev/null && sudo -n true 2>/dev/null; then
      as_root=(sudo -n)
    else
      echo "These Debian packages are missing, and only root may install them:" >&2
      echo "  ${missing[*]}" >&2
      echo "Run this, then start again:" >&2
      echo "  sudo apt-get update && sudo apt-get install --no-install-recommends ${missing[*]}" >&2
      return 1
    fi
  fi
  echo "Installing from Debian: ${missing[*]}"
  local log
  log=$(mktemp)
  if ! { "${as_root[@]}" apt-get update &&
         "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get install -y --no-install-recommends "${missing[@]}"; } >"$log" 2>&1; then
    tail -n 20 "$log" >&2
    rm -f "$log"
    echo "apt-get could not install: ${missing[*]}" >&2
    return 1
  fi
  rm -f "$log"
}

# need_node
# Sees to it that there is Node with npm: the one on PATH, else Debian's.
need_node() {
  command -v node >/dev/null && command -v npm >/dev/null || need_debian nodejs npm
}

# python_with MODULE...
# Prints a Python that can import the modules: the one on PATH, else Debian's own.
python_with() {
  local python modules
  modules=$(IFS=,; echo "$*")
  for python in python3 /usr/bin/python3; do
    if "$python" -c "import $modules" >/dev/null 2>&1; then
      command -v "$python"
      return 0
    fi
  done
  echo "No Python here can import ${modules//,/, }." >&2
  return 1
}
