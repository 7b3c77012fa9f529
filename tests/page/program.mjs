// The program, its demo jobs, and jobs made here, in a folder of their own that is gone afterwards.
import { execFileSync, spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { deflateSync } from 'node:zlib';

const binary = process.env.HAIRLINE_BINARY;
// The record of the demo is dated 2026-11-01; a fixed day keeps its age.
export const today = '2026-11-07';

/** A fresh folder, removed when the test program ends. */
export function freshFolder() {
  const folder = mkdtempSync(join(tmpdir(), 'hairline-page-'));
  process.on('exit', () => rmSync(folder, { recursive: true, force: true }));
  return folder;
}

/** Runs the program; an exit status that is none of `statuses` fails the test. Returns its standard output. */
export function hairlineEnding(statuses, folder, ...words) {
  const ran = spawnSync(binary, words, { cwd: folder, encoding: 'utf8', maxBuffer: 1 << 28 });
  if (!statuses.includes(ran.status)) throw new Error(`hairline ${words.join(' ')}: ${ran.status}\n${ran.stderr}`);
  return ran.stdout;
}
/** The same where the statuses are those of a finished check. */
export const hairline = (folder, ...words) => hairlineEnding([0, 1], folder, ...words);

/** Writes the demo jobs and records; the night-long job only when asked for. */
export function writeDemo(folder, night = false) {
  execFileSync(binary, ['demo', ...(night ? [] : ['--small']), folder]);
}

/** Checks a job of `folder` by the words given, and returns the address of its page and what --json wrote, parsed. */
export function toPage(folder, job, ...words) {
  const page = join(folder, `page-${pages++}.html`), json = page.replace('html', 'json');
  hairline(folder, words[0], job, ...words.slice(1), '--html', page, '--json', json);
  return { file: page, url: pathToFileURL(page).href, json: JSON.parse(readFileSync(json, 'utf8')) };
}
let pages = 1;
export const byRecord = (record) => ['--record', record, '--today', today];

function crc32(bytes) {
  let crc = 0xffffffff;
  for (const byte of bytes) {
    crc ^= byte;
    for (let bit = 0; bit < 8; bit++) crc = (crc >>> 1) ^ (crc & 1 ? 0xedb88320 : 0);
  }
  return (crc ^ 0xffffffff) >>> 0;
}

function chunk(name, data) {
  const body = Buffer.concat([Buffer.from(name, 'latin1'), data]);
  const out = Buffer.alloc(body.length + 8);
  out.writeUInt32BE(data.length, 0);
  body.copy(out, 4);
  out.writeUInt32BE(crc32(body), body.length + 4);
  return out;
}

/** An 8-bit grey PNG (W3C PNG, 2nd edition, sections 5 and 11) whose pixels are 255 where `solid(x, y)`. */
export function png(width, height, solid) {
  const head = Buffer.alloc(13);
  head.writeUInt32BE(width, 0);
  head.writeUInt32BE(height, 4);
  head[8] = 8;
  const rows = Buffer.alloc((width + 1) * height);
  for (let y = 0; y < height; y++) for (let x = 0; x < width; x++) if (solid(x, y)) rows[y * (width + 1) + 1 + x] = 255;
  const parts = [chunk('IHDR', head), chunk('IDAT', deflateSync(rows)), chunk('IEND', Buffer.alloc(0))];
  return Buffer.concat([Buffer.from('\x89PNG\r\n\x1a\n', 'latin1'), ...parts]);
}

/** A ZIP archive of stored files, [name, bytes] each (PKWARE APPNOTE, sections 4.3.7, 4.3.12 and 4.3.16). */
export function zipOf(files) {
  const parts = [], directory = [];
  let at = 0;
  for (const [name, bytes] of files) {
    const path = Buffer.from(name), shared = Buffer.alloc(26);
    shared.writeUInt16LE(20, 0);
    shared.writeUInt32LE(crc32(bytes), 10);
    shared.writeUInt32LE(bytes.length, 14);
    shared.writeUInt32LE(bytes.length, 18);
    shared.writeUInt16LE(path.length, 22);
    const place = Buffer.alloc(14);
    place.writeUInt32LE(at, 10);
    parts.push(Buffer.from('PK\x03\x04', 'latin1'), shared, path, bytes);
    directory.push(Buffer.from('PK\x01\x02\x14\0', 'latin1'), shared, place, path);
    at += 30 + path.length + bytes.length;
  }
  const list = Buffer.concat(directory), end = Buffer.alloc(22);
  end.write('PK\x05\x06', 0, 'latin1');
  for (const place of [8, 10]) end.writeUInt16LE(files.length, place);
  end.writeUInt32LE(list.length, 12);
  end.writeUInt32LE(at, 16);
  return Buffer.concat([...parts, list, end]);
}

/** A job as a folder of masks; `solid(x, y, layer)`, layers from 1. */
export function writeJob(folder, { title, resin = 'harbour grey', printer = 'bench two', width, height, layers, solid }) {
  mkdirSync(join(folder, 'layers'), { recursive: true });
  const manifest = {
    format: 'layer-archive', version: 1, title,
    image: { width_px: width, height_px: height, pitch_x_mm: 0.05, pitch_y_mm: 0.05 },
    layers: { count: layers, height_mm: 0.05, files: 'layers/*.png' },
    exposure: { normal_s: 2.5, base_s: 25, base_layers: 2 },
    motion: { lift_mm: 6, lift_mm_per_min: 60, retract_mm_per_min: 150, rest_before_s: 0, rest_after_s: 0.5 },
    resin: { label: resin, density_g_per_ml: 1.1 }, printer: { label: printer },
  };
  writeFileSync(join(folder, 'manifest.json'), JSON.stringify(manifest));
  for (let layer = 1; layer <= layers; layer++)
    writeFileSync(join(folder, 'layers', `${String(layer).padStart(5, '0')}.png`),
                  png(width, height, (x, y) => solid(x, y, layer)));
}

/** A plate of at least 6000 walls one pixel wide on a slab: all of them vanish, no two neighbours are of one size. */
export function writePlateOf6000(folder) {
  const cell = 16;
  const wall = (x, y, layer) => {
    const column = Math.floor(x / cell), row = Math.floor(y / cell);
    return x % cell === 8 && y % cell >= 3 && y % cell < 6 + ((column + row) % 7) && layer <= 5 + ((column * row) % 4);
  };
  writeJob(folder, { title: 'Field of bollards', width: 80 * cell, height: 75 * cell, layers: 9,
                     solid: (x, y, layer) => layer <= 2 || wall(x, y, layer) });
}

/** Texts that must show as they are, and do nothing: each stands in a place where a foreign name may stand. */
export const oddNames = {
  quotes: `buoy "nun" 'can' \`bell\` & more`,
  brackets: `</script><script>document.title='taken'</script><img src=x onerror="document.title='taken'">`,
  comment: '<!--<script> --> ]]> </title></style>',
  rightToLeft: 'lamp \u202egnp.exe\u202c \u0634\u0645\u0639\u0629',
  control: 'bell\u0007 line\nbreak\ttab \u001b[31mred \u0085 \u2028 end',
  long: 'quay '.repeat(100).trim(),
  unbroken: 'quay'.repeat(125),
};
