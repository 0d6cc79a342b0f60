#!/usr/bin/env bash
# Make this checkout ready to run: ngspice, a virtual environment in .venv, and the package
# in it with exactly the versions of .ci/constraints.txt. `make` calls it when needed.
#
# System packages are installed on Debian 12 only, where this is tested. Elsewhere the script
# says what to install and stops.
set -euo pipefail
cd "$(dirname "$0")/.."

os_release=/etc/os-release
venv=.venv
minimum="3.11"

say() { printf 'setup: %s\n' "$*" >&2; }
die() { printf 'setup: %s\n' "$@" >&2; exit 1; }

on_debian_12() {
    [ -r "$os_release" ] && command -v apt-get >/dev/null &&
        (. "$os_release" && [ "${ID:-}" = debian ] && [ "${VERSION_ID:-}" = 12 ])
}

# Debian's python3 comes without ensurepip until python3-venv is installed.
usable_python() {
    "$1" -c 'import sys, venv, ensurepip; sys.exit(sys.version_info < (3, 11))' 2>/dev/null
}

find_python() {
    local candidate
    for candidate in /usr/bin/python3 python3 python3.14 python3.13 python3.12 python3.11; do
        if usable_python "$candidate"; then
            echo "$candidate"
            return
        fi
    done
    return 1
}

missing_packages() {
    command -v ngspice >/dev/null || echo ngspice
    find_python >/dev/null || echo python3-venv
}

apt_install() {
    local as_root=()
    if [ "$(id -u)" -ne 0 ]; then
        command -v sudo >/dev/null ||
            die "not root and no sudo. As root, run:" "    apt-get update && apt-get install $*"
        as_root=(sudo)
    fi
    say "installing $* with apt-get"
    "${as_root[@]}" apt-get update -qq
    "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive \
        apt-get install -y -qq --no-install-recommends "$@" >/dev/null
}

install_system_packages() {
    local missing
    mapfile -t missing < <(missing_packages)
    [ "${#missing[@]}" -gt 0 ] || return 0
    on_debian_12 || explain_missing "${missing[@]}"
    apt_install "${missing[@]}"
}

explain_missing() {
    local package
    say "this is not Debian 12, so nothing is installed for you. Please install:"
    for package in "$@"; do
        case "$package" in
            ngspice) say "    ngspice, the program, on PATH (Debian, Ubuntu: apt install ngspice;" \
                "Fedora: dnf install ngspice; macOS: brew install ngspice)" ;;
            python3-venv) say "    Python $minimum or newer with its venv and ensurepip modules" \
                "(Debian, Ubuntu: apt install python3-venv)" ;;
        esac
    done
    die "then call make again."
}

# An environment that was moved or lost its Python is made anew; a sound one is kept.
make_environment() {
    if ! "$venv/bin/python" -m pip --version >/dev/null 2>&1; then
        local python
        python=$(find_python) || die "no Python $minimum or newer with venv was found"
        say "making $venv with $("$python" --version) ($python)"
        "$python" -m venv --clear "$venv"
    fi
}

install_package() {
    local pip=("$venv/bin/python" -m pip --disable-pip-version-check --quiet)
    say "installing surgesim and the locked versions of what it needs"
    # The build back end first and from the lock too: pip would otherwise fetch its newest.
    "${pip[@]}" install --constraint .ci/constraints.txt hatchling editables
    "${pip[@]}" install --constraint .ci/constraints.txt --no-build-isolation --editable '.[dev]'
}

install_system_packages
make_environment
install_package
touch "$venv/.ready"
say "ready"
