"""Grades the photos that make.py wrote and holds every animal against its truth.

usage: grade.py CATCHCUP OUT [KIND,KIND...]

CATCHCUP is the program, OUT the folder of make.py. Writes OUT/rows.jsonl, one photo a line: what was asked of it, the
verdict and its measures, and for each true animal whether it was found (overlap 0.5), its coverage and its rung.
"""
import json
import subprocess
import sys
from collections import defaultdict
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

# Reference ladder for truth and answer alike: least coverage and opacity of rungs 5 to 1.
LADDER = [(0.95, 0.80), (0.85, 0.70), (0.70, 0.55), (0.50, 0.0), (0.25, 0.0)]


def rung(coverage, opacity):
    for steps_down, (c, o) in enumerate(LADDER):
        if coverage >= c and (o == 0 or (opacity or 0) >= o):
            return 5 - steps_down
    return 0


def filled(animal, size):
    picture = Image.new("1", size)
    draw = ImageDraw.Draw(picture)
    if len(animal["outline"]) > 2:
        draw.polygon([tuple(p) for p in animal["outline"]], fill=1, outline=1)
    for hole in animal["holes"]:
        if len(hole) > 2:
            draw.polygon([tuple(p) for p in hole], fill=0, outline=1)
    return np.asarray(picture)


def matched(mask, ids, said):
    """Truth id to the animal said, best overlap first, at least half."""
    pairs = []
    for animal in said:
        body = filled(animal, mask.shape[::-1])
        under, area = np.bincount(mask[body], minlength=256), int(body.sum())
        for k in ids:
            if under[k]:
                both = int(under[k])
                pairs.append((both / (area + int((mask == k).sum()) - both), k, animal["no"]))
    out, used = {}, set()
    by_no = {a["no"]: a for a in said}
    for overlap, k, no in sorted(pairs, reverse=True):
        if overlap >= 0.5 and k not in out and no not in used:
            out[k] = (overlap, by_no[no])
            used.add(no)
    return out


def row(asked, record, folder):
    result = {key: asked[key] for key in ("stem", "scene", "kind", "level", "line")}
    animals = [a for a in asked["animals"] if not a["cut"]]
    check = (record.get("photo") or {}).get("check") or {}
    said = record.get("animals") or []
    result |= {"verdict": record.get("verdict", "error"), "answer": check.get("answer"), "measures": check.get("measures") or {}}
    result["reasons"] = [r["code"] for r in check.get("reasons", [])]
    result["doubts"] = [d["code"] for d in record.get("doubts", [])]
    result["sharpness"] = (record.get("scene") or {}).get("sharpness")
    result["said"] = len(said)
    mask = np.asarray(Image.open(folder / f"{asked['stem']}.mask.png"))
    found = matched(mask, [a["id"] for a in animals], said)
    result["animals"] = []
    for a in animals:
        hit = found.get(a["id"])
        entry = {"id": a["id"], "coverage": a["coverage"], "rung": rung(a["coverage"], a["opacity"]), "found": bool(hit)}
        if hit:
            overlap, animal = hit
            entry |= {"overlap": round(overlap, 3), "said": animal["coverage"], "house": animal["rung"], "between": animal["between"]}
            if animal["coverage"] is not None:
                entry["said_rung"] = rung(animal["coverage"], animal["opacity"])
        result["animals"].append(entry)
    return result


def main(program, folder, kinds):
    asked = [json.loads(line) for line in open(folder / "index.jsonl")]
    groups = defaultdict(list)
    for photo in asked:
        if not kinds or photo["kind"] in kinds:
            groups[(photo["line"], photo["cup_mm"])].append(photo)
    with open(folder / "rows.jsonl", "w") as out:
        for (line, cup_mm), photos in groups.items():
            command = [program, "grade", "--json", "--line", line]
            if cup_mm:
                command += ["--cup-mm", str(cup_mm)]
            command += [str(folder / f"{p['stem']}.jpg") for p in photos]
            answers = subprocess.run(command, stdout=subprocess.PIPE, text=True).stdout.splitlines()
            records = {r["photo"]["file"]: r for r in map(json.loads, answers)}
            for photo in photos:
                out.write(json.dumps(row(photo, records[f"{photo['stem']}.jpg"], folder)) + "\n")
            out.flush()
            print(line, cup_mm, len(photos), flush=True)


if __name__ == "__main__":
    if len(sys.argv) < 3:
        sys.exit(__doc__)
    main(sys.argv[1], Path(sys.argv[2]), set(filter(None, "".join(sys.argv[3:]).split(","))))
