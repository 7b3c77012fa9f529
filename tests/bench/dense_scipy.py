"""The dense measures of one layer with SciPy, for reference: ms of processor time per step.

    python3 tests/bench/dense_scipy.py ARCHIVE.zip [--layer N] [--blur-px S]

ARCHIVE is a layer archive, for example one that bench_whole has drawn. PNG decoding is not timed.
Needs numpy and scipy; 8-bit grey PNG is read here, with zlib, so that nothing else is needed.
"""
import argparse
import json
import struct
import time
import zipfile
import zlib

import numpy as np
from scipy import ndimage


def read_grey_png(data):
    """Pixels of an 8-bit grey PNG, not interlaced (ISO/IEC 15948); filters None, Sub and Up by whole rows."""
    width, height, depth, colour, _, _, interlace = struct.unpack(">IIBBBBB", data[16:29])
    if (depth, colour, interlace) != (8, 0, 0):
        raise SystemExit("only 8-bit grey PNG, not interlaced, is read here")
    at, packed = 8, []
    while at < len(data):
        length, kind = struct.unpack(">I4s", data[at:at + 8])
        if kind == b"IDAT":
            packed.append(data[at + 8:at + 8 + length])
        at += 12 + length
    rows = np.frombuffer(zlib.decompress(b"".join(packed)), np.uint8).reshape(height, width + 1)
    pixels, above = np.empty((height, width), np.uint8), np.zeros(width, np.uint8)
    for r, row in enumerate(rows):
        kind, values = row[0], row[1:]
        if kind == 0:
            above = values
        elif kind == 1:
            above = np.cumsum(values, dtype=np.uint8)
        elif kind == 2:
            above = above + values
        else:
            raise SystemExit(f"row filter {kind} is not read here; draw the plate with --filter none or up")
        pixels[r] = above
    return pixels


def main():
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("archive")
    options.add_argument("--layer", type=int, default=0, help="1-based; 0: the middle one")
    options.add_argument("--blur-px", type=float, default=0.035 / 0.03)
    given = options.parse_args()
    with zipfile.ZipFile(given.archive) as archive:
        masks = sorted(name for name in archive.namelist() if name.endswith(".png"))
        number = given.layer or max(2, len(masks) // 2)
        size = json.loads(archive.read("manifest.json"))["image"]
        grey, above = (read_grey_png(archive.read(masks[n - 1])) for n in (number, max(1, number - 1)))
    assert grey.shape == (size["height_px"], size["width_px"])
    above = above >= 128

    total = 0.0

    def step(name, work):
        nonlocal total
        start = time.process_time()
        value = work()
        spent = 1e3 * (time.process_time() - start)
        total += spent
        print(f"  {name:<14} {spent:9.1f} ms")
        return value

    print(f"layer {number} of {given.archive}, {grey.shape[1]} x {grey.shape[0]}")
    solid = step("threshold", lambda: grey >= 128)
    labels, pieces = step("pieces", lambda: ndimage.label(solid, np.ones((3, 3))))
    step("areas, boxes", lambda: (np.bincount(labels.ravel()), ndimage.find_objects(labels)))
    step("overlap", lambda: np.count_nonzero(solid & above))
    step("distance", lambda: ndimage.distance_transform_edt(solid))
    light = step("blur", lambda: ndimage.gaussian_filter(grey.astype(np.float32) / 255, given.blur_px,
                                                         mode="constant", radius=int(np.ceil(5 * given.blur_px))))
    step("settled light", lambda: light + np.float32(0.73) * light)
    reach = 3 * given.blur_px
    y, x = np.mgrid[-int(reach):int(reach) + 1, -int(reach):int(reach) + 1]
    step("dilate", lambda: ndimage.grey_dilation(np.where(solid, light, 0), footprint=np.hypot(x, y) <= reach))
    print(f"  {'all':<14} {total:9.1f} ms, {1e6 * total / grey.size:.1f} ns per pixel; {pieces} pieces, "
          f"{np.count_nonzero(solid)} solid pixels")


if __name__ == "__main__":
    main()
