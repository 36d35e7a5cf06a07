#!/bin/sh
# Print the Python that the environment is made with. Where something is missing, print the one line and end with 2.
missing() {
    echo "missing: $1" >&2
    exit 2
}

command -v git >/dev/null 2>&1 || missing "git (Debian, Ubuntu: git)"

without_venv=
for name in ${PYTHON:-python3 python3.14 python3.13 python3.12 python3.11}; do
    "$name" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1 || continue
    # Debian's python3 without python3-venv has the module venv, but not the ensurepip that it needs.
    if "$name" -c 'import venv, ensurepip' >/dev/null 2>&1; then
        command -v "$name"
        exit 0
    fi
    without_venv=${without_venv:-$name}
done

[ -z "$without_venv" ] || missing "the venv module (Debian, Ubuntu: $without_venv-venv)"
missing "Python 3.11 or newer (Debian, Ubuntu: python3 and python3-venv)"
