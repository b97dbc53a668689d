# SPDX-License-Identifier: Apache-2.0
# Sourced by ./demo and ./test: what they need of the machine.

# Installs those of the named Debian packages that are not there.
install_missing() {
  local missing=() package as_root=()
  for package in "$@"; do
    dpkg-query -W -f '${Status}' "$package" 2>/dev/null | grep -q 'ok installed' ||
      missing+=("$package")
  done
  [ ${#missing[@]} -eq 0 ] && return 0
  [ "$(id -u)" -eq 0 ] || as_root=(sudo)
  echo "Installing ${missing[*]}"
  "${as_root[@]}" apt-get update -q &&
    "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive \
      apt-get install -q -y --no-install-recommends "${missing[@]}"
}

# How much may be compiled at once: a ring in one file takes up to 1.2 GB.
jobs_that_fit() {
  local cores rings
  cores=$(nproc)
  rings=$(awk '/^MemTotal/ {printf "%d", $2 / 1.2e6}' /proc/meminfo)
  echo $((rings < 1 ? 1 : rings < cores ? rings : cores))
}
