#!/usr/bin/env bash
# The benchmark: on the same rendered walks, in one run, (a) decoding only, (b) the script anyone would
# write in an afternoon (afternoon.py), (c) lookfall cast. Prints wall and CPU time, peak memory, frame
# rates, ratios, and for (b) and (c) the errors against the exact truth.
#   tests/bench/bench.sh [--scene NAME] [--seed N] [--walks K] [--seconds S]   what to render (flat 7 2 30)
#                        [--renders DIR]      a folder lookfall-render made, instead of rendering
#                        [--repeat N] [--jobs N] [--tolerance DEG] [--memory] [--minutes M,M...] [--json FILE]
# --memory also casts walks of 5 and 60 minutes (--minutes: others), the rendered one over and over, and
# prints their peak memory. For numbers worth keeping nothing else may run on the machine.
set -euo pipefail
cd "$(dirname "$0")/../.."
source .ci/packages.sh

scene=flat seed=7 walks=2 seconds=30 renders=
pass=()
while (($#)); do
    case $1 in
    --scene | --seed | --walks | --seconds | --renders) printf -v "${1#--}" %s "${2:?$1 needs a value}" && shift ;;
    --repeat | --jobs | --tolerance | --minutes | --json) pass+=("$1" "${2:?$1 needs a value}") && shift ;;
    --memory) pass+=("$1") ;;
    *)
        sed -n '2,/^set/s/^# \{0,1\}//p' "$0" >&2
        exit 2
        ;;
    esac
    shift
done

lf_packages_need build test
mkdir -p build-bench
generator=()
[[ -f build-bench/CMakeCache.txt ]] || generator=(-G Ninja)
if ! { cmake -S . -B build-bench "${generator[@]}" -DCMAKE_BUILD_TYPE=Release -DLOOKFALL_TESTS=OFF &&
    cmake --build build-bench -j "$(nproc)" --target lookfall_cli lookfall-render lookfall-compare; } \
    >build-bench/build.log 2>&1; then
    tail -n 40 build-bench/build.log >&2
    exit 4
fi
if [[ -z $renders ]]; then
    renders=build-bench/renders/$scene-$seed-$walks-$seconds
    # the manifest is written last: where it is, the render is whole
    [[ -f $renders/walks.csv ]] || build-bench/demo/lookfall-render --scene "$scene" --seed "$seed" \
        --walks "$walks" --seconds "$seconds" --out "$renders"
fi
# Debian's own python3: another one first in PATH would not have Debian's modules.
exec /usr/bin/python3 tests/bench/bench.py --build build-bench --renders "$renders" "${pass[@]}"
