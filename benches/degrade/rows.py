"""What grade.py wrote, read again: how far the animals of a photo moved against the photo before it was made worse."""
import json
from collections import defaultdict

MOVED = 0.25  # a photo's rungs have moved where more than this share of its animals is lost or stands elsewhere


def read(path):
    """All rows, each with `moved` (share of animals lost or on another rung than before), `lost`, and `error` (coverage)."""
    rows = [json.loads(line) for line in open(path)]
    before = {r["scene"]: {a["id"]: a for a in r["animals"]} for r in rows if r["kind"] == "base"}
    rows = [r for r in rows if r["scene"] in before]
    for r in rows:
        seen = before[r["scene"]]
        stood = [a for a in r["animals"] if seen.get(a["id"], {}).get("house")]
        r["moved"] = sum(moved(seen[a["id"]], a) for a in stood) / len(stood) if stood else 0.0
        was_found = [a for a in r["animals"] if seen.get(a["id"], {}).get("found")]
        r["lost"] = sum(not a["found"] for a in was_found) / len(was_found) if was_found else 0.0
        errors = [abs(a["said"] - a["coverage"]) for a in r["animals"] if a.get("said") is not None]
        r["error"] = sum(errors) / len(errors) if errors else None
        read_rungs = [abs(a["said_rung"] - a["rung"]) for a in r["animals"] if "said_rung" in a]
        r["rung_error"] = sum(read_rungs) / len(read_rungs) if read_rungs else None
    return rows


def moved(before, after):
    """Lost, without a rung, or on rungs that have none in common with those before (too close to call counts as both)."""
    if not after["found"] or not after.get("house"):
        return True
    return not ({before["house"], *(before["between"] or [])} & {after["house"], *(after["between"] or [])})


def mean(values):
    known = [v for v in values if v is not None]
    return sum(known) / len(known) if known else None


def by_step(rows):
    """Rows by kind and level, in the order of the file."""
    out = defaultdict(list)
    for r in rows:
        out[(r["kind"], r["level"])].append(r)
    return out
