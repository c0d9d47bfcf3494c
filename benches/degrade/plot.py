"""Plots of what grade.py wrote: coverage error, lost animals and moved rungs against each measure, with the limits.

usage: plot.py ROWS.jsonl OUT_FOLDER

One small SVG a cause. The limits are read from src/scoop/check/limits.rs beside this folder.
"""
import re
import sys
from pathlib import Path

from rows import mean, read

# Cause in limits.rs, its measure, steps that show it, axis label, logarithmic axis.
PLOTS = [
    ("BLUR", "blur", ["blur"], "edge width, body widths", False),
    ("SOFT", "soft", ["blur"], "softest edges on the floor, body widths", False),
    ("SHAKE", "shake", ["shake"], "widest over narrowest edges", False),
    ("GRAIN", "grain", ["noise", "dark"], "grain over a body's width", False),
    ("DARK", "ground_light", ["dark"], "light of the floor", True),
    ("CLIPPED", "clipped", ["bright"], "burnt-out share of the floor", False),
    ("JPEG", "jpeg_step", ["jpeg", "messenger"], "JPEG step", False),
    ("FAR", "body_px", ["size", "messenger"], "pixels to a body's length", True),
    ("GLARE", "glare_on", ["glare"], "share of animals under glare", False),
    ("CROWD", "crowding", ["crowd"], "crowding", False),
    ("OBSTACLE", "obstacle", ["hand", "net"], "share of the floor covered", False),
]
LINES = [("error", "coverage error", "#1b6ca8", ""), ("lost", "animals lost", "#c0392b", ' stroke-dasharray="6 3"'), ("moved", "rungs moved", "#333333", ' stroke-dasharray="2 3"')]
WIDTH, HEIGHT, LEFT, BOTTOM, TOP = 420, 260, 46, 44, 30


def limits(source):
    """Usable and shoot-again limits by cause."""
    found = re.findall(r"pub const (\w+): Cause = Cause \{.*?limits: \[([\d.]+), ([\d.]+)\]", source, re.S)
    return {name: (float(a), float(b)) for name, a, b in found}


def bins(points, count):
    """Means of `count` equally full bins of (x, row)."""
    points.sort(key=lambda p: p[0])
    size = max(1, round(len(points) / count))
    groups = [points[i : i + size] for i in range(0, len(points), size)]
    return [(mean([p[0] for p in g]), {key: mean([p[1][key] for p in g]) for key, *_ in LINES}) for g in groups]


def svg(title, label, groups, marks, log):
    import math

    xs = [x for x, _ in groups] + [m for m in marks if m > 0]
    scale = (lambda v: math.log(max(v, 1e-3))) if log else (lambda v: v)
    low, high = min(map(scale, xs)), max(map(scale, xs))
    place_x = lambda v: LEFT + (scale(v) - low) / max(high - low, 1e-9) * (WIDTH - LEFT - 14)
    place_y = lambda v: HEIGHT - BOTTOM - min(v, 1.0) * (HEIGHT - BOTTOM - TOP)
    out = [f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" font-family="sans-serif" font-size="11">']
    out.append(f'<rect width="{WIDTH}" height="{HEIGHT}" fill="white"/><text x="{LEFT}" y="16" font-size="13">{title}</text>')
    for tick in (0, 0.25, 0.5, 0.75, 1):
        y = place_y(tick)
        out.append(f'<path d="M{LEFT} {y:.1f}H{WIDTH - 14}" stroke="#dddddd"/><text x="{LEFT - 6}" y="{y + 4:.1f}" text-anchor="end">{tick:g}</text>')
    for mark, word in zip(marks, ("usable", "shoot again")):
        if mark > 0:
            x = place_x(mark)
            out.append(f'<path d="M{x:.1f} {TOP}V{HEIGHT - BOTTOM}" stroke="#999999"/><text x="{x + 3:.1f}" y="{TOP + 10}" fill="#666666">{word}</text>')
    for k, (key, word, colour, dash) in enumerate(LINES):
        shown = [(place_x(x), place_y(v[key])) for x, v in groups if v[key] is not None]
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in shown)
        out.append(f'<polyline points="{path}" fill="none" stroke="{colour}" stroke-width="2"{dash}/>')
        out += [f'<circle cx="{x:.1f}" cy="{y:.1f}" r="2.5" fill="{colour}"/>' for x, y in shown]
        out.append(f'<text x="{LEFT + 110 * k + 60}" y="{HEIGHT - 6}" fill="{colour}">{word}</text>')
    for x, _ in (groups[0], groups[len(groups) // 2], groups[-1]):
        out.append(f'<text x="{place_x(x):.1f}" y="{HEIGHT - BOTTOM + 13}" text-anchor="middle">{x:.3g}</text>')
    out.append(f'<text x="{WIDTH / 2}" y="{HEIGHT - BOTTOM + 26}" text-anchor="middle">{label}</text></svg>')
    return "\n".join(out) + "\n"


def main(path, folder):
    rows = read(path)
    folder.mkdir(parents=True, exist_ok=True)
    known = limits((Path(__file__).resolve().parents[2] / "src/scoop/check/limits.rs").read_text())
    for cause, measure, kinds, label, log in PLOTS:
        points = [(r["measures"][measure], r) for r in rows if r["kind"] in [*kinds, "base"] and r["measures"].get(measure) is not None]
        (folder / f"{cause.lower()}.svg").write_text(svg(f"{', '.join(kinds)}: {measure}", label, bins(points, 8), known[cause], log))


if __name__ == "__main__":
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    main(sys.argv[1], Path(sys.argv[2]))
