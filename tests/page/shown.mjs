// What the page shows, read back from its elements and held against the report's JSON.
import assert from 'node:assert/strict';

const at = (json, path) => path.split('.').reduce((value, name) => value?.[name], json);

// "1 h 27 min", "9 min 58 s": seconds, and half of the last unit.
function duration(text) {
  const units = { h: 3600, min: 60, s: 1 };
  const parts = [...text.matchAll(/(\d+) (h|min|s)\b/g)].map(([, count, unit]) => [Number(count) * units[unit], units[unit]]);
  return { value: parts.reduce((sum, [seconds]) => sum + seconds, 0), room: parts.at(-1)[1] / 2 };
}

// The first number of a text, and half of its last digit. Trailing zeros of a whole number may be rounded ones.
function number(text) {
  const [, whole, part = ''] = text.match(/(-?\d+)(\.\d+)?/);
  const zeros = part ? 0 : whole.replace(/^-?0$/, '').match(/0*$/)[0].length;
  return { value: Number(whole + part), room: 0.5 * 10 ** (part ? 1 - part.length : zeros) };
}

/** `text` says `value`, to the digits it has; "under", "over" and a dash likewise. */
export function assertSays(text, value, what) {
  if (typeof value === 'string') return assert.equal(text, value, what);
  if (value === null) return assert.match(text, /^\D*$/, what);
  const { value: said, room } = /\d (h|min|s)\b/.test(text) && /duration/.test(what) ? duration(text) : number(text);
  const scale = text.endsWith('%') ? 100 : 1, real = value * scale;
  if (text.startsWith('under')) return assert.ok(real < said + 1e-9, `${what}: ${text}, ${real}`);
  if (text.startsWith('over')) return assert.ok(real > said - 1e-9, `${what}: ${text}, ${real}`);
  assert.ok(Math.abs(said - real) <= room * 1.0001, `${what}: ${text}, ${real}`);
}

const middle = (detail, axis) => (detail.box_mm[0][axis] + detail.box_mm[1][axis]) / 2;

function fieldOf(detail, field) {
  if (field === 'x_mm') return middle(detail, 0);
  if (field === 'y_mm') return middle(detail, 1);
  assert.ok(field in detail, `${field} is a field of a detail`);
  return detail[field];
}

/** Every element that says which field it shows, shows it; the tables of details and widths have all rows and say the same. */
export async function assertShownEquals(page, json) {
  const shown = await page.$$eval('[data-json]', (all) => all.map((one) => [one.dataset.json, one.textContent.trim()]));
  const paths = shown.map(([path]) => path);
  for (const needed of ['job.duration_s', 'job.resin_ml', 'job.layers']) assert.ok(paths.includes(needed), needed);
  for (const [path, text] of shown) assertSays(text, at(json, path), path);
  const details = await page.$$eval('#details tbody tr', (rows) => rows.map((row) => [...row.querySelectorAll('[data-field]')].map(
      (cell) => [cell.dataset.field, cell.dataset.value ?? null, cell.textContent.trim()])));
  assert.equal(details.length, json.details.length);
  details.forEach((cells, i) => {
    for (const [field, value, text] of cells) {
      const real = fieldOf(json.details[i], field), what = `details[${i}].${field}`;
      if (real === null || real === undefined) assert.equal(value, null, what);
      else assert.ok(Math.abs(Number(value) - real) <= 1e-5 * Math.abs(real) + 1e-9, `${what}: ${value}, ${real}`);
      assertSays(text, real ?? null, what);
    }
  });
  const widths = await page.$$eval('#widths tbody tr', (rows) => rows.map((row) => [...row.querySelectorAll('[data-field]')].map(
      (cell) => [cell.dataset.field, cell.textContent.trim()])));
  assert.equal(widths.length, json.growth?.widths.length ?? 0);
  widths.forEach((cells, i) => {
    for (const [field, text] of cells) assertSays(text, json.growth.widths[i][field], `widths[${i}].${field}`);
  });
}
