# Shared by the scripts of tools: installs what is missing, configures, builds.
# Sourced, not run. Debian 12; as root, or through sudo.
set -euo pipefail

root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
build=${GAPFRONT_BUILD:-$root/build}

base_packages="g++ cmake ninja-build libeigen3-dev libnanoflann-dev libcli11-dev libtomlplusplus-dev
  nlohmann-json3-dev libfmt-dev libpng-dev libssl-dev libsqlite3-dev libboost-dev libpugixml-dev libqrencode-dev"
python_packages="pybind11-dev python3-dev python3-numpy python3-pytest"

# install_missing PACKAGE... : only what dpkg does not have, never anything recommended.
install_missing() {
  local missing=()
  for package in "$@"; do
    dpkg-query -W -f='${db:Status-Status}' "$package" 2>/dev/null | grep -qx installed || missing+=("$package")
  done
  [ ${#missing[@]} -eq 0 ] && return
  local as_root=()
  if [ "$(id -u)" -ne 0 ]; then
    command -v sudo >/dev/null || { echo "These Debian packages are missing, and there is neither root nor sudo to install them: ${missing[*]}" >&2; exit 1; }
    as_root=(sudo)
  fi
  echo "Installing: ${missing[*]}"
  local log
  log=$(mktemp)
  if ! { "${as_root[@]}" apt-get update -qq && "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive \
      apt-get install -y -qq --no-install-recommends "${missing[@]}"; } >"$log" 2>&1; then
    tail -20 "$log" >&2
    echo "apt-get could not install: ${missing[*]}" >&2
    exit 1
  fi
  rm -f "$log"
}

# configure_and_build [CMAKE OPTION...]
configure_and_build() {
  cmake -S "$root" -B "$build" -G Ninja -DCMAKE_BUILD_TYPE=Release -DGAPFRONT_PCH=ON "$@" >"$build.log" 2>&1 ||
    { mkdir -p "$build"; cat "$build.log" >&2; exit 1; }
  mv "$build.log" "$build/configure.log"
  cmake --build "$build"
}

# fetch_browser_driver: playwright-core, pinned, for the scripts in tests/report/browser; needs npm and node 20.
fetch_browser_driver() {
  [ "$(node -p 'process.versions.node.split(".")[0]' 2>/dev/null || echo 0)" -ge 20 ] && command -v npm >/dev/null ||
    { echo "npm and node 20 or later are needed to drive chromium" >&2; return 1; }
  (cd "$root/tests/report/browser" && npm ci --silent --no-audit --no-fund)
}
