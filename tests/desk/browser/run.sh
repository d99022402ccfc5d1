#!/usr/bin/env bash
# The desk's page in a real browser: Debian's Chromium, driven by playwright-core, which npm fetches
# into the build folder. Status 77, with the reason, where one of them is not to be had.
#   run.sh BUILD-FOLDER [TEST]...      TEST: names of test_*.mjs without the ending; default all
#   run.sh BUILD-FOLDER --with SCRIPT [ARGUMENT]...      a measurement, or pictures of the views
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
build=$(realpath "$1")
shift
work=$build/tests/desk/browser
skip() {
    echo "skipped: $*"
    exit 77
}

for program in chromium node npm python3; do
    command -v $program >/dev/null || skip "the browser tests need $program, which is not installed"
done
node -e 'process.exit(Number(process.versions.node.split(".")[0]) >= 18 ? 0 : 1)' ||
    skip "the browser tests need Node.js 18 or later"

mkdir -p "$work"
if ! cmp -s "$here/package-lock.json" "$work/package-lock.json" || [[ ! -d $work/node_modules ]]; then
    rm -rf "$work/node_modules" "$work/package-lock.json"
    cp "$here/package.json" "$work"
    cp "$here/package-lock.json" "$work/lock"
    mv "$work/lock" "$work/package-lock.json"
    if ! (cd "$work" && timeout 120 npm ci --no-audit --no-fund) >"$work/npm.log" 2>&1; then
        rm -f "$work/package-lock.json"
        skip "npm cannot fetch playwright-core; see $work/npm.log"
    fi
fi

export DESK_LOOKFALL=$build/src/cli/lookfall DESK_RENDER=$build/demo/lookfall-render DESK_WORK=$work
if [[ ${1:-} == --with ]]; then
    shift
    exec node "$@"
fi
exec node "$here/run.mjs" "$@"
