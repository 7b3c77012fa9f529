// Records on the desk: the evening from an empty folder to the time to use, and what came out of a print.
import assert from 'node:assert/strict';
import { existsSync, readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { launch, violations } from './browser.mjs';
import { askDesk, openDesk, settled, startDesk } from './desk.mjs';
import { freshFolder, hairline, today, writeDemo } from './program.mjs';

let browser;
before(async () => { browser = await launch(); });
after(() => browser.close());

async function onDesk(folder, how, act) {
  const desk = await startDesk(folder, '--today', today);
  const page = await openDesk(browser, desk, how);
  try {
    await act(page, desk);
    assert.deepEqual(page.complaints, []);
  } finally {
    await page.context().close();
    await desk.stop();
  }
}

// By mouse: what is there is clicked. By keyboard only: Tab until it has the focus, then a key.
const byMouse = {
  press: (page, selector) => page.click(selector),
  type: (page, selector, text) => page.fill(selector, text),
  choose: (page, selector, value) => page.selectOption(selector, value),
};
async function tabTo(page, selector) {
  for (let step = 0; step < 150; step++) {
    if (await page.evaluate((s) => document.activeElement?.matches(s) ?? false, selector)) return;
    await page.keyboard.press('Tab');
  }
  assert.fail(`Tab does not come to ${selector}`);
}
const byKeyboard = {
  async press(page, selector) { await tabTo(page, selector); await page.keyboard.press('Enter'); },
  async type(page, selector, text) { await tabTo(page, selector); await page.keyboard.press('Control+A'); await page.keyboard.type(text); },
  async choose(page, selector, value) {  // by arrows: typed letters count together only while they come fast
    await tabTo(page, selector);
    const at = await page.$eval(selector, (select, wanted) => [...select.options].findIndex((one) => one.value === wanted), value);
    await page.keyboard.press('Home');
    for (let i = 0; i < at; i++) await page.keyboard.press('ArrowDown');
  },
};

// What a resin of bond time 1.6 s, fuse time 0.9 s and blur 0.04 mm shows (docs/calibration.md, What is fitted), to 0.01 mm.
const limits = [[2.05, 0.1, 0.06, 'under'], [2.2, 0.09, 0.07, 'slightly-under'], [2.4, 0.08, 0.07, 'crisp'], [2.9, 0.06, 0.08, 'slightly-over'], [3.6, 0.05, 0.09, 'over']];

async function readCoupon(page, hand, [exposure_s, wall, slot, look]) {
  assert.equal(await page.textContent('#coupon-head'), `The coupon of ${exposure_s.toFixed(2)} s`);
  await hand.type(page, '#read-thinnest_wall_mm', String(wall).replace('.', ','));
  await hand.type(page, '#read-narrowest_slot_mm', String(slot));
  await hand.choose(page, '#read-look', look);
  await hand.press(page, '#coupon button[type="submit"]');
}
const readingOf = (page, exposure_s) => page.waitForSelector(`#coupon-head:text-is("The coupon of ${exposure_s.toFixed(2)} s")`);

async function evening(page, hand, folder) {
  await hand.press(page, '#parts a[href="#/records"]');
  await page.waitForSelector('a[href="#/evening"]');
  await hand.press(page, 'a[href="#/evening"]');
  await page.waitForSelector('#facts');
  assert.match(await page.textContent('#cautions'), /Gloves[\s\S]*UV[\s\S]*Waste/);
  await hand.type(page, '#fact-resin-label', 'Harbour grey');
  await hand.type(page, '#fact-printer-pitch_mm', '0,5 m');
  await page.waitForSelector('#fact-printer-pitch_mm-wrong:text("does not fit")');
  await hand.type(page, '#fact-printer-pitch_mm', '50 um');
  await hand.press(page, '#facts button[type="submit"]');
  await page.waitForSelector('#print');
  await hand.type(page, '#guess', '2.4');
  await page.waitForFunction(() => document.querySelector('#times').value === '2.05 2.2 2.4 2.9 3.6');
  await hand.press(page, '#print button[type="submit"]');
  await readingOf(page, 2.05);
  await page.frameLocator('#sheet iframe').locator('h1').waitFor();  // a frame that loads takes pressed keys away
  const record = JSON.parse(readFileSync(join(folder, 'harbour-grey.json'), 'utf8'));
  assert.equal(record.printer.pitch_mm, 0.05);
}

async function told(page) {
  await page.waitForSelector('#result .said');
  const said = await page.textContent('#use');
  assert.match(said, /^Use 2\.[456]\d* s for ordinary jobs\.$/);
  return said;
}

for (const [name, hand] of Object.entries({ 'by mouse': byMouse, 'by keyboard only': byKeyboard }))
  test(`the whole evening ${name}, from an empty folder to the time to use`, async () => {
    const folder = freshFolder();
    await onDesk(folder, {}, async (page) => {
      await evening(page, hand, folder);
      for (const [i, limit] of limits.entries()) {
        await readCoupon(page, hand, limit);
        if (i + 1 < limits.length) await readingOf(page, limits[i + 1][0]);
      }
      const said = await told(page);
      assert.deepEqual(await violations(page), []);
      const use = hairline(folder, 'record', 'show', 'harbour-grey.json', '--today', today).replaceAll(/\s+/g, ' ').match(/Use ([\d.]+) s for ordinary/)[1];
      assert.equal(Number(said.match(/Use ([\d.]+) s/)[1]), Number(use));
    });
  });

test('a reload and a closed desk lose nothing, and the evening goes on where it stopped', async () => {
  const folder = freshFolder();
  await onDesk(folder, {}, async (page) => {
    await evening(page, byMouse, folder);
    await readCoupon(page, byMouse, limits[0]);
    await readingOf(page, 2.2);
    await page.fill('#read-thinnest_wall_mm', '0.09');
    await page.selectOption('#read-look', 'slightly-under');
    await page.reload();
    await readingOf(page, 2.2);
    assert.equal(await page.inputValue('#read-thinnest_wall_mm'), '0.09');
    assert.equal(await page.inputValue('#read-look'), 'slightly-under');
  });
  await onDesk(folder, { at: '#/records' }, async (page) => {
    await page.click('#records a');
    await page.click('a[href="#/evening/harbour-grey.json"]');
    await readingOf(page, 2.2);
    const kept = await page.$$eval('#coupons button', (all) => all.map((one) => one.textContent));
    assert.deepEqual(kept, ['2.05 s (read)', '2.20 s', '2.40 s', '2.90 s', '3.60 s']);
    for (const limit of limits.slice(1)) {
      await readingOf(page, limit[0]);
      await readCoupon(page, byMouse, limit);
    }
    await told(page);
  });
});

test('a reading that contradicts another stays in its form, says why, and can take the place of the old one', async () => {
  const folder = freshFolder();
  await onDesk(folder, {}, async (page) => {
    await evening(page, byMouse, folder);
    await readCoupon(page, byMouse, limits[0]);
    await readingOf(page, 2.2);
    await readCoupon(page, byMouse, [2.2, 0.3, 0.07, 'slightly-under']);  // a thicker wall at more light
    await page.waitForFunction(() => document.querySelector('#coupon [role="alert"]').textContent !== '');
    assert.match(await page.textContent('#coupon [role="alert"]'), /2\.05 s.*2\.2 s|2\.2 s.*2\.05 s/);
    assert.equal(await page.inputValue('#read-thinnest_wall_mm'), '0,3');
    await page.waitForSelector('#instead');
    await readCoupon(page, byMouse, limits[1]);
    await readingOf(page, 2.4);
    const record = JSON.parse(readFileSync(join(folder, 'harbour-grey.json'), 'utf8'));
    assert.deepEqual(record.readings.bracket.map((one) => one.thinnest_wall_mm), [0.1, 0.09]);
  });
});

test('a coupon is written whole, its files are there to save, and the sheet opens', async () => {
  const folder = freshFolder();
  await onDesk(folder, {}, async (page) => {
    await evening(page, byMouse, folder);
    assert.deepEqual(await page.$$eval('#files a', (all) => all.map((one) => one.textContent)),
                     ['coupon-2.05s.zip', 'coupon-2.20s.zip', 'coupon-2.40s.zip', 'coupon-2.90s.zip', 'coupon-3.60s.zip', 'coupon.stl']);
    const [saved] = await Promise.all([page.waitForEvent('download'), page.click('#files a >> nth=0')]);
    assert.deepEqual(readFileSync(await saved.path()), readFileSync(join(folder, 'desk/coupons/harbour-grey/coupon-2.05s.zip')));
    await page.frameLocator('#sheet iframe').getByText('Coupon reading sheet').waitFor();
  });
});

// A job of the demo, checked.
async function checkedJob(folder, name) {
  writeDemo(folder);
  const desk = await startDesk(folder, '--today', today);
  assert.equal((await askDesk(desk, `/api/jobs/${name}/check`, { post: { record: 'harbour-grey.json' } })).status, 200);
  while (!(await (await askDesk(desk, `/api/jobs/${name}`)).json()).last) await new Promise((resolve) => setTimeout(resolve, 50));
  await desk.stop();
}

const outcomes = (folder) => !existsSync(join(folder, 'desk/outcomes')) ? [] : readdirSync(join(folder, 'desk/outcomes')).filter((name) => name.endsWith('.json'))
    .map((name) => JSON.parse(readFileSync(join(folder, 'desk/outcomes', name), 'utf8')));

async function outcomeForm(page, job) {
  await page.evaluate((name) => { location.hash = `#/job/${name}`; }, job);
  await page.waitForSelector('#after-print #outcome-fine');
  await settled(page);
  // Right after it was scrolled, a click on the page may still reach the report's frame, which is a process of its own.
  await page.locator('#after-print').scrollIntoViewIfNeeded();
  await page.evaluate(() => new Promise((drawn) => requestAnimationFrame(() => requestAnimationFrame(() => setTimeout(drawn, 200)))));
}

test('after the print one click says it is fine, three say what was lost, and it can be changed', async () => {
  const folder = freshFolder();
  await checkedJob(folder, 'nameplate.zip');
  await onDesk(folder, {}, async (page) => {
    await outcomeForm(page, 'nameplate.zip');
    await page.click('#outcome-fine');
    await page.waitForSelector('.history li');
    assert.deepEqual(outcomes(folder).map((one) => [one.fine, one.came_off, one.record.file, one.job.file]), [[true, false, 'harbour-grey.json', 'nameplate.zip']]);
    await page.click('text=Change what I said');
    await page.click('#outcome-lost');
    await page.click('.ticks summary >> nth=0');
    await page.click('#lost-0-2');
    assert.ok(await page.evaluate(() => document.querySelector('#lost-0').indeterminate));
    await page.click('label[for="lost-0"]');
    await page.click('#keep-outcome');
    await page.waitForSelector('.history li:has-text("Closed")');
    const [kept] = outcomes(folder);
    assert.equal(kept.fine, false);
    const lost = kept.predictions.filter((one) => one.seen);
    assert.ok(lost.length > 0 && lost.length < kept.predictions.length);
    assert.ok(kept.predictions.every((one) => one.seen !== null));
    assert.ok(kept.job.content.length > 0);
    assert.deepEqual(await violations(page), []);
  });
});

test('the same by keyboard only', async () => {
  const folder = freshFolder();
  await checkedJob(folder, 'nameplate.zip');
  await onDesk(folder, {}, async (page) => {
    await outcomeForm(page, 'nameplate.zip');
    await byKeyboard.press(page, '#outcome-lost');
    await page.waitForSelector('.ticks');
    await tabTo(page, '#lost-1');
    await page.keyboard.press('Space');
    await byKeyboard.type(page, '#other-note', 'a screw <b>hole</b>');
    await byKeyboard.press(page, '#keep-outcome');
    await page.waitForSelector('.history li:has-text("a screw <b>hole</b>")');
    assert.deepEqual(outcomes(folder).map((one) => one.others), [[{ fate: 'vanish', note: 'a screw <b>hole</b>' }]]);
  });
});

test('a desk killed at twenty moments loses no reading and no outcome that it took', async () => {
  const folder = freshFolder();
  await checkedJob(folder, 'nameplate.zip');
  let taken = 0, readings = 0;
  for (let round = 0; round < 20; ++round) {
    const desk = await startDesk(folder, '--today', today);
    try {
      for (let i = 0; i < 50; ++i) {
        const exposure_s = String(10 + round + i / 100);
        if ((await askDesk(desk, '/api/jobs/nameplate.zip/outcome', { post: {} })).ok) ++taken;
        if (i === 0) setTimeout(() => desk.child.kill('SIGKILL'), 11 * round + 1);
        if ((await askDesk(desk, '/api/records/harbour-grey.json/readings', { post: { exposure_s, look: 'over' } })).ok) ++readings;
      }
    } catch { /* it is gone */ }
    await desk.ended;
  }
  assert.ok(taken >= 20 && readings > 0);
  assert.ok(outcomes(folder).length >= taken);
  const looks = JSON.parse(readFileSync(join(folder, 'harbour-grey.json'), 'utf8')).readings.bracket.filter((one) => one.exposure_s >= 10);
  assert.ok(looks.length >= readings);
});

test('what came out is said on the record page, and enough of it asks for a new coupon', async () => {
  const folder = freshFolder();
  await checkedJob(folder, 'nameplate.zip');
  await onDesk(folder, {}, async (page, desk) => {
    for (let print = 1; print <= 6; ++print)
      assert.equal((await askDesk(desk, '/api/jobs/nameplate.zip/outcome', { post: { printed_on: `2026-11-0${print}T20:00` } })).status, 200);
    await page.evaluate(() => { location.hash = '#/record/harbour-grey.json'; });
    await page.waitForSelector('#outcomes table');
    await settled(page);
    assert.match(await page.textContent('#outcomes'), /6 prints looked at, 6 fine\.[\s\S]*weaker than in the record[\s\S]*Print a coupon at/);
    assert.equal(await page.locator('.history li').count(), 6);
    await page.frameLocator('iframe').getByText('Time to use').first().waitFor();
    assert.deepEqual(await violations(page), []);
    const time = (await page.textContent('#outcomes')).match(/Print a coupon at ([\d.]+) s/)[1];
    await page.click('a:has-text("Print a new coupon")');
    await page.waitForSelector('#times');
    assert.equal(Number(await page.inputValue('#times')), Number(time));
  });
});

test('answers that are none are refused, and names lead nowhere', async () => {
  const folder = freshFolder();
  await checkedJob(folder, 'nameplate.zip');
  await onDesk(folder, {}, async (page, desk) => {
    const status = async (path, post) => (await askDesk(desk, path, { post })).status;
    for (const body of ['[]', '"x"', '{', '{"lost": [-1]}', '{"lost": ["1"]}', '{"lost": {}}', '{"others": [{"fate": "melt"}]}', '{"others": [1]}', '{"printed_on": "soon"}'])
      assert.equal(await status('/api/jobs/nameplate.zip/outcome', body), 400, body);
    assert.equal(await status('/api/jobs/nothing.zip/outcome', {}), 404);
    assert.equal(await status('/api/jobs/rigging.zip/outcome', {}), 404);  // not checked
    for (const path of ['/api/records/..%2Fharbour-grey.json', '/api/records/harbour-grey.json/coupons/..%2F..%2F..%2Fharbour-grey.json',
                        '/api/records/harbour-grey.json/coupons/coupon.stl', '/api/records/old%2Dlamp/evening'])
      assert.equal(await status(path), 404, path);
    assert.deepEqual(outcomes(folder), []);
    const wrong = async (path, post) => (await (await askDesk(desk, path, { post })).json()).wrong ?? '';
    const before = readFileSync(join(folder, 'harbour-grey.json'), 'utf8');
    for (const body of ['[]', '{"printer.pitch_mm": "0"}', '{"resin.label": "x"}']) assert.match(await wrong('/api/evening', body), /^Pixel pitch, mm/, body);
    assert.match(await wrong('/api/records/harbour-grey.json/readings', { exposure_s: '-1', look: 'crisp' }), /Normal exposure/);
    assert.match(await wrong('/api/records/harbour-grey.json/coupons', { times: 'soon' }), /expected times such as/);
    assert.equal(readFileSync(join(folder, 'harbour-grey.json'), 'utf8'), before);
  });
});

test('on a phone and in the dark the evening has no serious violation', async () => {
  const folder = freshFolder();
  await onDesk(folder, { width: 360, colours: 'dark' }, async (page) => {
    await evening(page, byMouse, folder);
    assert.deepEqual(await violations(page), []);
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= 360));
    await page.evaluate(() => { location.hash = '#/records'; });
    await page.waitForSelector('#records');
    assert.deepEqual(await violations(page), []);
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= 360));
  });
});
