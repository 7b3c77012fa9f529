// Pages of large jobs: how many bytes they have, and that they still work.
import assert from 'node:assert/strict';
import { statSync } from 'node:fs';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { assertQuiet, launch, open } from './browser.mjs';
import { byRecord, freshFolder, toPage, writeDemo, writePlateOf6000 } from './program.mjs';
import { assertShownEquals } from './shown.mjs';

const folder = freshFolder();
let browser;
before(async () => { browser = await launch(); });
after(() => browser.close());

test('the page of a night has under 5 MB, the whole JSON, and its numbers', async () => {
  writeDemo(folder, true);
  const { file, url, json } = toPage(folder, 'lighthouse-night.zip', 'check', ...byRecord('harbour-grey.json'));
  assert.ok(statSync(file).size < 5e6, `${statSync(file).size} bytes`);
  const page = await open(browser, url);
  assert.deepEqual(JSON.parse(await page.textContent('#report')), json);
  await assertShownEquals(page, json);
  assertQuiet(page);
});

test('the page of a plate with 6000 findings has under 10 MB, says what it leaves out, and works', async () => {
  writePlateOf6000(join(folder, 'bollards'));
  const { file, url, json } = toPage(folder, 'bollards', 'check', ...byRecord('harbour-grey.json'));
  assert.ok(json.details.length >= 6000, `${json.details.length} details`);
  assert.ok(statSync(file).size < 10e6, `${statSync(file).size} bytes`);
  const page = await open(browser, url), held = JSON.parse(await page.textContent('#report'));
  const note = (await page.textContent('#data-note')).trim();
  if (held.details.length < json.details.length) {
    assert.deepEqual(held.details, json.details.slice(0, held.details.length), 'cut at its end');
    assert.ok(note.includes(String(held.details.length)) && note.includes(String(json.details.length)), note);
  } else assert.deepEqual(held, json);
  const rows = await page.locator('#details tbody tr').count();
  if (rows < json.details.length) assert.ok((await page.textContent('#rows-left-out')).includes(String(rows)));
  await page.locator('#details button.sort[data-field="extent_mm"]').click();
  const extents = await page.$$eval('#details td[data-field="extent_mm"]', (all) => all.map((one) => Number(one.dataset.value)));
  assert.deepEqual(extents, [...extents].sort((a, b) => a - b));
  await page.selectOption('#filter-outcome', 'rounding');
  assert.equal(await page.textContent('#filter-count'), `${await page.locator('#details tbody tr:not([hidden])').count()} of ${rows}`);
  const mark = page.locator('a.mark').first();
  await mark.focus();
  await page.keyboard.press('Enter');
  assert.equal(await page.evaluate(() => location.hash), await mark.getAttribute('href'));
  assertQuiet(page);
});
