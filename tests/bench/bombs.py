#!/usr/bin/env python3
"""Small files that ask for much memory, each checked in a process of its own: peak memory (getrusage), time, and how it
ended. Usage: bombs.py HAIRLINE RECORD [NAME ...]; drawn in a temporary folder, the same on every run."""
import json, os, random, struct, subprocess, sys, tempfile, time, zipfile, zlib


def png(width, height, rows):
    packer = zlib.compressobj(6)
    data = b"".join(packer.compress(b"\0" + row) for row in rows) + packer.flush()

    def chunk(kind, body):
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b"")


def write_job(path, width, height, masks):
    manifest = {
        "format": "layer-archive", "version": 1, "title": "bomb",
        "image": {"width_px": width, "height_px": height, "pitch_x_mm": 0.05, "pitch_y_mm": 0.05},
        "layers": {"count": len(masks), "height_mm": 0.05, "files": "layers/*.png"},
        "exposure": {"normal_s": 2.8}}
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("manifest.json", json.dumps(manifest))
        for number, mask in enumerate(masks, 1):
            archive.writestr(f"layers/{number:05}.png", mask)


def pattern(width, height, row):
    return png(width, height, (row(y)[:width] for y in range(height)))


def chequer(width, height, pixels, shift=0):
    line = (b"\xff" * pixels + b"\0" * pixels) * (width // pixels + 2)
    return pattern(width, height, lambda y: line[((y // pixels + shift) % 2) * pixels:])


def dots(width, height, solid, every):
    line = (b"\xff" * solid + b"\0" * (every - solid)) * (width // every + 1)
    return pattern(width, height, lambda y: line if y % every < solid else b"\0" * width)


def noise(width, height, share, seed):
    source = random.Random(seed)
    solid = bytes(255 if i < share * 256 else 0 for i in range(256))
    return pattern(width, height, lambda y: source.randbytes(width).translate(solid))


def grey_noise(width, height, seed):
    source = random.Random(seed)
    return pattern(width, height, lambda y: source.randbytes(width))


def full(width, height):
    return pattern(width, height, lambda y: b"\xff" * width)


def lattice(width, height, layer):
    line = (b"\xff" * 14 + b"\0" * 14) * (width // 28 + 2)
    return pattern(width, height, lambda y: line[(layer * 5) % 28:] if (y + layer * 5) % 28 < 14
                   else b"\xff" * width if y % 56 < 3 else b"\0" * width)


BOMBS = {
    "chequer": lambda: (4000, 4000, [chequer(4000, 4000, 1)] * 3),
    "chequer of 2": lambda: (3840, 2400, [chequer(3840, 2400, 2)] * 10),
    "stripes": lambda: (10000, 10000, [pattern(10000, 10000, lambda y: b"\xff\0" * 5000)] * 3),
    "uneven stripes": lambda: (8000, 8000, [pattern(8000, 8000, lambda y: (b"\xff\0", b"\xff\xff\0\0")[y % 2] * 4000)] * 3),
    "level stripes": lambda: (8000, 8000, [pattern(8000, 8000, lambda y: (b"\xff", b"\0")[y % 2] * 8000)] * 5),
    "zigzag": lambda: (10000, 10000, [pattern(10000, 10000, lambda y: (b"\1\2", b"\2\1")[y % 2] * 5000)] * 3),
    "dither": lambda: (3840, 2400, [chequer(3840, 2400, 1, n) for n in range(10)]),
    "noise": lambda: (4000, 4000, [noise(4000, 4000, 0.3, n) for n in range(6)]),
    "grey noise": lambda: (4000, 4000, [grey_noise(4000, 4000, n) for n in range(3)]),
    "islands": lambda: (6000, 6000, [dots(6000, 6000, 2, 4), dots(6000, 6000, 0, 4)] * 5),
    "details": lambda: (6000, 6000, [full(6000, 6000)] * 5 + [dots(6000, 6000, 3, 12)] * 10),
    "flat gaps": lambda: (6000, 6000, [full(6000, 6000), dots(6000, 6000, 7, 12)] * 8),
    "lattice": lambda: (7680, 4320, [lattice(7680, 4320, n) for n in range(24)]),
}


def run(hairline, record, job, folder):
    began = time.time()
    with open(os.path.join(folder, "said"), "w+") as said:
        child = subprocess.Popen([hairline, "check", job, "--record", record, "--threads", "2", "--json", os.path.join(folder, "report.json")],
                                 stdout=subprocess.DEVNULL, stderr=said)
        _, status, used = os.wait4(child.pid, 0)
        said.seek(0)
        words = " ".join(said.read().split())
    return used.ru_maxrss / 1000 * 1.024, used.ru_utime + used.ru_stime, time.time() - began, os.waitstatus_to_exitcode(status), words


def main():
    hairline, record, names = os.path.abspath(sys.argv[1]), os.path.abspath(sys.argv[2]), sys.argv[3:] or list(BOMBS)
    over = 0
    print(f"{'job':<15} {'peak MB':>8} {'cpu s':>6} {'s':>6} {'exit':>4}")
    for name in names:
        with tempfile.TemporaryDirectory() as folder:
            job = os.path.join(folder, "job.zip")
            write_job(job, *BOMBS[name]())
            peak_mb, cpu_s, wall_s, status, words = run(hairline, record, job, folder)
        over += peak_mb > 1000 or status not in (0, 1, 2)
        print(f"{name:<15} {peak_mb:8.0f} {cpu_s:6.1f} {wall_s:6.1f} {status:4}  {words[-200:]}", flush=True)
    return 1 if over else 0


sys.exit(main())
