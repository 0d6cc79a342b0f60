#!/usr/bin/env bash
# Write .ci/constraints.txt: the exact versions of everything the package and its tests need,
# as resolved today in a clean environment of Debian 12's Python 3.11.
set -euo pipefail
cd "$(dirname "$0")/.."

python=${1:-/usr/bin/python3}
[ "$("$python" -c 'import sys; print("%d.%d" % sys.version_info[:2])')" = 3.11 ] || {
    echo "lock: $python is not Python 3.11, the oldest one supported; name one: .ci/lock.sh PYTHON" >&2
    exit 1
}

scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
"$python" -m venv "$scratch/venv"
pip=("$scratch/venv/bin/python" -m pip --disable-pip-version-check --quiet)
"${pip[@]}" install hatchling editables
"${pip[@]}" install --no-build-isolation --editable '.[dev]'
{
    echo "# Exact versions for Python 3.11, written by .ci/lock.sh; on other versions of Python"
    echo "# pip takes what these allow. Do not edit: run 'make lock'."
    "${pip[@]}" freeze --exclude-editable --exclude pip --exclude setuptools | LC_ALL=C sort -f
} > "$scratch/constraints.txt"
mv "$scratch/constraints.txt" .ci/constraints.txt
