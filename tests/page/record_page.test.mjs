// The page of a resin record, `record show --html`.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { after, before, test } from 'node:test';
import { assertLooksAsKept, assertQuiet, launch, open, tabThrough, violations } from './browser.mjs';
import { freshFolder, hairline, today, writeDemo } from './program.mjs';

const folder = freshFolder(), file = join(folder, 'record.html');
let browser, record;
before(async () => {
  writeDemo(folder);
  record = JSON.parse(readFileSync(join(folder, 'harbour-grey.json'), 'utf8'));
  hairline(folder, 'record', 'show', 'harbour-grey.json', '--today', today, '--html', file);
  browser = await launch();
});
after(() => browser.close());

async function onPage(how, act) {
  const page = await open(browser, pathToFileURL(file).href, how);
  try {
    await act(page);
    assertQuiet(page);
  } finally {
    await page.context().close();
  }
}

test('each reading has a mark on the limit curves, by its value, and one among the residuals', () => onPage({}, async (page) => {
  const fields = { wall: 'thinnest_wall_mm', slot: 'narrowest_slot_mm', pin: 'thinnest_pin_mm', hole: 'smallest_hole_mm' };
  const readings = record.readings.bracket;
  for (const [kind, field] of Object.entries(fields)) {
    const read = readings.filter((one) => typeof one[field] === 'number');
    const titles = await page.$$eval(`.limit-chart [data-mark="${kind}"] title`, (all) => all.map((one) => one.textContent));
    assert.deepEqual(titles, read.map((one) => `${kind} read at ${one.exposure_s} s: ${one[field]} mm`));
  }
  // Marks of one kind lie as far apart as their values: places are linear in time and width.
  const places = await page.$$eval('.limit-chart [data-mark="wall"]', (all) => all.map((one) => [Number(one.getAttribute('x')), Number(one.getAttribute('y'))]));
  const walls = readings.filter((one) => typeof one.thinnest_wall_mm === 'number');
  for (const [axis, field] of [[0, 'exposure_s'], [1, 'thinnest_wall_mm']]) {
    const scale = (places.at(-1)[axis] - places[0][axis]) / (walls.at(-1)[field] - walls[0][field]);
    walls.forEach((wall, i) => assert.ok(Math.abs(places[i][axis] - places[0][axis] - scale * (wall[field] - walls[0][field])) < 0.25));
  }
  const rows = await page.locator('#in-words tr', { hasText: / at [\d.]+ s/ }).count();
  assert.equal(await page.locator('.residual-chart [data-mark="residual"]').count(), rows);
}));

test('the time to use is the one that record show says', () => onPage({}, async (page) => {
  const said = hairline(folder, 'record', 'show', 'harbour-grey.json', '--today', today).replaceAll(/\s+/g, ' ');
  const [, use, from, to] = said.match(/Use ([\d.]+) s for ordinary jobs \(good from ([\d.]+) to ([\d.]+) s\)/);
  assert.equal(await page.textContent('[data-use="exposure_s"]'), `${use} s`);
  assert.equal(await page.textContent('[data-use="from_s"]'), from);
  assert.equal(await page.textContent('[data-use="to_s"]'), to);
}));

for (const [width, colours] of [[1280, 'light'], [390, 'dark']])
  test(`${width} wide, ${colours}: axe-core finds no serious violation, Tab gets through, and it looks as kept`, () =>
    onPage({ width, colours }, async (page) => {
      assert.deepEqual(await violations(page), []);
      await tabThrough(page, 100);
      assert.ok(await page.evaluate(() => document.documentElement.scrollWidth) <= width, 'nothing sticks out to the right');
      await assertLooksAsKept(browser, page, `record-${width}-${colours}`);
    }));
