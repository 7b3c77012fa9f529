# Writes many small layer archives into a folder: small_jobs.py FOLDER COUNT. Invented plates of one picket each; every
# 100th is cut off, every 50th is the same as the one before it.
import io
import json
import struct
import sys
import zipfile
import zlib

folder, count = sys.argv[1], int(sys.argv[2])
width, height, layers = 64, 48, 6


def chunk(kind, data):
    body = kind + data
    return struct.pack(">I", len(data)) + body + struct.pack(">I", zlib.crc32(body))


def png(picket_px, number):
    block = bytes(255 if 8 <= x < 40 or 44 <= x < 44 + picket_px else 0 for x in range(width))
    rows = b"".join(b"\0" + (block if 8 <= y < 40 else bytes(width)) for y in range(height))
    header = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")


def archive(number):
    manifest = {
        "format": "layer-archive", "version": 1, "title": f"picket {number}",
        "image": {"width_px": width, "height_px": height, "pitch_x_mm": 0.05, "pitch_y_mm": 0.05},
        "layers": {"count": layers, "height_mm": 0.05},
        "exposure": {"normal_s": round(2.2 + number % 17 * 0.05, 2), "base_s": 25, "base_layers": 2},
    }
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as job:
        job.writestr("manifest.json", json.dumps(manifest))
        for layer in range(1, layers + 1):
            job.writestr(f"layers/{layer:05}.png", png(1 + number % 5, layer))
    return packed.getvalue()


for number in range(1, count + 1):
    data = archive(number - 1 if number % 50 == 0 else number)
    with open(f"{folder}/picket-{number:04}.zip", "wb") as job:
        job.write(data[: len(data) // 2] if number % 100 == 0 else data)
