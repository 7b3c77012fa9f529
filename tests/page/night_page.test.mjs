// The page of a night, `queue --html`: index.html beside the pages of its jobs.
import assert from 'node:assert/strict';
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { after, before, test } from 'node:test';
import { assertQuiet, launch, open, tabThrough, violations } from './browser.mjs';
import { freshFolder, hairlineEnding, oddNames, today, writeDemo, writeJob } from './program.mjs';

const folder = freshFolder();
let browser, night;
const pageOf = (name) => pathToFileURL(join(folder, name, 'index.html')).href;

/** Checks a queue file and returns what its --json wrote; a queue with a broken job ends with status 2. */
function check(name, queue) {
  writeFileSync(join(folder, `${name}.json`), JSON.stringify({ format: 'print-queue', version: 1, zone: 'Europe/Berlin', ...queue }));
  hairlineEnding([0, 1, 2], folder, 'queue', `${name}.json`, '--no-cache', '--record', 'harbour-grey.json', '--today', today,
                 '--json', name, '--html', name);
  return JSON.parse(readFileSync(join(folder, name, 'queue.json'), 'utf8'));
}

before(async () => {
  writeDemo(folder);
  writeFileSync(join(folder, 'wreck.zip'), 'no archive\n');
  night = check('night', {
    start: '2026-11-26T22:00', ready_by: '2026-11-26T23:30',
    printers: [{ label: 'quay bench', resin_ml: 480, vat_ml: 250, changeover_min: 20 }, { label: 'lamp bench' }],
    jobs: [{ file: 'hull.zip', printer: 'quay bench', copies: 2 }, { file: 'nameplate.zip', printer: 'quay bench' },
           { file: 'gallery-small.zip', printer: 'lamp bench' }, { file: 'rigging.zip' }, { file: 'wreck.zip', printer: 'quay bench' }],
  });
  browser = await launch();
});
after(() => browser.close());

async function onPage(how, act, name = 'night') {
  const page = await open(browser, pageOf(name), how);
  try {
    await act(page);
    assertQuiet(page);
  } finally {
    await page.context().close();
  }
}

const columnOf = (page, field) => page.$$eval(`#jobs tbody [data-field="${field}"]`, (all) => all.map((cell) => cell.dataset.value ?? cell.textContent));

test('the table has a row for each print and for each job that is left out, with the numbers of queue.json', () => onPage({}, async (page) => {
  const rows = await page.$$eval('#jobs tbody tr', (all) => all.map((row) => ({
    job: Number(row.dataset.job), copy: Number(row.dataset.copy),
    cells: Object.fromEntries([...row.querySelectorAll('[data-field][data-value]')].map((cell) => [cell.dataset.field, Number(cell.dataset.value)])) })));
  assert.equal(rows.length, night.plan.prints.length + night.plan.not_planned.length);
  for (const { job, copy, cells } of rows) {
    const print = night.plan.prints.find((one) => one.job === job && one.copy === copy);
    const checked = night.jobs[job].rows[print ? print.row : night.plan.not_planned.find((one) => one.job === job).row];
    assert.equal(cells.place, night.jobs[job].place);
    if (print) assert.deepEqual([cells.start_s, cells.end_s], [print.start_s, print.end_s]);
    if (!checked.error) assert.deepEqual([cells.duration_s, cells.resin_ml, cells.exposure_s], [checked.duration_s, checked.resin_ml, checked.exposure_s]);
  }
}));

test('each print has its bar, as long as it takes', () => onPage({}, async (page) => {
  const bars = await page.$$eval('.print', (all) => all.map((bar) => ({
    job: Number(bar.dataset.job), copy: Number(bar.dataset.copy), x: Number(bar.querySelector('rect').getAttribute('x')),
    wide: Number(bar.querySelector('rect').getAttribute('width')) })));
  const key = ({ job, copy }) => `${job}.${copy}`;
  assert.deepEqual(bars.map(key), night.plan.prints.map(key));
  const scale = (988 - 12) / Math.max(night.plan.duration_s, night.plan.allowed_s);
  bars.forEach(({ x, wide }, i) => {
    const { start_s, end_s } = night.plan.prints[i];
    assert.ok(Math.abs(x - 12 - scale * start_s) < 0.1 && Math.abs(wide - scale * (end_s - start_s)) < 0.1);
  });
  assert.equal(await page.locator('.late:not(.legend *)').count(), night.plan.prints.filter((one) => one.late).length);
  assert.equal(await page.locator('.ready').count(), await page.locator('.timeline').count());
}));

test('every link leads to a page that is there', () => onPage({}, async (page) => {
  const links = await page.$$eval('#jobs a', (all) => all.map((one) => one.getAttribute('href')));
  assert.equal(links.length, await page.locator('#jobs tbody tr:not(.broken)').count());
  for (const link of links) assert.ok(existsSync(join(folder, 'night', decodeURIComponent(link))), link);
  await page.locator('#jobs a').first().click();
  assert.equal(await page.locator('#verdict').count(), 1);
  page.requests = [];  // it was asked to
}));

test('a click on a column sorts by it, another one the other way; rows without a value come last', () => onPage({}, async (page) => {
  for (const field of ['place', 'duration_s', 'start_s', 'verdict']) {
    const before = (await columnOf(page, field)).map(Number);
    const rising = [...before.filter((one) => !isNaN(one)).sort((a, b) => a - b), ...before.filter(isNaN)];
    const falling = [...before.filter((one) => !isNaN(one)).sort((a, b) => b - a), ...before.filter(isNaN)];
    await page.click(`.sort[data-field="${field}"]`);
    assert.deepEqual((await columnOf(page, field)).map(Number), rising);
    assert.equal(await page.getAttribute('th:has([data-field="' + field + '"])', 'aria-sort'), 'ascending');
    await page.focus(`.sort[data-field="${field}"]`);
    await page.keyboard.press('Enter');
    assert.deepEqual((await columnOf(page, field)).map(Number), falling);
  }
  await page.click('.sort[data-field="file"]');
  const names = await columnOf(page, 'file');
  assert.deepEqual(names, [...names].sort(new Intl.Collator('en', { numeric: true }).compare));
  assert.equal(await page.locator('[aria-sort]').count(), 1);
}));

for (const [kind, name] of Object.entries(oddNames))
  test(`${kind} in the names of job, resin and printer: they show and do nothing`, () => {
    const job = `${name.replaceAll('/', '|').slice(0, 60)} ${kind}`;
    writeJob(join(folder, job), { title: name, resin: name, printer: name, width: 24, height: 24, layers: 4, solid: (x, y) => x > 4 && y > 4 });
    check(kind, { printers: [{ label: name }], jobs: [{ file: job }] });
    return onPage({ width: 390 }, async (page) => {
      assert.notEqual(await page.title(), 'taken');
      assert.equal(await page.locator('img').count(), 0);
      assert.equal(await page.locator('script').count(), 1);
      assert.doesNotMatch(await page.evaluate(() => document.body.textContent), /[\u0000-\u0008\u000e-\u001f\u007f-\u009f\u202a-\u202e\u2066-\u2069]/);
      assert.ok(await page.evaluate(() => document.documentElement.scrollWidth) <= 390, 'nothing sticks out to the right');
      assert.deepEqual(await violations(page), []);
    }, kind);
  });

for (const [width, colours] of [[1280, 'light'], [390, 'dark']])
  test(`${width} wide, ${colours}: axe-core finds no serious violation, and Tab gets through`, () =>
    onPage({ width, colours }, async (page) => {
      assert.deepEqual(await violations(page), []);
      await tabThrough(page, 100);
      assert.ok(await page.evaluate(() => document.documentElement.scrollWidth) <= width, 'nothing sticks out to the right');
    }));
