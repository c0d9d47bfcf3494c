#!/bin/sh
# Whole-process wall time of `catchcup grade --json` against `djpeg` on the same photo, alternating in one run.
# Usage: benches/djpeg_ratio.sh PHOTO [ROUNDS] [CATCHCUP]
# Prints both medians in ms, the ratio of the medians, and peak memory where /usr/bin/time is at hand.
set -eu

photo=${1:?usage: djpeg_ratio.sh PHOTO [ROUNDS] [CATCHCUP]}
rounds=${2:-15}
catchcup=${3:-$(dirname "$0")/../target/release/catchcup}
command -v djpeg >/dev/null || { echo "djpeg is not installed" >&2; exit 1; }
[ -x "$catchcup" ] || { echo "$catchcup is missing: cargo build --release" >&2; exit 1; }

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

# Milliseconds of wall time of a command whose output is dropped; stops the script when the command fails.
clock() {
    from=$(date +%s%N)
    "$@" >/dev/null
    to=$(date +%s%N)
    echo $(((to - from) / 1000)) | awk '{ printf "%.3f\n", $1 / 1000 }'
}

median() {
    sort -n "$1" | awk '{ v[NR] = $1 } END { m = int((NR + 1) / 2); print (NR % 2) ? v[m] : (v[m] + v[m + 1]) / 2 }'
}

# One round each to warm the file cache.
clock djpeg -outfile /dev/null "$photo" >/dev/null
clock "$catchcup" grade --json "$photo" >/dev/null

round=0
while [ "$round" -lt "$rounds" ]; do
    clock djpeg -outfile /dev/null "$photo" >>"$work/djpeg"
    clock "$catchcup" grade --json "$photo" >>"$work/catchcup"
    round=$((round + 1))
done

base=$(median "$work/djpeg")
ours=$(median "$work/catchcup")
echo "djpeg    median $base ms of $rounds"
echo "catchcup median $ours ms of $rounds"
echo "$ours $base" | awk '{ printf "ratio    %.2f\n", $1 / $2 }'
if [ -x /usr/bin/time ]; then
    /usr/bin/time -f %M -o "$work/peak" "$catchcup" grade --json "$photo" >/dev/null
    awk '{ printf "peak     %.0f MB\n", $1 / 1024 }' "$work/peak"
fi
