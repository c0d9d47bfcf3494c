#!/bin/sh
# Photos a second of `catchcup grade` on a folder of photos, with one thread and with two, alternating.
# Usage: benches/throughput.sh [FOLDER] [ROUNDS] [CATCHCUP]    (without FOLDER: eight copies of the sample images)
# Prints both medians and their ratio. Only a quiet machine with two or more cores gives a meaningful ratio, so the load
# before the first round is printed too.
set -eu

root=$(dirname "$0")/..
rounds=${2:-5}
catchcup=${3:-$root/target/release/catchcup}
[ -x "$catchcup" ] || { echo "$catchcup is missing: cargo build --release" >&2; exit 1; }

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
if [ $# -ge 1 ] && [ -n "$1" ]; then
    photos=$1
else
    photos=$work/photos
    mkdir "$photos"
    for copy in 1 2 3 4 5 6 7 8; do
        for photo in "$root"/sample-images/*.jpg; do
            cp "$photo" "$photos/$copy-$(basename "$photo")"
        done
    done
fi
count=$(find "$photos" -type f | wc -l)

# Photos a second with that many threads.
rate() {
    from=$(date +%s%N)
    "$catchcup" grade --json --threads "$1" "$photos" >"$work/out"
    to=$(date +%s%N)
    echo "$count $(((to - from) / 1000))" | awk '{ print $1 / $2 * 1e6 }'
}

median() {
    sort -n "$1" | awk '{ v[NR] = $1 } END { m = int((NR + 1) / 2); print (NR % 2) ? v[m] : (v[m] + v[m + 1]) / 2 }'
}

[ -r /proc/loadavg ] && echo "load     $(cut -d' ' -f1 /proc/loadavg) on $(nproc) cores"
rate 2 >"$work/warm"
round=0
while [ "$round" -lt "$rounds" ]; do
    rate 1 >>"$work/one"
    rate 2 >>"$work/two"
    round=$((round + 1))
done
one=$(median "$work/one")
two=$(median "$work/two")
printf '%s photos, %s rounds\n' "$count" "$rounds"
echo "$one $two" | awk '{ printf "1 thread  %.2f photos/s\n2 threads %.2f photos/s\nratio     %.2f\n", $1, $2, $2 / $1 }'
