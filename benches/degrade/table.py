"""Tables of what grade.py wrote: error, loss and moved rungs by step, and how the verdict did.

usage: table.py ROWS.jsonl [SCENE,SCENE...]

The scenes named are those on which the limits were set; verdicts are counted for them and for the others.
"""
import sys

from rows import MOVED, by_step, mean, read

MEASURES = ["blur", "shake", "soft", "soft_shake", "grain", "ground_light", "clipped", "jpeg_step", "body_px", "glare_on", "crowding", "slant", "obstacle"]
# Which measure each kind of step is about.
ABOUT = {
    "blur": ["blur", "soft"], "shake": ["shake", "soft_shake"], "dark": ["ground_light", "grain"], "noise": ["grain"],
    "bright": ["ground_light", "clipped"], "jpeg": ["jpeg_step"], "messenger": ["jpeg_step", "body_px"], "size": ["body_px"],
    "glare": ["glare_on"], "crowd": ["crowding"], "slant": ["slant"], "hand": ["obstacle"], "net": ["obstacle"],
}


def shown(value, digits=3):
    return "-" if value is None else f"{value:.{digits}f}"


def steps(rows):
    print("| made worse by | step | photos | coverage error | rung error | lost | rungs moved | measure |\n|---|---|---|---|---|---|---|---|")
    for (kind, level), group in by_step(rows).items():
        of = lambda key: mean([r[key] for r in group])
        about = ", ".join(f"{m} {shown(mean([r['measures'].get(m) for r in group]))}" for m in ABOUT.get(kind, []))
        print(f"| {kind} | {level} | {len(group)} | {shown(of('error'))} | {shown(of('rung_error'), 2)} | {shown(of('lost'), 2)} | {shown(of('moved'), 2)} | {about} |")


def verdicts(name, rows):
    good = [r for r in rows if r["kind"] in ("base", "fair")]
    worse = [r for r in rows if r["kind"] not in ("base", "fair")]
    moved = [r for r in worse if r["moved"] > MOVED]
    share = lambda group, answer: f"{sum(r['answer'] == answer for r in group)} of {len(group)} ({100 * sum(r['answer'] == answer for r in group) / max(1, len(group)):.1f} %)"
    print(f"\n{name}: {len({r['scene'] for r in rows})} scenes")
    for answer in ("good", "usable", "shoot_again"):
        print(f"  good scenes called {answer}: {share(good, answer)}; rungs moved called {answer}: {share(moved, answer)}; rungs held called {answer}: {share([r for r in worse if r['moved'] <= MOVED], answer)}")
    for r in good:
        if r["answer"] == "shoot_again":
            print("    false alarm:", r["stem"], r["reasons"])
    for r in moved:
        if r["answer"] == "good":
            print("    missed:", r["stem"], f"moved {r['moved']:.2f}", {m: r["measures"].get(m) for m in MEASURES})


def main(path, used):
    rows = read(path)
    steps(rows)
    verdicts("scenes on which limits were set", [r for r in rows if r["scene"] in used])
    verdicts("other scenes", [r for r in rows if r["scene"] not in used])


if __name__ == "__main__":
    if len(sys.argv) not in (2, 3):
        sys.exit(__doc__)
    main(sys.argv[1], set(filter(None, "".join(sys.argv[2:]).split(","))))
