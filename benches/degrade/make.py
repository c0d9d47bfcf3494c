"""Photos made worse step by step, with their truth: blur, shake, exposure, noise, JPEG, size, cast, glare, crowding, slant.

usage: make.py OUT TRUTH_DIR...

A TRUTH_DIR holds NAME.jpg, NAME.json, NAME.mask.png and NAME.alpha.png, as sample-images does. Into OUT go, for every
photo and step, NAME__KIND_LEVEL.jpg, its mask where it changed, and index.jsonl with what belongs together.
Needs numpy and Pillow. Everything random is seeded by the photo's name and step, so two runs write the same files.
"""
import json
import sys
import zlib
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFilter, ImageOps

FAMILY = {"red_stripe": "red", "yellow_stripe": "yellow", "blue_light": "blue", "blue_dark": "blue"}
LARGEST = 2000  # longer side of the photo that is degraded; larger ones are made smaller first

# Levels in order from mild to bad. Lengths of blur and shake are in body units (an eighth of the median body length).
STEPS = {
    "base": [0],
    "fair": ["quarter_turn", "mirror", "darker", "brighter", "q85", "smaller"],
    "blur": [0.08, 0.15, 0.25, 0.4, 0.6, 0.9],
    "shake": [0.2, 0.4, 0.7, 1.1, 1.7],
    "dark": [1, 2, 3, 4, 5],
    "bright": [0.4, 0.8, 1.2, 1.6, 2.2],
    "noise": [3, 6, 10, 16, 25],
    "jpeg": [60, 40, 25, 15, 8],
    "messenger": [1280, 960, 720, 480],
    "size": [0.7, 0.5, 0.35, 0.25, 0.18],
    "warm": [0.5, 1, 1.5, 2],
    "cool": [0.5, 1, 1.5, 2],
    "glare": [0.15, 0.3, 0.5, 0.8],
    "crowd": [0.5, 1, 2, 3],
    "slant": [0.93, 0.85, 0.75, 0.62, 0.5],
    "hand": [0.08, 0.2, 0.35],
    "net": [0.25],
    "two_cups": [1],
}


def decode(v):
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)


def encode(v):
    v = np.clip(v, 0, 1)
    return np.where(v <= 0.0031308, v * 12.92, 1.055 * v ** (1 / 2.4) - 0.055)


LINEAR = decode(np.arange(256) / 255.0).astype(np.float32)


class Scene:
    """One photo with truth: `light` linear H x W x 3, `mask` and `alpha` H x W, `truth` the JSON."""

    def __init__(self, jpg):
        self.name = jpg.stem
        self.truth = json.loads(jpg.with_suffix(".json").read_text())
        picture = ImageOps.exif_transpose(Image.open(jpg)).convert("RGB")
        mask = Image.open(jpg.with_suffix(".mask.png"))
        alpha = Image.open(jpg.with_suffix(".alpha.png")).convert("L")
        scale = min(1.0, LARGEST / max(picture.size))
        if scale < 1:
            size = (round(picture.width * scale), round(picture.height * scale))
            picture, mask = picture.resize(size, Image.BOX), mask.resize(size, Image.NEAREST)
            alpha = alpha.resize(size, Image.BOX)
        self.light = LINEAR[np.asarray(picture)]
        self.mask, self.alpha = np.asarray(mask).copy(), np.asarray(alpha).copy()
        lengths = [a["body_length_px"] * scale for a in self.truth["animals"] if not a.get("cut")]
        self.unit = float(np.median(lengths)) / 8 if lengths else 30.0
        cup = self.truth.get("cup") or {}
        self.cup_mm = cup.get("inner_floor_diameter_mm")
        centre, across = cup.get("centre_xy"), cup.get("inner_floor_diameter_px")
        h, w = self.mask.shape
        self.centre = [c * scale for c in centre] if centre else [w / 2, h / 2]
        self.radius = (across * scale if across else min(w, h)) / 2
        self.line = line_of(self.truth)


def line_of(truth):
    """The one line in the photo (wild animals among it are its off-types), else mixed."""
    lines = [FAMILY.get(a["line"], a["line"]).replace("_", "-") for a in truth["animals"]]
    kinds = set(lines)
    if len(kinds) > 1:
        kinds -= {"wild"}
    return kinds.pop() if len(kinds) == 1 else "mixed"


def blurred(light, kernel):
    """Each channel folded with `kernel` (odd sides), edges mirrored."""
    ph, pw = kernel.shape[0] // 2, kernel.shape[1] // 2
    padded = np.pad(light, ((ph, ph), (pw, pw), (0, 0)), mode="reflect")
    size = padded.shape[:2]
    spread = np.zeros(size)
    spread[: kernel.shape[0], : kernel.shape[1]] = kernel
    spread = np.fft.rfft2(np.roll(spread, (-ph, -pw), (0, 1)))
    out = [np.fft.irfft2(np.fft.rfft2(padded[..., c]) * spread, size) for c in range(3)]
    return np.stack(out, -1)[ph:-ph or None, pw:-pw or None].astype(np.float32)


def disc(radius):
    reach = int(np.ceil(radius)) + 1
    fine = np.zeros(((2 * reach + 1) * 4,) * 2)
    y, x = np.indices(fine.shape)
    middle = (fine.shape[0] - 1) / 2
    fine[np.hypot(x - middle, y - middle) <= radius * 4] = 1
    kernel = fine.reshape(2 * reach + 1, 4, 2 * reach + 1, 4).sum((1, 3))
    return kernel / kernel.sum()


def streak(length, angle):
    reach = int(np.ceil(length / 2)) + 1
    kernel = np.zeros((2 * reach + 1,) * 2)
    for t in np.linspace(-length / 2, length / 2, 8 * reach):
        x, y = reach + t * np.cos(angle), reach + t * np.sin(angle)
        i, j = int(y), int(x)
        kernel[i : i + 2, j : j + 2] += np.outer([1 - (y - i), y - i], [1 - (x - j), x - j])
    return kernel / kernel.sum()


def noisy(light, gain, rng):
    """Sensor noise (read and shot) times `gain`, smoothed a little as by the filter mosaic."""
    sigma = gain * np.sqrt(0.0034**2 + 0.0002 * np.clip(light, 0, 1))
    grain = rng.standard_normal(light.shape).astype(np.float32)
    grain = (4 * grain + sum(np.roll(grain, s, a) for a in (0, 1) for s in (1, -1))) / np.sqrt(20)
    return light + sigma * grain


def resized(scene, width, height):
    planes = [Image.fromarray(scene.light[..., c]).resize((width, height), Image.BOX) for c in range(3)]
    masks = [Image.fromarray(m).resize((width, height), Image.NEAREST) for m in (scene.mask, scene.alpha)]
    return np.stack([np.asarray(p) for p in planes], -1), *(np.asarray(m) for m in masks)


def with_glare(scene, share, rng):
    light = scene.light.copy()
    ids = [a["id"] for a in scene.truth["animals"]]
    rng.shuffle(ids)
    y, x = np.indices(scene.mask.shape)
    for k in ids[: max(1, round(share * len(ids)))]:
        ys, xs = np.nonzero(scene.mask == k)
        if not len(xs):
            continue
        at = rng.integers(len(xs))
        a, b = scene.unit * rng.uniform(1.2, 2.5), scene.unit * rng.uniform(0.6, 1.2)
        turn = rng.uniform(0, np.pi)
        dx, dy = x - xs[at], y - ys[at]
        u, v = dx * np.cos(turn) + dy * np.sin(turn), dy * np.cos(turn) - dx * np.sin(turn)
        edge = np.hypot(u / a, v / b)
        light += (np.clip((1.15 - edge) / 0.3, 0, 1) * 1.0)[..., None]
    return light


def with_more(scene, share, rng):
    """Copies of the photo's own animals laid over the cup: each darkens what lies under it, as in water."""
    light, mask, alpha = scene.light.copy(), scene.mask.copy(), scene.alpha.copy()
    ids = [a["id"] for a in scene.truth["animals"] if not a.get("cut")]
    truth = [dict(a) for a in scene.truth["animals"]]
    free = [v for v in range(1, 150) if v not in {a["id"] for a in truth}]
    for new in free[: round(share * len(ids))]:
        k = ids[rng.integers(len(ids))]
        ys, xs = np.nonzero(scene.mask == k)
        if not len(xs):
            continue
        grow = int(scene.unit / 2)
        y0, y1 = max(0, ys.min() - grow), min(mask.shape[0], ys.max() + grow)
        x0, x1 = max(0, xs.min() - grow), min(mask.shape[1], xs.max() + grow)
        part, body = scene.light[y0:y1, x0:x1], scene.mask[y0:y1, x0:x1]
        ground = np.median(part[body == 0], 0) if (body == 0).any() else part.max((0, 1))
        soft = Image.fromarray(((body == k) * 255).astype(np.uint8)).filter(ImageFilter.GaussianBlur(1.2))
        soft = (np.asarray(soft) / 255.0)[..., None]
        ratio = soft * np.clip(part / ground, 0, 1.3) + (1 - soft)
        flip = int(rng.integers(4))
        ratio, body_here = np.rot90(ratio, flip), np.rot90(body == k, flip)
        alpha_here = np.rot90(scene.alpha[y0:y1, x0:x1], flip)
        h, w = body_here.shape
        way, turn = 0.7 * scene.radius * np.sqrt(rng.random()), rng.uniform(0, 2 * np.pi)
        ty = int(scene.centre[1] + way * np.sin(turn) - h / 2)
        tx = int(scene.centre[0] + way * np.cos(turn) - w / 2)
        if ty < 0 or tx < 0 or ty + h > mask.shape[0] or tx + w > mask.shape[1]:
            continue
        light[ty : ty + h, tx : tx + w] *= ratio
        view, pigment = mask[ty : ty + h, tx : tx + w], alpha[ty : ty + h, tx : tx + w]
        view[body_here], pigment[body_here] = new, alpha_here[body_here]
        truth.append({**next(a for a in truth if a["id"] == k), "id": new})
    for animal in truth:
        inside = mask == animal["id"]
        if inside.any():
            animal["coverage"] = float((alpha[inside] >= 128).mean())
    return light, mask, [a for a in truth if (mask == a["id"]).sum() > 0.4 * a["area_px"]]


def with_hand(scene, share, rng):
    """A finger's shape from the frame over the cup, covering about `share` of its floor."""
    h, w = scene.mask.shape
    drawn = Image.new("L", (w, h))
    turn, width = rng.uniform(0, 2 * np.pi), scene.radius * share * 1.8
    x, y = scene.centre
    far, reach = 2.5 * scene.radius, scene.radius * 0.2
    ends = [(x + d * np.cos(turn), y + d * np.sin(turn)) for d in (far, reach)]
    draw = ImageDraw.Draw(drawn)
    draw.line(ends, fill=255, width=int(width))
    px, py = ends[1]
    draw.ellipse([px - width / 2, py - width / 2, px + width / 2, py + width / 2], fill=255)
    soft = np.asarray(drawn.filter(ImageFilter.GaussianBlur(2)))[..., None] / 255.0
    skin = np.array([0.42, 0.22, 0.15]) * np.median(scene.light)
    return scene.light * (1 - soft) + soft * skin, np.where(np.asarray(drawn) > 0, 0, scene.mask)


def with_net(scene, share, rng):
    """A green hand net's mesh hanging into the cup from one side."""
    h, w = scene.mask.shape
    y, x = np.indices((h, w))
    turn = rng.uniform(0, 2 * np.pi)
    along = (x - scene.centre[0]) * np.cos(turn) + (y - scene.centre[1]) * np.sin(turn)
    inside = along > scene.radius * (1 - 2.2 * share)
    pitch = max(6, scene.unit / 3)
    lines = ((x % pitch) < pitch / 3) | ((y % pitch) < pitch / 3)
    net = (inside & lines).astype(np.float32)[..., None]
    return scene.light * (1 - 0.8 * net) + 0.8 * net * np.array([0.03, 0.12, 0.06]), np.where(inside, 0, scene.mask)


def degraded(scene, kind, level, rng, others):
    """Light, mask, quality, subsampling and changed truth of one step."""
    light, mask, quality, animals = scene.light, scene.mask, 92, None
    h, w = mask.shape
    if kind == "fair":
        if level == "quarter_turn":
            light, mask = np.rot90(light), np.rot90(mask)
        elif level == "mirror":
            light, mask = light[:, ::-1], mask[:, ::-1]
        elif level == "darker":
            light = light * 2**-0.35
        elif level == "brighter":
            light = light * 2**0.15
        elif level == "q85":
            quality = 85
        elif level == "smaller":
            light, mask, _ = resized(scene, round(w * 0.85), round(h * 0.85))
    elif kind == "blur":
        light = blurred(light, disc(level * scene.unit))
    elif kind == "shake":
        light = blurred(light, streak(level * scene.unit, rng.uniform(0, np.pi)))
    elif kind == "dark":
        light = noisy(light * 2.0**-level, 1.0, rng)
    elif kind == "bright":
        light = light * 2.0**level
    elif kind == "noise":
        light = noisy(light, level, rng)
    elif kind == "jpeg":
        quality = level
    elif kind == "messenger":
        scale = level / max(w, h)
        if scale < 1:
            light, mask, _ = resized(scene, round(w * scale), round(h * scale))
        quality = {1280: 55, 960: 45, 720: 40, 480: 35}[level]
    elif kind == "size":
        light, mask, _ = resized(scene, round(w * level), round(h * level))
    elif kind in ("warm", "cool"):
        gains = np.array([1, 0.82, 0.52]) if kind == "warm" else np.array([0.52, 0.85, 1])
        light = light * gains**level
    elif kind == "glare":
        light = with_glare(scene, level, rng)
    elif kind == "crowd":
        light, mask, animals = with_more(scene, level, rng)
    elif kind == "slant":
        light, mask, _ = resized(scene, w, round(h * level))
    elif kind == "hand":
        light, mask = with_hand(scene, level, rng)
    elif kind == "net":
        light, mask = with_net(scene, level, rng)
    elif kind == "two_cups":
        other = others[0]
        half = [resized(s, 800, 600) for s in (scene, other)]
        light, mask = np.concatenate([p[0] for p in half], 1), np.concatenate([half[0][1], half[1][1] * 0], 1)
    return light, mask, quality, animals


def main(out, folders):
    out.mkdir(parents=True, exist_ok=True)
    photos = [jpg for folder in folders for jpg in sorted(folder.glob("*.jpg"))]
    photos = [p for p in photos if p.with_suffix(".json").exists() and p.with_suffix(".mask.png").exists()]
    scenes = [Scene(jpg) for jpg in photos]
    scenes = [s for s in scenes if s.truth.get("ground") != "dark" and s.truth["animals"]]
    with open(out / "index.jsonl", "w") as index:
        for at, scene in enumerate(scenes):
            for kind, levels in STEPS.items():
                for level in levels:
                    write(out, scene, kind, level, scenes[at - 1], index)
            print(scene.name, flush=True)


def write(out, scene, kind, level, other, index):
    stem = f"{scene.name}__{kind}_{level}"
    rng = np.random.default_rng(zlib.crc32(stem.encode()))
    light, mask, quality, animals = degraded(scene, kind, level, rng, [other])
    picture = Image.fromarray((encode(light) * 255 + 0.5).astype(np.uint8))
    picture.save(out / f"{stem}.jpg", quality=quality, subsampling=2 if kind in ("jpeg", "messenger", "fair") else 0)
    Image.fromarray(np.ascontiguousarray(mask)).save(out / f"{stem}.mask.png")
    kept = [
        {"id": a["id"], "coverage": a["coverage"], "opacity": a.get("mean_opacity_covered"), "line": a["line"], "cut": bool(a.get("cut"))}
        for a in animals or scene.truth["animals"]
    ]
    row = {"stem": stem, "scene": scene.name, "kind": kind, "level": level, "line": scene.line, "cup_mm": scene.cup_mm, "animals": kept}
    index.write(json.dumps(row) + "\n")


if __name__ == "__main__":
    if len(sys.argv) < 3:
        sys.exit(__doc__)
    main(Path(sys.argv[1]), [Path(p) for p in sys.argv[2:]])
