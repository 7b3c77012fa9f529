// The layers of a job on the desk, by mouse and by keyboard only. What is relied on is listed at the top of src/desk/pages/layers.js.
import assert from 'node:assert/strict';
import { copyFileSync } from 'node:fs';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { launch, violations } from './browser.mjs';
import { askDesk, openDesk, startDesk } from './desk.mjs';
import { freshFolder, today, writeDemo } from './program.mjs';

const folder = freshFolder(), job = 'gallery-small.zip';
let browser, desk, facts;

const json = async (path, how) => (await askDesk(desk, path, how)).json();

before(async () => {
  writeDemo(folder);
  copyFileSync(join(folder, job), join(folder, 'unchecked.zip'));
  desk = await startDesk(folder, '--today', today);
  browser = await launch();
  const begun = await askDesk(desk, `/api/jobs/${job}/check`, { post: { record: 'harbour-grey.json' } });
  assert.equal(begun.status, 200, await begun.text());
  for (let i = 0; i < 600; i++) {
    facts = await json(`/api/jobs/${job}/layers`);
    if (facts.kept === 'all') {
      facts.findings = await json(`/api/jobs/${job}/findings`);
      return;
    }
    await new Promise((resolve) => setTimeout(resolve, 100));
  }
  assert.fail('the check does not end');
});
after(async () => { await browser.close(); await desk.stop(); });

/** A page on the layers of a job, which has to stay quiet to its end. */
async function onLayers(how, act, name = job) {
  const page = await openDesk(browser, desk, { at: `#/layers/${name}`, ...how });
  try {
    await act(page);
    assert.deepEqual(page.complaints, []);
  } finally {
    await page.context().close();
  }
}
const until = (page, layer, time) => page.waitForFunction(([l, t]) => {
  const view = document.querySelector('#view').dataset;
  return view.layer === String(l) && (t === undefined || view.time === String(t));
}, [layer, time]);
const zoom = async (page) => Number(await page.getAttribute('#view', 'data-zoom'));
const middle = (page) => page.$eval('#view', (view) => [Number(view.dataset.x), Number(view.dataset.y)]);
/** Pixels of the picture by what they show. */
const pixels = (page) => page.evaluate(async () => {
  const image = document.querySelector('#picture');
  await image.decode();
  const canvas = new OffscreenCanvas(image.naturalWidth, image.naturalHeight);
  canvas.getContext('2d').drawImage(image, 0, 0);
  const { data } = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height);
  const kinds = { '246,243,236': 'empty', '110,118,124': 'kept', '213,94,0': 'missing', '245,178,128': 'missing', '0,114,178': 'filled', '86,180,233': 'filled' };
  const count = { empty: 0, kept: 0, missing: 0, filled: 0 };
  for (let i = 0; i < data.length; i += 4) count[kinds[`${data[i]},${data[i + 1]},${data[i + 2]}`]]++;
  return count;
});
const finding = (fate) => facts.findings.find((one) => one.fate === fate);
const within = (one, layer) => assert.ok(one.from_layer <= layer && layer <= one.to_layer, `layer ${layer} is none of ${one.name}`);

test('a job that was not checked is shown as drawn, and says so', () => onLayers({}, async (page) => {
  await until(page, 1, 0);
  assert.match(await page.textContent('#kept'), /once the job has been checked/);
  assert.ok(!await page.isVisible('#time-range'));
  const shown = await pixels(page);
  assert.ok(shown.kept > 0 && shown.missing + shown.filled === 0);
}, 'unchecked.zip'));

test('by mouse: scrub, jump to a finding, zoom and move', () => onLayers({}, async (page) => {
  await until(page, 1, facts.judged);
  await page.fill('#layer', '40');
  await page.keyboard.press('Enter');
  await until(page, 40);
  const slider = await page.locator('#layer-range').boundingBox();
  await page.mouse.click(slider.x + slider.width / 2, slider.y + slider.height / 2);
  await page.waitForFunction((count) => Math.abs(Number(document.querySelector('#view').dataset.layer) - count / 2) < count / 20, facts.count);
  assert.equal(await zoom(page), 1);

  const part = finding('vanish');
  await page.click(`#findings button[data-id="${part.id}"]`);
  await page.waitForFunction(() => Number(document.querySelector('#view').dataset.zoom) > 1);
  await page.waitForFunction((here) => Number(document.querySelector('#view').dataset.layer) >= here, part.from_layer);
  within(part, Number(await page.inputValue('#layer')));
  await page.waitForFunction(() => /places? goe?s? missing here/.test(document.querySelector('#seen').textContent));
  assert.ok((await pixels(page)).missing > 0);

  const view = await page.locator('#view').boundingBox(), before = await zoom(page);
  await page.mouse.move(view.x + view.width / 2, view.y + view.height / 2);
  await page.mouse.wheel(0, -300);
  await page.waitForFunction((old) => Number(document.querySelector('#view').dataset.zoom) > old, before);
  const [x, y] = await middle(page);
  await page.mouse.down();
  await page.mouse.move(view.x + view.width / 2 - 120, view.y + view.height / 2 - 30, { steps: 4 });
  await page.mouse.up();
  const [x1, y1] = await middle(page);
  assert.ok(x1 > x && Math.abs((x1 - x) / (y1 - y) - 4) < 0.1, 'what is seen moves against the drag, as far in x as in y');
  await page.click('#whole');
  await page.waitForFunction(() => document.querySelector('#view').dataset.zoom === '1.000');
}));

test('a piece that starts with nothing beneath it is among the findings of its layer, at the height the report says', () => onLayers({ at: `#/layers/${job}/1` }, async (page) => {
  const island = facts.findings.find((one) => one.state === 'adrift');
  await page.click(`#findings button[data-id="${island.id}"]`);
  await page.waitForFunction(() => Number(document.querySelector('#view').dataset.zoom) > 1);
  const layer = Number(await page.inputValue('#layer'));
  within(island, layer);
  await page.waitForFunction((n) => document.querySelector('#seen').textContent.includes(`Layer ${n} of `) && /findings? .*this layer/.test(document.querySelector('#seen').textContent), layer);
  const [, began, up] = /on layer (\d+) \(([\d.]+) mm up\)/.exec(island.name);
  assert.equal(Number(began), island.from_layer);
  assert.ok(Math.abs(facts.bottom_mm[island.from_layer - 1] - Number(up)) <= 0.05 + 1e-9);
}));

test('by keyboard only: layers, zoom, moving, times and findings', () => onLayers({ at: `#/layers/${job}/50` }, async (page) => {
  await until(page, 50);
  const reach = async (selector) => {
    for (let i = 0; i < 60; i++) {
      if (await page.evaluate((wanted) => document.activeElement.matches(wanted), selector)) return;
      await page.keyboard.press('Tab');
    }
    assert.fail(`Tab does not reach ${selector}`);
  };
  await reach('#time-range');
  await page.keyboard.press('End');
  await until(page, 50, facts.times_s.length - 1);
  assert.match(await page.textContent('#time-said'), new RegExp(facts.times_s.at(-1).toFixed(2)));
  await page.keyboard.press('Shift+Tab');
  for (let i = 0; i < 5 && !await page.evaluate(() => document.activeElement.id === 'view'); i++) await page.keyboard.press('Shift+Tab');
  for (const [key, layer] of [['ArrowUp', 51], ['ArrowRight', 52], ['PageUp', 62], ['ArrowDown', 61], ['PageDown', 51], ['Home', 1], ['ArrowLeft', 1], ['End', facts.count]]) {
    await page.keyboard.press(key);
    await until(page, layer);
  }
  assert.match(page.url(), new RegExp(`/${facts.count}$`));
  await page.keyboard.press('+');
  await page.keyboard.press('+');
  assert.equal(await zoom(page), 2.25);
  const [x, y] = await middle(page);
  await page.keyboard.press('Shift+ArrowRight');
  await page.keyboard.press('Shift+ArrowUp');
  const [x1, y1] = await middle(page);
  assert.ok(x1 > x && y1 < y);
  await page.keyboard.press('-');
  assert.equal(await zoom(page), 1.5);
  await page.keyboard.press('0');
  assert.equal(await zoom(page), 1);
  await reach(`#findings button[data-id="${facts.findings[0].id}"]`);
  await page.keyboard.press('Enter');
  await page.waitForFunction((last) => Number(document.querySelector('#view').dataset.layer) <= last, facts.findings[0].to_layer);
  within(facts.findings[0], Number(await page.inputValue('#layer')));
  assert.match(await page.textContent(`#findings li:has(button[data-id="${facts.findings[0].id}"])`), /in this layer/);
}));

test('a longer time loses less and closes more, in picture and words', () => onLayers({}, async (page) => {
  const shown = async (one, time) => {
    await page.click(`#findings button[data-id="${one.id}"]`);
    await page.focus('#time-range');
    await page.keyboard.press(time === 0 ? 'Home' : 'End');
    await until(page, await page.inputValue('#layer'), time);
    const layer = await page.inputValue('#layer');
    await page.waitForFunction((s) => document.querySelector('#seen').textContent.includes(`At ${s} s`), facts.times_s[time].toFixed(2));
    const said = await json(`/api/jobs/${job}/layers/${layer}?time=${time}`);
    assert.match(await page.textContent('#seen'), said.missing > 1 ? new RegExp(`${said.missing} places go missing`) : said.missing === 1 ? /one place goes missing/ : /nothing goes missing/);
    return pixels(page);
  };
  const last = facts.times_s.length - 1;
  const thin = finding('vanish'), gap = finding('fuse');
  assert.ok((await shown(thin, 0)).missing > (await shown(thin, last)).missing);
  assert.ok((await shown(gap, 0)).filled < (await shown(gap, last)).filled);
}));

test('of many layers scrubbed through, few are asked for, and the last one is shown', () => onLayers({}, async (page) => {
  await until(page, 1);
  let asked = 0;
  await page.route('**/layers/*.png*', async (route) => {
    asked++;
    await new Promise((resolve) => setTimeout(resolve, 150));
    await route.continue().catch(() => {});  // given up meanwhile
  });
  await page.focus('#view');
  for (let i = 0; i < 60; i++) await page.keyboard.press('ArrowUp', { delay: 0 });
  await until(page, 61);
  assert.ok(asked < 40, `${asked} pictures were asked for`);
}));

test('a picture that nobody waits for any more holds up no other', () => onLayers({}, async (page) => {
  await until(page, 1);
  let stuck = 0;
  await page.route('**/layers/2.png*', () => { stuck++; });  // never answered
  await page.focus('#view');
  await page.keyboard.press('ArrowUp');
  await page.waitForTimeout(50);
  await page.keyboard.press('ArrowUp');
  await until(page, 3);
  assert.equal(stuck, 1);
}));

for (const [width, colours] of [[1280, 'light'], [1280, 'dark'], [360, 'light'], [360, 'dark']])
  test(`at ${width} px on ${colours} pages nothing is in the way of anyone`, () => onLayers({ width, colours }, async (page) => {
    await until(page, 1);
    await page.click('#findings button');
    assert.deepEqual(await violations(page), []);
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= document.documentElement.clientWidth), 'nothing lies beyond the edge');
  }));
