#!/bin/sh
# Instructions by stage of `catchcup grade --json` on one thread, in millions: the same on a busy machine as on a quiet one.
# Usage: benches/stages.sh PHOTO [CATCHCUP] [OPTION...]   (needs valgrind; about a minute)
set -eu

photo=${1:?usage: stages.sh PHOTO [CATCHCUP] [OPTION...]}
catchcup=${2:-$(dirname "$0")/../target/release/catchcup}
[ $# -ge 2 ] && shift
shift
command -v valgrind >/dev/null || { echo "valgrind is not installed" >&2; exit 1; }
[ -x "$catchcup" ] || { echo "$catchcup is missing: cargo build --release" >&2; exit 1; }

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
valgrind --tool=callgrind --callgrind-out-file="$work/counts" \
    "$catchcup" grade --threads 1 --json "$@" "$photo" >/dev/null 2>"$work/log"
callgrind_annotate --inclusive=yes --threshold=100 "$work/counts" >"$work/table" 2>/dev/null

# The largest count of a function, several copies of which may stand in the table.
stage() {
    awk -v name="$2" -v label="$1" '
        $0 ~ name { n = $1; gsub(",", "", n); if (n + 0 > most) most = n + 0 }
        END { printf "%8.0f  %s\n", most / 1e6, label }' "$work/table"
}

stage "all" "PROGRAM TOTALS"
stage "decoding" "photo::decode::decode|HalfPicture::read"
stage "block means of the photo" "photo::reduce::reduce"
stage "digest of the file (plain; most machines have instructions for it)" "Digest>::digest|compress256|hex_digest"
stage "setting" "scene::read::read_scene_from"
stage "pictures and evidence (with block means)" "animals::field::Field::new"
stage "evidence alone" "animals::evidence::evidence"
stage "axes of possible animals" "animals::candidates::candidates"
stage "shaping" "animals::body::shape"
stage "measuring" "measures::animal::measure"
