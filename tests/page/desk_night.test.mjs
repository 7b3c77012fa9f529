// Tonight on the desk: from an empty night to a plan with two printers, by mouse and by keyboard only.
import assert from 'node:assert/strict';
import { cpSync, linkSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { launch, violations } from './browser.mjs';
import { askDesk, openDesk, settled, startDesk } from './desk.mjs';
import { freshFolder, hairlineEnding, oddNames, today, writeDemo, writeJob } from './program.mjs';

const demo = freshFolder(), queueFile = (folder) => join(folder, 'desk', 'night.json');
let browser;
before(async () => {
  writeDemo(demo);
  browser = await launch();
});
after(() => browser.close());

/** A desk of its own over the demo's jobs; `queue` becomes its night. */
async function atDesk(act, { queue, how = {}, prepare } = {}) {
  const folder = freshFolder();
  cpSync(demo, folder, { recursive: true });
  prepare?.(folder);
  if (queue) {
    mkdirSync(join(folder, 'desk'), { recursive: true });
    writeFileSync(queueFile(folder), JSON.stringify({ format: 'print-queue', version: 1, zone: 'Europe/Berlin', ...queue }));
  }
  const desk = await startDesk(folder, '--today', today);
  try {
    const page = await openDesk(browser, desk, { at: '#/night', ...how });
    await act(page, { desk, folder });
    assert.deepEqual(page.complaints, []);
    await page.context().close();
  } finally {
    await desk.stop();
  }
}

const saved = (folder) => JSON.parse(readFileSync(queueFile(folder), 'utf8'));
const order = (page) => page.$$eval('#night-jobs > li', (all) => all.map((one) => one.dataset.job));
const files = (folder) => saved(folder).jobs.map(({ file }) => file.replace('../', ''));
/** Until all is saved and all jobs are checked. */
const planned = (page) => page.waitForSelector('#night-plan[aria-busy="false"]', { state: 'attached', timeout: 60_000 });
const until = async (what) => {
  for (let i = 0; i < 100; i++) {
    if (await what()) return;
    await new Promise((resolve) => setTimeout(resolve, 100));
  }
  assert.fail(`it never came: ${what}`);
};
const said = (page, text) => page.waitForFunction((wanted) => document.querySelector('#said').textContent.includes(wanted), text);

/** Puts a job by mouse, at its grip, over or under another. */
async function drag(page, from, to) {
  await page.locator('#night-jobs > li').nth(Math.min(from, to)).evaluate((row) => row.scrollIntoView());
  const grip = await page.locator('#night-jobs > li .grip').nth(from).boundingBox();
  const row = await page.locator('#night-jobs > li').nth(to).boundingBox();
  await page.mouse.move(grip.x + grip.width / 2, grip.y + grip.height / 2);
  await page.mouse.down();
  const y = to > from ? row.y + row.height * 0.8 : row.y + row.height * 0.2;
  for (const part of [0.3, 0.7, 1]) await page.mouse.move(grip.x + 10, grip.y + part * (y - grip.y));
  assert.equal(await page.locator('.before, .after').count(), 1);
  await page.mouse.up();
}

async function addPrinter(page, label) {
  await page.fill('#printer-to-add', label);
  await page.click('#add-printer');
  await said(page, `The printer ${label} was added.`);
}

test('by mouse: an empty night becomes a plan of two printers, and a reload keeps it', () => atDesk(async (page, { desk, folder }) => {
  await page.getByText('Nothing is to be printed yet').waitFor();
  for (const job of ['hull.zip', 'nameplate.zip', 'gallery-small.zip']) {
    await page.selectOption('#job-to-add', job);
    await page.click('#add-job');
    await said(page, `${job} was added`);
  }
  await planned(page);
  await addPrinter(page, 'quay bench');
  await page.selectOption('#printer-0-record', 'harbour-grey.json');
  await page.fill('#printer-0-resin_ml', '250');
  await page.fill('#printer-0-changeover', '15');
  await addPrinter(page, 'lamp bench');
  await page.fill('#job-0-copies', '2');
  await page.fill('#night-start', '2026-11-26T22:00');
  await page.fill('#night-ready_by', '2026-11-27T07:30');
  await page.locator('h1').click();
  await until(() => saved(folder).ready_by);
  await planned(page);

  await drag(page, 0, 2);
  await said(page, 'hull.zip is number 3 of 3.');
  assert.deepEqual(await order(page), ['nameplate.zip', 'gallery-small.zip', 'hull.zip']);
  await drag(page, 2, 1);
  await said(page, 'hull.zip is number 2 of 3.');
  await until(() => files(folder)[1] === 'hull.zip');
  await planned(page);
  assert.deepEqual(await order(page), ['nameplate.zip', 'hull.zip', 'gallery-small.zip']);
  assert.equal(await page.locator('.timeline').count(), 2);
  assert.equal(await page.locator('.print').count(), 2);

  // nameplate.zip is on hold, and 2.20 s clear it.
  await page.getByText('Another exposure time lets 1 job on hold start: nameplate.zip at 2.20 s.').waitFor();
  await page.click('#job-0-set');
  await said(page, 'nameplate.zip is printed with 2.20 s a layer.');
  await planned(page);
  await page.locator('#night-jobs > li').first().getByText('clear').waitFor();
  assert.equal(await page.inputValue('#job-0-exposure'), '2.2');
  assert.equal(await page.locator('.print').count(), 3);
  await page.selectOption('#job-1-printer', 'lamp bench');
  await until(() => saved(folder).jobs[1].printer === 'lamp bench');
  await planned(page);

  const queue = { format: 'print-queue', version: 1, start: '2026-11-26T22:00', ready_by: '2026-11-27T07:30', zone: saved(folder).zone,
                  printers: [{ label: 'quay bench', record: '../harbour-grey.json', resin_ml: 250, changeover_min: 15 }, { label: 'lamp bench' }],
                  jobs: [{ file: '../nameplate.zip', exposure_s: 2.2 }, { file: '../hull.zip', printer: 'lamp bench', copies: 2 }, { file: '../gallery-small.zip' }] };
  assert.deepEqual(saved(folder), queue);
  const before = await page.locator('main').innerText();
  await page.reload();
  await settled(page);
  await planned(page);
  assert.equal(await page.locator('main').innerText(), before);

  // The terminal says the same of the file.
  const [download] = await Promise.all([page.waitForEvent('download'), page.click('#night-download')]);
  assert.equal(download.suggestedFilename(), 'queue.json');
  const there = JSON.parse(readFileSync(await download.path(), 'utf8'));
  hairlineEnding([0, 1, 2], folder, 'queue', queueFile(folder), '--records', folder, '--today', today, '--no-cache', '--json', 'out');
  const here = JSON.parse(readFileSync(join(folder, 'out', 'queue.json'), 'utf8'));
  for (const job of here.jobs) for (const row of job.rows) row.report = '';  // files that only the terminal wrote
  assert.deepEqual(there, here);
  assert.equal(there.plan.prints.length, 3);
}));

test('by keyboard only: jobs, order, printer, times', () => atDesk(async (page, { folder }) => {
  const press = async (...keys) => { for (const key of keys) await page.keyboard.press(key); };
  const focus = (id) => page.waitForFunction((wanted) => document.activeElement?.id === wanted, id);
  /** Tab until that has the focus. */
  const tabTo = async (id) => {
    for (let i = 0; i < 80; i++) {
      if (await page.evaluate(() => document.activeElement?.id) === id) return;
      await press('Tab');
    }
    assert.fail(`Tab does not reach ${id}`);
  };
  await tabTo('add-all');
  await press('Enter');
  await said(page, 'All other jobs were added.');
  await focus('job-to-add');
  await planned(page);
  const names = await order(page);
  assert.equal(names.length, 4);

  await page.evaluate(() => document.querySelector('#here').focus());
  await tabTo('job-2-earlier');
  await press('Enter');
  await said(page, `${names[2]} is number 2 of 4.`);
  await focus('job-1-earlier');
  await press('Alt+ArrowUp');
  await said(page, `${names[2]} is number 1 of 4.`);
  await press('Alt+ArrowUp', 'Alt+ArrowDown', 'Alt+ArrowDown', 'Alt+ArrowDown');
  await said(page, `${names[2]} is number 4 of 4.`);
  await focus('job-3-earlier');
  const wanted = [names[0], names[1], names[3], names[2]];
  await until(() => files(folder).join() === wanted.join());
  assert.deepEqual(await order(page), wanted);

  await press('Tab');
  await focus('job-3-later');
  await press('Tab', 'Tab');
  await focus('job-3-copies');
  await page.keyboard.type('2');  // in the place of the 1, which Tab selected
  await press('Alt+ArrowUp');
  await focus('job-2-copies');
  await until(() => saved(folder).jobs[2].copies === 2 && !saved(folder).jobs[3].copies);
  await press('Alt+ArrowDown', 'Shift+Tab', 'Enter');
  await said(page, `${names[2]} was removed.`);
  await focus('job-to-add');

  await tabTo('printer-to-add');
  await page.keyboard.type('slip bench');
  await press('Enter');
  await focus('printer-0-record');
  await press('ArrowDown');
  await until(() => saved(folder).printers?.[0].record === '../harbour-grey.json');
  await tabTo('printer-0-vat_ml');
  await page.keyboard.type('180');
  await press('Tab');
  await page.keyboard.type('143');
  await press('Tab');
  await said(page, 'other side of the plate');
  await page.keyboard.type('89');
  await press('Enter');
  await until(() => saved(folder).printers[0].plate_mm);
  assert.deepEqual(saved(folder).printers, [{ label: 'slip bench', record: '../harbour-grey.json', vat_ml: 180, plate_mm: [143, 89] }]);

  await page.evaluate(() => document.querySelector('#here').focus());
  await tabTo('night-start');
  await page.keyboard.type('11262026');
  await press('ArrowRight');
  await page.keyboard.type('1000PM');
  await press('Enter');
  await until(() => saved(folder).start === '2026-11-26T22:00');
  await planned(page);
  await page.getByText('22:00').first().waitFor();
}));

const late = { start: '2026-11-26T22:00', ready_by: '2026-11-26T22:30', printers: [{ label: 'quay bench', record: '../harbour-grey.json' }],
               jobs: [{ file: '../hull.zip' }, { file: '../nameplate.zip', exposure_s: 2.2 }, { file: '../rigging.zip' }] };

test('late jobs are said and drawn; another order, and another is late, without another check', () => atDesk(async (page, { folder }) => {
  await planned(page);
  await page.locator('[data-job="nameplate.zip"]').getByText('Late: it ends').waitFor();
  assert.equal(await page.locator('.print ~ .late').count(), 1);
  const asked = [];
  page.on('response', async (answer) => { if (answer.url().includes('/api/night')) asked.push(await answer.json()); });
  await page.focus('#job-1-earlier');
  await page.keyboard.press('Enter');
  await page.locator('[data-job="hull.zip"]').getByText('Late: it ends').waitFor();
  await planned(page);
  assert.ok(asked.length > 0 && asked.every(({ running, waiting }) => running === null && waiting === 0));
  assert.deepEqual(files(folder), ['nameplate.zip', 'hull.zip', 'rigging.zip']);
}, { queue: late }));

test('what is left out says why, and a job that is no archive stops no other', () => atDesk(async (page) => {
  await planned(page);
  await page.locator('[data-job="hull.zip"]').getByText('The resin does not reach').waitFor();
  await page.locator('[data-job="wreck.zip"]').getByText('BROKEN').waitFor();
  await page.locator('[data-job="gone.zip"]').getByText('BROKEN').waitFor();
  assert.equal(await page.locator('[data-job="gone.zip"] a').count(), 0);
  assert.equal(await page.getAttribute('[data-job="hull.zip"] a', 'href'), '#/job/hull.zip');
}, { prepare: (folder) => writeFileSync(join(folder, 'wreck.zip'), 'no archive\n'),
     queue: { printers: [{ label: 'quay bench', record: '../harbour-grey.json', resin_ml: 0.1 }],
              jobs: [{ file: '../hull.zip' }, { file: '../wreck.zip' }, { file: '../gone.zip' }] } }));

test('two pages at once: the later change is refused, and nothing is lost', () => atDesk(async (page, { desk, folder }) => {
  await planned(page);
  const other = await openDesk(browser, desk, { at: '#/night' });
  await planned(other);
  await other.fill('#job-0-copies', '3');
  await other.keyboard.press('Enter');
  await until(() => saved(folder).jobs[0].copies === 3);
  await page.click('#job-0-remove');
  await said(page, 'Not saved: the night was changed elsewhere');
  assert.equal(saved(folder).jobs.length, 3);
  assert.equal(await page.inputValue('#job-0-copies'), '3');
  page.complaints = page.complaints.filter((text) => !text.includes('409'));
  await page.click('#job-0-remove');
  await until(() => saved(folder).jobs.length === 2);
  await other.context().close();

  // A script without the version of what is there is refused too.
  const answer = await askDesk(desk, '/api/night?version=0', { post: { format: 'print-queue', version: 1, jobs: [] } });
  assert.equal(answer.status, 409);
  assert.equal(saved(folder).jobs.length, 2);
}, { queue: late }));

test('a wrong answer is refused with the reason, and what was there stays', () => atDesk(async (page, { folder }) => {
  await planned(page);
  await page.fill('#job-0-copies', '2000');
  await page.keyboard.press('Enter');
  await said(page, 'Copies: a number from 1 to 1000.');
  await page.locator('h1').click();
  await page.waitForFunction(() => document.querySelector('#job-0-copies').value === '1');
  await page.fill('#night-ready_by', '2026-11-26T21:00');
  await page.locator('h1').click();
  await said(page, 'a time after start');
  assert.equal(saved(folder).ready_by, late.ready_by);
}, { queue: late }));

/** A job that takes long: its layers from the second on are one picture. */
function writeLongJob(folder, layers) {
  writeJob(folder, { title: 'Quay', width: 2000, height: 1600, layers: 2, solid: (x, y) => x % 40 < 20 && y % 40 < 20 });
  const manifest = JSON.parse(readFileSync(join(folder, 'manifest.json'), 'utf8'));
  writeFileSync(join(folder, 'manifest.json'), JSON.stringify({ ...manifest, layers: { ...manifest.layers, count: layers } }));
  for (let layer = 3; layer <= layers; layer++) linkSync(join(folder, 'layers', '00002.png'), join(folder, 'layers', `${String(layer).padStart(5, '0')}.png`));
}

test('checks show how far they are and can be stopped; the others stay planned', () => atDesk(async (page) => {
  await page.locator('[data-job="hull.zip"]').getByText('clear').waitFor();
  await page.getByText(/Checking quay: layer \d+ of 6000/).waitFor();
  assert.equal(await page.locator('.print').count(), 1);
  assert.equal(await page.locator('[data-job="quay"].open').count(), 1);
  await page.click('#night-cancel');
  await page.locator('#night-check').waitFor();
  await page.getByText('Jobs not checked yet: 1.').waitFor();
  assert.equal(await page.locator('#night-download').isVisible(), false);
  await page.click('#night-check');
  await page.getByText(/Checking quay: layer \d+ of 6000/).waitFor();
  await page.click('#job-1-remove');  // that ends its check
  await planned(page);
  await page.locator('#night-download').waitFor();
}, { prepare: (folder) => writeLongJob(join(folder, 'quay'), 6000), queue: { printers: [{ label: 'quay bench', record: '../harbour-grey.json' }], jobs: [{ file: '../hull.zip' }, { file: '../quay' }] } }));

test('by finger on a phone: a job is dragged to another place', () => atDesk(async (page, { folder }) => {
  await planned(page);
  const touch = await page.context().newCDPSession(page);
  await touch.send('Emulation.setTouchEmulationEnabled', { enabled: true });
  await page.locator('#night-jobs > li').first().evaluate((row) => row.scrollIntoView());
  const grip = await page.locator('#night-jobs .grip').first().boundingBox(), row = await page.locator('#night-jobs > li').nth(1).boundingBox();
  const at = (y) => [{ x: grip.x + 15, y }];
  await touch.send('Input.dispatchTouchEvent', { type: 'touchStart', touchPoints: at(grip.y + 15) });
  for (const y of [grip.y + 60, row.y + row.height * 0.4, row.y + row.height * 0.7]) await touch.send('Input.dispatchTouchEvent', { type: 'touchMove', touchPoints: at(y) });
  await touch.send('Input.dispatchTouchEvent', { type: 'touchEnd', touchPoints: [] });
  await said(page, 'hull.zip is number 2 of 3.');
  await until(() => files(folder).join() === 'nameplate.zip,hull.zip,rigging.zip');
}, { queue: late, how: { width: 360 } }));

const odd = Object.values(oddNames).map((name) => [...name.replaceAll('/', '|')].slice(0, 50).join('').trim());
test('odd names of jobs and printers show and do nothing', () => atDesk(async (page) => {
  await planned(page);
  assert.equal(await page.locator('#night-jobs > .clear, #night-jobs > .caution, #night-jobs > .hold').count(), odd.length);
  assert.notEqual(await page.title(), 'taken');
  assert.equal(await page.locator('main img, main script').count(), 0);
  assert.equal(await page.inputValue('#printer-0-label'), odd[1]);
  await page.click('#job-1-earlier');
  await said(page, `${odd[1].slice(0, 10)}`);
  await planned(page);
  assert.deepEqual((await order(page)).map((name) => name.replace(/\.zip$/, '')), [odd[1], odd[0], ...odd.slice(2)]);
  assert.ok(await page.evaluate(() => document.documentElement.scrollWidth) <= 360);
  assert.deepEqual(await violations(page), []);
}, { how: { width: 360 }, prepare: (folder) => { for (const name of odd) cpSync(join(folder, 'hull.zip'), join(folder, `${name}.zip`)); },
     queue: { printers: [{ label: odd[1], record: '../harbour-grey.json' }], jobs: odd.map((name) => ({ file: `../${name}.zip` })) } }));

for (const [width, colours] of [[1280, 'light'], [360, 'dark']])
  test(`${width} wide, ${colours}: axe-core finds no serious violation, and nothing sticks out`, () => atDesk(async (page) => {
    await planned(page);
    assert.deepEqual(await violations(page), []);
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth) <= width);
  }, { queue: late, how: { width, colours } }));
