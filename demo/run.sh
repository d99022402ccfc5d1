#!/usr/bin/env bash
# The main job from end to end on a rendered study: builds, renders walks through an invented shop
# with the exact truth beside them, casts their gaze onto the shelf's photo, says how good that is and
# what the people looked at, and makes a short film and a report.
# Everything goes to demo/out; renders are kept and used again while nothing about them changes.
#   demo/run.sh [SCENE [SEED]]      default: flat 11; lookfall-render --list names the scenes
set -euo pipefail
cd "$(dirname "$0")/.."
source .ci/packages.sh

scene=${1:-flat} seed=${2:-11} walks=3 seconds=20
out=demo/out renders=demo/out/$scene-$seed
lookfall=build/src/cli/lookfall
say() { printf '\n== %s\n' "$*"; }

lf_packages_need build

say "Build"
mkdir -p build $out
generator=()
[[ -f build/CMakeCache.txt ]] || generator=(-G Ninja)
if ! { cmake -S . -B build "${generator[@]}" && cmake --build build -j "$(nproc)" --target \
    lookfall_cli lookfall-render lookfall-compare lookfall-picture; } >$out/build.log 2>&1; then
    tail -n 40 $out/build.log >&2
    echo "The build failed; all of its output is in $out/build.log." >&2
    exit 4
fi
echo "done; see $out/build.log"

say "Render $walks walks of $seconds s, scene \"$scene\", seed $seed"
arguments=(--scene "$scene" --seed "$seed" --walks $walks --seconds $seconds)
made_with="${arguments[*]} $(sha256sum <build/demo/lookfall-render)"
if [[ -f $renders/made-with && $(<"$renders/made-with") == "$made_with" ]]; then
    echo "kept from an earlier run: $renders"
else
    rm -rf "$renders"
    build/demo/lookfall-render "${arguments[@]}" --out "$renders"
    echo "$made_with" >"$renders/made-with"
fi

say "Cast"
study=$out/demo.study
rm -f "$study" "$study"-wal "$study"-shm "$study"-journal
$lookfall new "$study"
while IFS=, read -r name image; do
    $lookfall photo add "$study" --name "$name" --image "$renders/$image"
done < <(tail -n +2 "$renders/photos.csv")
$lookfall walk import "$study" "$renders/walks.csv"
$lookfall cast "$study"
$lookfall info "$study"
$lookfall export "$study" samples --out $out/samples.csv --force

say "Against the truth"
build/demo/lookfall-compare --samples $out/samples.csv "$renders"/w*_truth.csv | tee $out/accuracy.txt
build/demo/lookfall-picture --image "$renders/shelf.png" --photo shelf --samples $out/samples.csv \
    --walk w01 --video "$renders/w01.mp4" --gaze "$renders/w01_gaze.csv" --out $out/look.png

say "What was looked at"
for areas in "$renders"/*_areas.csv; do
    photo=$(basename "$areas" _areas.csv)
    $lookfall aoi import "$study" "$areas" --photo "$photo"
done
$lookfall fixate "$study"
$lookfall export "$study" measures --out $out/measures.csv --force
$lookfall export "$study" stats --by group --out $out/stats.csv --force
# The shelf's boards, everybody taken together.
$lookfall export "$study" stats --level "group 1" --measures noticed,first_seen_s,dwell_s \
    --columns area,measure,statistic,participants,noticed,value,low,high |
    awk -F, '
        { sub(/\r$/, "") }
        NR == 1 { printf "\n%-10s %-12s %-22s %s\n", "", "noticed by", "half had looked after", "looked for (mean)" }
        $3 == "share" { printf "%-10s %-12s ", $1, $5 " of " $4 }
        $3 == "median_time" { printf "%-22s ", $6 == "" ? "-" : sprintf("%.1f s", $6) }
        $3 == "mean" { printf "%.1f s%s\n", $6, $7 == "" ? "" : sprintf(" (%.1f to %.1f)", $7, $8) }'

say "A film and a report"
$lookfall film "$study" --walk w01 --from 4 --to 8 --out $out/look.mp4 --force
$lookfall report "$study" --stills 1 --title "The demo's shelf" --out $out/report.html --force

printf '\nA picture to look at: %s\nAll gaze on the photo: %s\n' $out/look.png $out/samples.csv
printf 'Each walk and pack: %s\nWhat that says about people: %s\n' $out/measures.csv $out/stats.csv
printf 'Four seconds of a walk: %s\nAll of it on a page: %s\n' $out/look.mp4 $out/report.html
