"""Outside judge of the slow twin and of how the dense judge joins voxels: docs/exposure.md once more, with SciPy's own filters.

Usage: exposure_by_scipy.py FOLDER   (a folder written by tests/property/twin_scipy_test.cpp)
Exit 0: everything agrees; 1: something differs (printed); 77: NumPy or SciPy is missing.

Where SciPy comes in: special.ndtr (Gaussian weights), integrate.dblquad (Lorentzian weights), ndimage.convolve1d and
signal.fftconvolve (blur), ndimage.maximum_filter / minimum_filter (neighbourhoods), ndimage.binary_closing (narrow gaps),
ndimage.label (details), numpy.median.
"""

import json
import pathlib
import sys

try:
    import numpy as np
    from scipy import integrate, ndimage, signal, special
except ImportError:
    sys.exit(77)

folder = pathlib.Path(sys.argv[1])
job = json.loads((folder / "case.json").read_text())
shape = tuple(job["shape"])
layers, rows, cols = shape
px, py, blur, dp = job["pitch_x_mm"], job["pitch_y_mm"], job["blur_mm"], job["penetration_depth_mm"]
height = np.array([p["height_mm"] for p in job["plans"]])
time = np.array([p["exposure_s"] for p in job["plans"]])
factor = np.array([p["factor"] for p in job["plans"]])
normal = np.array([p["normal"] for p in job["plans"]])
t = job["exposure_s"]


def load(name, kind):
    return np.fromfile(folder / name, dtype=kind).reshape(shape)


mask = load("mask.u8", np.uint8)
solid = mask >= 128


def weights(pitch):
    radius = int(np.ceil(5 * blur / pitch))
    k = np.arange(-radius, radius + 1)
    return special.ndtr((k + 0.5) * pitch / blur) - special.ndtr((k - 0.5) * pitch / blur)


def blurred(picture):
    if not job["lorentzian"]:
        across = ndimage.convolve1d(picture, weights(px), axis=1, mode="constant")
        return ndimage.convolve1d(across, weights(py), axis=0, mode="constant")
    return signal.fftconvolve(picture, lorentzian_table(), mode="same")


_table = None


def lorentzian_table():
    """Kernel g0 / (2 pi (rho^2 + g0^2)^1.5) integrated per pixel, by quadrature, for every offset in the image."""
    global _table
    if _table is None:
        quarter = np.empty((rows, cols))
        # The integral along x of 1 / (x^2 + b)^1.5 is x / (b sqrt(x^2 + b)); along y it is left to quadrature.
        for r in range(rows):
            for c in range(cols):
                def strip(y, c=c):
                    b = y * y + blur * blur
                    x1, x0 = (c + 0.5) * px, (c - 0.5) * px
                    return blur / (2 * np.pi) * (x1 / np.sqrt(x1 * x1 + b) - x0 / np.sqrt(x0 * x0 + b)) / b
                quarter[r, c] = integrate.quad(strip, (r - 0.5) * py, (r + 0.5) * py, epsabs=1e-13)[0]
        half = np.concatenate([quarter[:, :0:-1], quarter], axis=1)
        _table = np.concatenate([half[:0:-1], half], axis=0)
    return _table


def disc(radius):
    r, c = int(radius / py) + 1, int(radius / px) + 1
    y, x = np.mgrid[-r : r + 1, -c : c + 1]
    return np.sqrt((y * py) ** 2 + (x * px) ** 2) <= radius * (1 + 1e-9)


# Light and settled light.
light = np.stack([blurred(m / 255.0) for m in mask])
fixed, per_s = np.zeros(shape), np.zeros(shape)
for n in reversed(range(layers)):
    if n + 1 < layers:
        passes = np.exp(-height[n + 1] / dp)
        fixed[n], per_s[n] = passes * fixed[n + 1], passes * per_s[n + 1]
    if normal[n]:
        per_s[n] += factor[n] * light[n]
    else:
        fixed[n] += time[n] * light[n]

# Vanish: thin solid only.
bond = job["bond_time_s"] * np.exp((height - job["record_height_mm"]) / dp)
vanish_s = np.zeros(shape)
bulk = np.zeros(shape, bool)
lost = np.zeros(shape, bool)
for n in range(layers):
    best, value = (
        ndimage.maximum_filter(np.where(solid[n], of, -1), footprint=disc(3 * blur), mode="constant", cval=-1)
        for of in (light[n], mask[n] / 255.0)
    )
    bulk[n] = solid[n] & (best >= 0.98 * value) & (value >= 0.9)
    thin = solid[n] & ~bulk[n]
    vanish_s[n][thin] = bond[n] / ((factor[n] if normal[n] else 1) * best[thin])
    lost[n] |= thin & ((t if normal[n] else time[n]) < vanish_s[n])
voxel = px * py * height[:, None, None] * np.ones(shape)
base_vanish = voxel[lost & ~normal[:, None, None]].sum()

# Fuse: narrow gaps.
a_record = np.exp(-job["record_height_mm"] / dp)
threshold = job["fuse_time_s"] / (1 - a_record) * np.exp((height - job["record_height_mm"]) / (2 * dp))
fuse_s = np.full(shape, np.inf)
filled = np.zeros(shape, bool)
for n in range(layers):
    near, closer = disc(3 * blur), disc(max(2 * blur + max(px, py) / 2, px, py))
    pad = max(closer.shape) + 1
    closed = ndimage.binary_closing(np.pad(solid[n], pad), structure=closer)[pad:-pad, pad:-pad]
    narrow = closed & ~solid[n]
    settled = per_s[n] if normal[n] else fixed[n] + t * per_s[n]
    least = ndimage.minimum_filter(np.where(solid[n], np.inf, settled), footprint=near, mode="constant", cval=np.inf)
    if normal[n]:
        with np.errstate(divide="ignore"):
            fuse_s[n][narrow] = threshold[n] / least[narrow]
    else:
        filled[n] |= narrow & (least >= threshold[n])

# Fuse: flat gaps, by changes along each column. All empty pixels of the earliest layer within reach have to fill. One
# over the plate is no gap of the print, but props the solid on it.
latest = np.full(shape, np.inf)
for n in range(layers):
    with np.errstate(divide="ignore", invalid="ignore"):
        needed = np.where(fixed[n] >= threshold[n], 0, (threshold[n] - fixed[n]) / per_s[n])
    latest[n] = ndimage.maximum_filter(np.where(solid[n], -1, needed), footprint=disc(3 * blur), mode="constant", cval=-1)
by_base = np.zeros(shape, bool)
propped = np.zeros(shape, bool)
for r in range(rows):
    for c in range(cols):
        change = np.diff(np.concatenate([[0], (~solid[:, r, c]).astype(int), [0]]))
        for first, after in zip(np.flatnonzero(change == 1), np.flatnonzero(change == -1)):
            if after == layers or height[first:after].sum() > 4 * dp + 1e-9:
                continue
            critical = latest[first, r, c]
            propped[after, r, c] = t >= critical
            if first == 0:
                continue
            for k in range(first, after):
                if not normal[k]:
                    filled[k, r, c] |= t >= critical
                elif critical == 0:
                    by_base[k, r, c] = True
                else:
                    fuse_s[k, r, c] = min(fuse_s[k, r, c], critical)
fuse_s[by_base] = np.inf
filled |= by_base
base_fuse = voxel[filled].sum()
lost |= filled | (t >= fuse_s)

# Details: what will flip and what may, joined apart; base and transition layers apart from normal ones.
spread, ordinary = job["dose_spread"], normal[:, None, None]
own_time = np.where(normal, t, time)[:, None, None]
with np.errstate(divide="ignore"):
    chances = {
        "vanish": (special.ndtr(np.log(vanish_s / own_time) / spread), vanish_s),
        "fuse": (special.ndtr(-np.log(fuse_s / t) / spread), fuse_s),
    }
joined = np.zeros((3, 3, 3), bool)
joined[1], joined[0, 1, 1], joined[2, 1, 1] = True, True, True
details, crumbs = [], 0
for fate, (chance, critical) in chances.items():
    for will, base in ((True, False), (True, True), (False, False), (False, True)):
        of_state = chance >= 0.5 if will else (chance < 0.5) & (chance >= job["least_chance"])
        labels, _ = ndimage.label(of_state & (ordinary != base), structure=joined)
        for index, where in enumerate(ndimage.find_objects(labels)):
            inside = labels[where] == index + 1
            volume = voxel[where][inside].sum()
            z, y, x = where
            if volume < job["least_mm3"] or (z.stop - z.start == 1 and volume < job["least_flat_mm3"]):
                crumbs += 1
                continue
            details.append(
                {
                    "fate": fate, "will": will, "base": base, "from_layer": z.start + 1, "to_layer": z.stop,
                    "box": [x.start, y.start, x.stop, y.stop], "voxels": int(inside.sum()), "volume_mm3": volume,
                    "critical_s": np.median(critical[where][inside]),
                }
            )

failures = []


def same(name, ours, theirs, tolerance):
    """Relative difference, where both are finite; infinities must match."""
    ours, theirs = np.asarray(ours, float), np.asarray(theirs, float)
    if ours.shape != theirs.shape or not np.array_equal(np.isfinite(ours), np.isfinite(theirs)):
        failures.append(f"{name}: shapes or infinite places differ")
        return
    finite = np.isfinite(ours)
    ours, theirs = ours[finite], theirs[finite]
    worst = np.max(np.abs(ours - theirs) / np.maximum(1e-6, np.abs(theirs)), initial=0)
    if worst > tolerance:
        failures.append(f"{name}: differs by {worst:.3g}")


same("light", light, load("light.f64", float), 1e-6)
same("settled_fixed", fixed, load("settled_fixed.f64", float), 1e-6)
same("settled_per_s", per_s, load("settled_per_s.f64", float), 1e-6)
same("vanish_s", vanish_s, load("vanish_s.f64", float), 1e-6)
same("fuse_s", fuse_s, load("fuse_s.f64", float), 1e-6)
for name, mine in (("bulk", bulk), ("propped", propped)):
    if np.count_nonzero(mine != load(f"{name}.u8", np.uint8).astype(bool)):
        failures.append(f"{name} voxels differ")
same("base_vanish_mm3", base_vanish, job["base_vanish_mm3"], 1e-9)
same("base_fuse_mm3", base_fuse, job["base_fuse_mm3"], 1e-9)
if np.count_nonzero(lost != load("lost.u8", np.uint8).astype(bool)):
    failures.append("lost voxels differ")
if len(details) != len(job["details"]) or crumbs != job["crumbs"]:
    failures.append(f"details: {len(details)} and {crumbs} crumbs here, {len(job['details'])} and {job['crumbs']} there")
else:
    key = lambda d: (d["fate"], d["will"], d["base"], d["from_layer"], d["box"], d["to_layer"], d["voxels"])
    for mine, other in zip(sorted(details, key=key), sorted(job["details"], key=key)):
        if key(mine) != key(other):
            failures.append(f"detail {mine} is not {other}")
        for field in ("volume_mm3", "critical_s"):
            same(f"detail {field}", mine[field], other[field], 1e-6)

print(f"{int(lost.sum())} of {lost.size} voxels lost, {len(details)} details, {crumbs} crumbs"
      f" ({sum(d['fate'] == 'fuse' for d in details)} fuse); base {base_vanish:.4f} and {base_fuse:.4f} mm3")
for line in failures:
    print("differs:", line)
sys.exit(1 if failures else 0)
