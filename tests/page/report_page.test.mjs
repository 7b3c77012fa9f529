// The report's page as a person meets it. What is relied on is listed at the top of src/report/page/page.html.
import assert from 'node:assert/strict';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { assertLooksAsKept, assertQuiet, launch, open, tabThrough, violations } from './browser.mjs';
import { byRecord, freshFolder, oddNames, toPage, writeDemo, writeJob } from './program.mjs';
import { assertShownEquals } from './shown.mjs';

const folder = freshFolder(), jobs = ['hull', 'nameplate', 'gallery-small', 'rigging'], checked = {};
let browser;

before(async () => {
  writeDemo(folder);
  for (const job of jobs) checked[job] = toPage(folder, `${job}.zip`, 'check', ...byRecord('harbour-grey.json'));
  browser = await launch();
});
after(() => browser.close());

/** A page of a demo job for one test, which has to stay quiet to its end. */
async function onPage(job, how, act) {
  const page = await open(browser, checked[job].url, how);
  try {
    await act(page, checked[job].json);
    assertQuiet(page);
  } finally {
    await page.context().close();
  }
}

for (const job of jobs) {
  test(`${job}: the page holds the JSON of --json, and shows its numbers`, () => onPage(job, {}, async (page, json) => {
    assert.deepEqual(JSON.parse(await page.textContent('#report')), json);
    assert.equal((await page.textContent('#data-note')).trim(), '');
    assert.equal(await page.getAttribute('#verdict', 'data-verdict'), json.verdict);
    await assertShownEquals(page, json);
  }));

  test(`${job}: every mark leads to its entry, and the entry back`, () => onPage(job, {}, async (page, json) => {
    const marks = await page.$$eval('a.mark', (all) => all.map((mark) => mark.id));
    if (json.details.some((detail) => detail.lost)) assert.ok(marks.length >= 3, 'a finding has a mark in each view');
    for (const id of marks) {
      const mark = page.locator(`[id="${id}"]`);
      const entry = (await mark.getAttribute('href')).slice(1), key = await mark.getAttribute('data-key');
      await mark.focus();
      assert.match(await page.textContent('#where-name'), new RegExp(`^${key}: .+`), 'the name of what has the focus');
      await page.keyboard.press('Enter');
      assert.equal(await page.evaluate(() => decodeURIComponent(location.hash)), `#${entry}`);
      assert.equal(await page.locator(`[id="${entry}"]`).getAttribute('data-key'), key);
      assert.ok(await inView(page, entry), `${entry} is in view`);
      await page.locator(`[id="${entry}"] a.back`).click();
      const back = await page.evaluate(() => decodeURIComponent(location.hash).slice(1));
      assert.equal(await page.locator(`[id="${back}"]`).getAttribute('data-key'), key);
      assert.ok(await inView(page, back), `${back} is in view`);
    }
  }));

  for (const colours of ['light', 'dark'])
    test(`${job}, ${colours}: axe-core finds no serious violation`, () => onPage(job, { colours }, async (page) => {
      await page.$$eval('details', (all) => all.forEach((one) => { one.open = true; }));
      assert.deepEqual(await violations(page), []);
    }));
}

test('opened, each chart is drawn at the width it has', () => onPage('nameplate', {}, async (page) => {
  const charts = await page.$$eval('#chart-when > svg, #chart-chance > svg, #chart-widths > svg, #chart-up > svg',
      (all) => all.map((svg) => [svg.viewBox.baseVal.width, svg.getBoundingClientRect().width]));
  assert.equal(charts.length, 4);
  for (const [drawn, shown] of charts) assert.ok(Math.abs(drawn - shown) < 3, `drawn ${drawn} wide, shown ${shown} wide`);
}));

/** A page of a job made here, for one test. */
async function onPageOf(name, made, words, act) {
  writeJob(join(folder, name), { title: name, width: 400, height: 40, ...made });
  const { url, json } = toPage(folder, name, ...words), page = await open(browser, url);
  await act(page, json);
  assertQuiet(page);
  await page.context().close();
}

/** Words of the rulers that overlap. */
const overlaps = (page) => page.$$eval('.view', (views) => views.flatMap((view) => {
  const ticks = [...view.querySelectorAll('.tick')].map((tick) => [tick.textContent, tick.getBoundingClientRect()]);
  return ticks.flatMap(([a, one], i) => ticks.slice(i + 1).filter(([, other]) => one.left < other.right && other.left < one.right &&
      one.top + 2 < other.bottom && other.top + 2 < one.bottom).map(([b]) => `${a}, ${b}`));
}));

test('the marks of many findings stand apart', () => onPageOf('many', { width: 600, height: 300, layers: 60,
    solid: (x, y, layer) => layer <= 2 || (x % 40 === 20 && y % 50 > 5 && y % 50 < 20 + x / 40 + y / 50 && layer < 10 + x / 20 + y / 10) },
    ['check', ...byRecord('harbour-grey.json')], async (page) => {
  const marks = await page.$$eval('#view-top .mark .label', (all) => all.map((one) => one.getBoundingClientRect().toJSON()));
  assert.ok(marks.length >= 20, `${marks.length} marks`);
  const meet = (a, b) => a.left + 2 < b.right && b.left + 2 < a.right && a.top + 2 < b.bottom && b.top + 2 < a.bottom;
  assert.equal(marks.filter((one, i) => marks.slice(i + 1).some((other) => meet(one, other))).length, 0);
}));

for (const job of jobs)
  test(`${job}: words of the rulers stand apart`, () => onPage(job, {}, async (page) => assert.deepEqual(await overlaps(page), [])));

test('a flat print is drawn taller, and that is said', () => onPageOf('flat', { layers: 8, solid: (x, y) => y > 2 && x > 2 },
    ['check', ...byRecord('harbour-grey.json')], async (page) => {
  assert.match(await page.textContent('#view-front figcaption'), /drawn \d+ times as tall/);
  const frame = await page.locator('#view-front .frame').evaluate((one) => one.height.baseVal.value);
  assert.ok(frame >= 100, `${frame} units tall`);
  assert.deepEqual(await overlaps(page), []);
  assert.ok(await page.locator('#where-name').isHidden(), 'there is no mark to point at');
  assert.match(await page.textContent('.entries'), /Nothing is lost/);
}));

test('a print that fails as a whole is not said to lose nothing', () => onPageOf('thin', { layers: 8, solid: (x) => x % 6 === 0 },
    ['check', ...byRecord('harbour-grey.json')], async (page) => {
  assert.match(await page.textContent('.entries'), /fails as a whole/);
  assert.ok(await page.locator('#chart-when rect.c-missing').count() > 0, 'the times at which it fails are shaded');
}));

/** Most pixels of one colour of src/report/page_png.cpp in any row of a picture. */
const widest = (picture, colours) => picture.locator('image').evaluate(async (element, wanted) => {
  const image = new Image();
  image.src = element.getAttribute('href');
  await image.decode();
  const draw = new OffscreenCanvas(image.width, image.height).getContext('2d');
  draw.drawImage(image, 0, 0);
  const { data } = draw.getImageData(0, 0, image.width, image.height), rows = new Array(image.height).fill(0);
  for (let i = 0; i < data.length; i += 4)
    if (wanted.some((colour) => colour.every((value, c) => data[i + c] === value))) rows[Math.floor(i / 4 / image.width)]++;
  return Math.max(...rows);
}, colours);

// Closed form: what is below a limit of the record goes missing or fills in over the width it is drawn with.
const lostAt = { wall: { x: 20, wide: 1, colours: [[213, 94, 0], [245, 178, 128]] },
                 slot: { x: 80, wide: 1, colours: [[0, 114, 178], [86, 180, 233]] },
                 hole: { x: 130, wide: 2, colours: [[0, 114, 178], [86, 180, 233]] } };
const { wall, slot, hole } = lostAt;
const within = (value, from, wide) => value >= from && value < from + wide;
const thinPlaces = (x, y, layer) => layer <= 2 || (within(y, 4, 32) && (x === wall.x || (within(x, 60, 100) && x !== slot.x &&
    !(within(x, hole.x, hole.wide) && within(y, 20, hole.wide)))));
test('at the edges of charts words are whole', () => onPageOf('edge', { layers: 12, solid: thinPlaces },
    ['check', ...byRecord('harbour-grey.json'), '--exposure', '8'], async (page) => {
  const cut = await page.$$eval('svg text', (all) => all.filter((one) => {
    const word = one.getBoundingClientRect(), drawing = one.ownerSVGElement.getBoundingClientRect();
    return word.width > 0 && (word.left < drawing.left - 1 || word.right > drawing.right + 1);
  }).map((one) => one.textContent));
  assert.deepEqual(cut, []);
}));

test('pictures show a wall, a slot and a hole as wide as they are drawn, within a pixel', () => onPageOf('widths',
    { layers: 12, solid: thinPlaces }, ['check', ...byRecord('harbour-grey.json')], async (page, json) => {
  for (const [name, { x, wide, colours }] of Object.entries(lostAt)) {
    const found = json.details.find((one) => one.lost && Math.abs((one.box_mm[0][0] + one.box_mm[1][0]) / 2 - 0.05 * (x + wide / 2)) < 0.05);
    const seen = await widest(page.locator(`#finding-${found.id} .slice:not([hidden]) .printed`), colours);
    assert.ok(Math.abs(seen - wide) <= 1 && seen > 0, `${name}: ${seen} pixels of ${wide}`);
    assert.equal(await widest(page.locator(`#finding-${found.id} .slice:not([hidden]) .drawn`), colours), 0);
  }
}));

test('a job of one layer leads to no part that is not there', () => onPageOf('sheet', { layers: 1, solid: () => true },
    ['check', ...byRecord('harbour-grey.json')], async (page) => {
  for (const link of await page.locator('nav a:visible').all())
    assert.ok(await page.locator(await link.getAttribute('href')).isVisible(), await link.textContent());
}));

const inView = (page, id) => page.locator(`[id="${id}"]`).evaluate((element) => {
  const box = element.getBoundingClientRect();
  return box.height > 0 && box.bottom > 0 && box.top < window.innerHeight;
});

test('pointing at a mark names it', () => onPage('nameplate', {}, async (page) => {
  const mark = page.locator('a.mark').first();
  await mark.locator('.label').hover();
  assert.equal(await page.textContent('#where-name'),
               `${await mark.getAttribute('data-key')}: ${await mark.getAttribute('data-name')}`);
}));

test('the slider of a finding shows one layer at a time', async (t) => onPage('nameplate', {}, async (page) => {
  await page.$$eval('details', (all) => all.forEach((one) => { one.open = true; }));
  const layers = (pictures) => pictures.locator('.slice:visible').evaluateAll((all) => all.map((one) => one.dataset.layer));
  const pictures = page.locator('.pictures').first(), slider = pictures.locator('input.slices');
  const all = await pictures.locator('.slice').evaluateAll((slices) => slices.map((one) => one.dataset.layer));
  assert.ok(all.length >= 1 && all.length <= 24, 'at most 24 layers of a finding');
  await slider.focus();
  await page.keyboard.press('Home');
  assert.deepEqual(await layers(pictures), [all[0]]);
  await page.keyboard.press('End');
  assert.deepEqual(await layers(pictures), [all.at(-1)]);
  assert.equal(await pictures.locator('label output').first().textContent(), all.at(-1));
}));

// Phi by Simpson's rule over the density, and where it has a value by bisection: beside the page's own (Abramowitz and Stegun).
const phi = (z) => {
  const steps = 400, width = z / steps, density = (x) => Math.exp((-x * x) / 2) / Math.sqrt(2 * Math.PI);
  let sum = density(0) + density(z);
  for (let i = 1; i < steps; i++) sum += (i % 2 ? 4 : 2) * density(i * width);
  return Math.min(1, Math.max(0, 0.5 + (sum * width) / 3));
};
const whereIs = (chance) => {
  let [low, high] = [-8, 8];
  for (let i = 0; i < 60; i++) phi((low + high) / 2) < chance ? (low = (low + high) / 2) : (high = (low + high) / 2);
  return low;
};
/** docs/page.md: the spread of a detail around the time at which it turns, moved through its chance at the judged time. */
const chanceAt = (detail, time, judged) => {
  const sign = detail.fate === 'vanish' ? -1 : 1, p = detail.probability;
  if (p > 1e-4 && p < 0.9999) return phi(whereIs(p) + (sign * Math.log(time / judged)) / detail.log_sd);
  return phi((sign * Math.log(time / detail.critical_exposure_s)) / detail.log_sd);
};
const idsOf = (text) => text.split(' ').flatMap((range) => {
  const [from, to = from] = range.split('-').map(Number);
  return Array.from({ length: to - from + 1 }, (_, i) => from + i);
});

for (const job of jobs)
  test(`${job}: the slider of times says each row, and which findings would not be lost at it`, () => onPage(job, {}, async (page, json) => {
    const rows = json.suggestion.sweep, byId = new Map(json.details.map((detail) => [detail.id, detail]));
    assert.equal(await page.textContent('#try-output'), `${json.exposure_s.toFixed(2)} s`, 'it begins at the judged time');
    await page.focus('#try-time');
    await page.keyboard.press('Home');
    let seenSaved = 0;
    for (const [i, row] of rows.entries()) {
      if (i > 0) await page.keyboard.press('ArrowRight');
      const time = `${row.exposure_s.toFixed(2)} s`, judged = Math.abs(row.exposure_s - json.exposure_s) < 1e-6;
      assert.equal(await page.textContent('#try-output'), time);
      const says = await page.textContent('#try-says');
      const fails = row.bulk_chance >= 0.5;
      assert.ok(says.startsWith(fails ? 'the whole print fails' : `${row.vanish} missing, ${row.fuse} closed, harm `), says);
      assert.equal(says.includes('has no mark until the job is checked'), !judged, 'what has no mark is said');
      const shown = await page.$$eval('article.entry:has(.choose)', (all) => all.map((one) => ({ key: one.dataset.key, saved: one.classList.contains('saved'),
        ids: one.querySelector('.choose').dataset.ids, then: one.querySelector('.then')?.textContent ?? '',
        marks: [...document.querySelectorAll('.mark')].filter((mark) => mark.dataset.key === one.dataset.key).map((mark) => [mark.classList.contains('saved'), mark.getAttribute('aria-label')]) })));
      for (const entry of shown) {
        const members = idsOf(entry.ids).map((id) => byId.get(id)), turns = members.every((one) => !one.base && one.critical_exposure_s !== null);
        const saved = !judged && !fails && turns && members.every((one) => chanceAt(one, row.exposure_s, json.exposure_s) < (one.state === 'will' ? 0.5 : 0.05));
        assert.equal(entry.saved, saved, `${entry.key} at ${time}`);
        assert.equal(entry.then !== '', !judged && !fails && turns);
        if (saved) assert.match(entry.then, new RegExp(`^At ${time} not lost: chance (under )?[0-9]+ %\\.$`));
        for (const [marked, label] of entry.marks) assert.ok(marked === saved && label.endsWith(entry.then), label);
        seenSaved += saved ? 1 : 0;
      }
    }
    if (json.suggestion.action === 'change') assert.ok(seenSaved > 0, 'another time saves something');
    await page.keyboard.press('End');
    assert.equal(await page.textContent('#try-output'), `${rows.at(-1).exposure_s.toFixed(2)} s`);
    assert.equal(await page.locator('#chart-when .at.tried').count(), 2, 'the time looked at stands in both charts');
    assert.deepEqual(await violations(page), []);
  }));

test('the sliders of the height zoom its chart', () => onPage('gallery-small', {}, async (page, json) => {
  const before = await page.innerHTML('#chart-up');
  await page.fill('#up-from', '11');
  await page.fill('#up-to', '20');
  assert.equal(await page.textContent('#up-from-layer'), '11');
  assert.equal(await page.textContent('#up-to-layer'), '20');
  assert.notEqual(await page.innerHTML('#chart-up'), before);
  // Heights on the axis lie in the chosen layers.
  const heights = json.layers.height_mm.map(((sum) => (height) => (sum += height))(0));
  const shown = await page.$$eval('#chart-up .axis text.x', (all) => all.map((one) => Number(one.textContent)));
  assert.ok(shown.length > 0 && shown.every((mm) => mm >= heights[9] - 1e-6 && mm <= heights[19] + 1e-6), shown.join(' '));
}));

test('each column sorts both ways by its values, unknown ones last', () => onPage('gallery-small', {}, async (page) => {
  const column = (field) => page.$$eval(`#details tbody td[data-field="${field}"]`,
      (cells) => cells.map((cell) => (cell.dataset.value === undefined ? null : Number(cell.dataset.value))));
  const buttons = page.locator('#details button.sort');
  assert.ok(await buttons.count() >= 5);
  for (const button of await buttons.all()) {
    const field = await button.getAttribute('data-field'), head = page.locator('#details th').filter({ has: page.locator(`button[data-field="${field}"]`) });
    const was = await column(field), seen = [];
    for (let click = 0; click < 2; click++) {
      await button.click();
      const way = await head.getAttribute('aria-sort'), sign = way === 'ascending' ? 1 : -1;
      const wanted = [...was].sort((a, b) => (a === null) - (b === null) || sign * (a - b));
      assert.deepEqual(await column(field), wanted, `${field} ${way}`);
      seen.push(way);
    }
    assert.deepEqual(seen.sort(), ['ascending', 'descending'], field);
  }
}));

test('the filters show the rows they name, and count them', () => onPage('gallery-small', {}, async (page) => {
  const rows = () => page.$$eval('#details tbody tr', (all) => all.map((row) => ({
    ...row.dataset, shown: !row.hidden && row.getClientRects().length > 0,
    from: Number(row.querySelector('[data-field="from_layer"]').dataset.value),
    to: Number(row.querySelector('[data-field="to_layer"]').dataset.value) })));
  const check = async (holds) => {
    const all = await rows(), wanted = all.filter(holds).length;
    assert.ok(all.every((row) => row.shown === holds(row)));
    assert.equal(await page.textContent('#filter-count'), `${wanted} of ${all.length}`);
    return wanted;
  };
  await check(() => true);
  for (const kind of ['part', 'gap', 'flat gap']) {
    await page.selectOption('#filter-kind', kind);
    await check((row) => row.kind === kind);
  }
  await page.selectOption('#filter-kind', '');
  await page.selectOption('#filter-outcome', 'will be lost');
  assert.ok(await check((row) => row.outcome === 'will be lost') > 0);
  await page.selectOption('#filter-outcome', '');
  const { from } = (await rows())[0];
  await page.fill('#filter-layer', String(from));
  assert.ok(await check((row) => row.from <= from && from <= row.to) > 0);
}));

test('Tab goes through the page once, by every mark, control and link, and out again', () => onPage('nameplate', {}, async (page) => {
  const visited = await tabThrough(page, 1000);
  const reachable = await page.$$eval('a[href], button, input, select, summary', (all) => all
      .filter((one) => one.getClientRects().length > 0 && getComputedStyle(one).visibility !== 'hidden').length);
  assert.ok(visited.length >= reachable, `${visited.length} of ${reachable}`);
}));

test('without scripts the page can still be read', () => onPage('nameplate', { javaScript: false }, async (page, json) => {
  const text = await page.locator('body').innerText();
  assert.ok(text.includes(json.verdict.toUpperCase()));
  assert.ok(text.includes(`${json.suggestion.exposure_s.toFixed(2)} s`));
  assert.ok(await page.locator('article.entry').first().isVisible());
  assert.equal(await page.locator('.needs-js:visible').count(), 0, 'controls without effect are hidden');
}));

const sheets = async (page) => (await page.pdf({ format: 'A4', preferCSSPageSize: true })).toString('latin1').match(/\/Type\s*\/Page\b/g).length;

test('names of 500 characters and a job far from its record print on two sheets too', () => onPageOf('far', { title: oddNames.unbroken,
    resin: oddNames.unbroken, printer: oddNames.unbroken, layers: 12, solid: thinPlaces }, ['check', ...byRecord('harbour-grey.json'), '--exposure', '8'],
    async (page) => assert.equal(await sheets(page), 2)));

for (const job of jobs)
  test(`${job}: printed, the page is two sheets, and nothing is cut off at the right`, () => onPage(job, {}, async (page) => {
    assert.equal(await sheets(page), 2);
    const wide = Math.floor(186 / 25.4 * 96);  // A4 less the margins of page.css, in CSS pixels
    await page.setViewportSize({ width: wide, height: 1000 });
    await page.emulateMedia({ media: 'print' });
    const right = await page.$$eval('#time *, .view, .entry *', (all) => Math.max(...all.map((one) => one.getBoundingClientRect().right)));
    assert.ok(right <= wide, `${right} of ${wide}`);
  }));

for (const width of [1000, 800, 360])
  test(`${width} wide, as in a frame, the losses stay inside the head`, () => onPage('nameplate', { width }, async (page) => {
    const [edge, right] = await page.evaluate(() => [document.querySelector('header').getBoundingClientRect().right,
      Math.max(...[...document.querySelectorAll('#time *')].map((one) => one.getBoundingClientRect().right))]);
    assert.ok(right <= edge, `${right} of ${edge}`);
  }));

for (const [width, colours] of [[1280, 'light'], [390, 'light'], [1280, 'dark']])
  test(`the page looks as kept, ${width} wide, ${colours}`, () => onPage('nameplate', { width, colours }, async (page) => {
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth) <= width, 'nothing sticks out to the right');
    await assertLooksAsKept(browser, page, `nameplate-${width}-${colours}`);
  }));

test('a job measured without a record has a page too', async () => {
  const page = await open(browser, toPage(folder, 'hull.zip', 'measure').url);
  assert.match(await page.textContent('.entries'), /with a resin record says what is lost/);
  assertQuiet(page);
  await page.context().close();
});
