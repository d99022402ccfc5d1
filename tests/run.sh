#!/usr/bin/env bash
# All tests, from a bare Debian 12 on: installs what is missing, builds, and ends with one line
#   N passed, N failed, N skipped
# that counts every cmocka test of every program, in the plain and the sanitized build, and the
# checks of this script. Exit status 0 only where nothing failed.
#   tests/run.sh [--quick]      --quick leaves out the build with sanitizers
# LOOKFALL_DATA names the folder of outside test data; ../shared/data is taken where it exists and
# nothing else is set. Tests that need it are skipped without.
set -euo pipefail
cd "$(dirname "$0")/.."
source .ci/packages.sh
source tests/checks.sh

quick=false
case "${1:-}" in
'') ;;
--quick) quick=true ;;
*)
    echo "Usage: tests/run.sh [--quick]" >&2
    exit 2
    ;;
esac

lf_packages_need build test

if [[ -z ${LOOKFALL_DATA:-} && -d ../shared/data ]]; then
    LOOKFALL_DATA=$(realpath ../shared/data)
fi
[[ -n ${LOOKFALL_DATA:-} ]] && export LOOKFALL_DATA
export CMOCKA_MESSAGE_OUTPUT=TAP

say() { printf '\n== %s\n' "$*"; }

# build FOLDER CMAKE-OPTION...: no test can run without; ends the script where it fails. -g1 is enough
# for the lines of a stack trace, and is quicker to compile than -g.
build() {
    local folder=$1 generator=()
    shift
    say "Build $folder"
    mkdir -p "$folder"
    [[ -f $folder/CMakeCache.txt ]] || generator=(-G Ninja)
    if ! { cmake -S . -B "$folder" "${generator[@]}" -DCMAKE_BUILD_TYPE=Debug \
        -DCMAKE_C_FLAGS_DEBUG="-O2 -g1" -DCMAKE_CXX_FLAGS_DEBUG="-O2 -g1" \
        -DLOOKFALL_WERROR=ON "$@" && cmake --build "$folder" -j "$(nproc)"; } \
        >"$folder/build.log" 2>&1; then
        grep -E 'error|warning|FAILED' -A4 "$folder/build.log" | head -n 60 >&2 || true
        tail -n 5 "$folder/build.log" >&2
        echo "The build failed; all of its output is in $folder/build.log." >&2
        count 0 1 0
        total
        exit 1
    fi
    echo "done; see $folder/build.log"
}

# run_ctest FOLDER CTEST-OPTION...: runs and counts; says what failed and what was skipped, and why.
run_ctest() {
    local folder=$1 counts
    shift
    say "Tests in $folder"
    ctest --test-dir "$folder" -V -j "$(nproc)" "$@" >"$folder/ctest.log" 2>&1 || true
    counts=$(awk -f tests/count.awk "$folder/ctest.log" 2>"$folder/ctest.told") || counts="0 1 0"
    cat "$folder/ctest.told"
    # shellcheck disable=SC2086
    count $counts
    echo "${counts} (passed, failed, skipped); all output is in $folder/ctest.log"
}

build build-tests
say "Checks of the tree"
check "public headers alone, C11 and C++17" check_headers
check "exported symbols" check_symbols build-tests
check "layout of the code" check_format
check "no path of one machine" check_paths
check "no header out of its folder" check_owners
check "installed library: pkg-config and CMake" check_install build-tests

run_ctest build-tests
if ! $quick; then
    build build-asan -DLOOKFALL_SANITIZE=ON
    # What runs the whole job was run above; under sanitizers it would take longer than all the rest.
    ASAN_OPTIONS=detect_stack_use_after_return=1:strict_string_checks=1 \
        UBSAN_OPTIONS=print_stacktrace=1 \
        LSAN_OPTIONS=print_suppressions=0:suppressions=$PWD/tests/lsan.supp \
        run_ctest build-asan -E '^e2e/'
fi

say "Result"
total
