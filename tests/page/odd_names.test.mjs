// Foreign names on the pages: they show, do nothing, and turn or hide nothing beside them.
import assert from 'node:assert/strict';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { pathToFileURL } from 'node:url';
import { assertQuiet, launch, open, violations } from './browser.mjs';
import { byRecord, freshFolder, hairline, oddNames, toPage, writeJob } from './program.mjs';

const folder = freshFolder();
let browser;
before(async () => { browser = await launch(); });
after(() => browser.close());

// A block, a wall too thin to stand, and an island.
const solid = (x, y, layer) => (x < 24 && y < 36) || (x === 36 && y > 4 && y < 36) || (layer > 4 && x > 40 && y < 6);

function writeRecord(name, file) {
  const record = {
    format: 'resin-record', version: 1, resin: { label: name, colour: name, kind: name, batch: name },
    printer: { label: name, pitch_mm: 0.05 }, conditions: { date: '2026-11-01' }, layer_height_mm: 0.05,
    readings: { bracket: [2, 2.4, 2.8].map((exposure_s, i) => ({ exposure_s, thinnest_wall_mm: 0.1 - 0.02 * i, narrowest_slot_mm: 0.08 + 0.01 * i })) },
    fit: { bond_time_s: 1.6, fuse_time_s: 0.55, blur_mm: 0.04, penetration_depth_mm: 0.16, blur_shape: 'gaussian',
           valid_from_s: 1.8, valid_to_s: 3.2 },
  };
  writeFileSync(join(folder, file), JSON.stringify(record));
}

/** Nothing of the name has become an element or ran, no character turns or hides text, and nothing sticks out. */
async function assertSafe(page, scripts) {
  assertQuiet(page);
  assert.notEqual(await page.title(), 'taken');
  assert.equal(await page.locator('img').count(), 0);
  assert.equal(await page.locator('script').count(), scripts);
  assert.equal(await page.locator('[onerror], [onload], [onclick]').count(), 0);
  const texts = await page.evaluate(() => [document.title, document.body.textContent.replaceAll(/\s+/g, ' '),
    ...[...document.querySelectorAll('*')].flatMap((one) => [...one.attributes].map((attribute) => attribute.value))]
    .filter((text) => !text.startsWith('data:')));
  const script = await page.$$eval('script, style', (all) => all.map((one) => one.textContent.replaceAll(/\s+/g, ' ')));
  for (const text of texts)
    assert.doesNotMatch(script.reduce((rest, part) => rest.replace(part, ''), text), /[\u0000-\u0008\u000e-\u001f\u007f-\u009f\u200e\u200f\u202a-\u202e\u2066-\u2069]/);
  assert.ok(await page.evaluate(() => document.documentElement.scrollWidth) <= 390, 'nothing sticks out to the right');
  assert.deepEqual(await violations(page), []);
}

for (const [kind, name] of Object.entries(oddNames)) {
  test(`${kind} in the names of job, resin, printer and file: the report's page`, async () => {
    writeRecord(name, `${kind}.json`);
    // A file name holds no slash and no zero byte, and at most 255 bytes.
    const job = name.replaceAll('/', '|').slice(0, 120);
    writeJob(join(folder, job), { title: name, resin: name, printer: name, width: 48, height: 40, layers: 8, solid });
    const { url, json } = toPage(folder, job, 'check', ...byRecord(`${kind}.json`));
    const page = await open(browser, url, { width: 390 });
    await assertSafe(page, 2);
    assert.deepEqual(JSON.parse(await page.textContent('#report')), json);
    assert.ok((await page.textContent('h1')).includes(name.slice(0, 4)), 'its beginning shows');
    await page.context().close();
  });
}

for (const [kind, name] of Object.entries(oddNames)) {
  test(`${kind} in the names of a record: its page`, async () => {
    writeRecord(name, `${kind}.json`);
    hairline(folder, 'record', 'show', `${kind}.json`, '--html', `record-${kind}.html`);
    const page = await open(browser, pathToFileURL(join(folder, `record-${kind}.html`)).href, { width: 390 });
    await assertSafe(page, 0);
    assert.ok((await page.textContent('h1')).includes(name.slice(0, 4)), 'its beginning shows');
    await page.context().close();
  });
}
