// Jobs on the desk, from an empty folder: dropped, asked about, checked, looked at; by mouse and by keyboard only.
import assert from 'node:assert/strict';
import { copyFileSync, existsSync, mkdtempSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { launch, violations } from './browser.mjs';
import { askDesk, openDesk, settled, startDesk } from './desk.mjs';
import { freshFolder, hairline, png, today, writeDemo, zipOf } from './program.mjs';

const demo = freshFolder(), jobs = freshFolder();
let browser;
before(async () => {
  writeDemo(demo, true);
  browser = await launch();
});
after(() => browser.close());

const demoFile = (name) => join(demo, name);
const card = (page, name) => page.locator(`.job[data-job="${name}"]`);

/** A desk over a folder of its own with these demo files in it, and a page on it; nothing may be complained of. */
async function onDesk(files, how, act) {
  const folder = mkdtempSync(join(jobs, 'desk-'));
  for (const file of files) copyFileSync(demoFile(file), join(folder, file));
  const desk = await startDesk(folder, '--today', today);
  try {
    const page = await openDesk(browser, desk, how);
    await act(page, desk, folder);
    assert.deepEqual(page.complaints, []);
    await page.context().close();
  } finally {
    assert.equal((await desk.stop()).signal, null);
  }
}

async function goTo(page, ...parts) {
  await page.evaluate((hash) => { location.hash = hash; }, `#/${parts.map(encodeURIComponent).join('/')}`);
  await page.waitForFunction((part) => document.querySelector('#here').dataset.part === part, parts[0]);
  await settled(page);
}
const framed = (page) => page.frameLocator('iframe#report');
const checked = (page) => framed(page).locator('#verdict').waitFor();
async function checkByMouse(page, name) {
  await goTo(page, 'job', name);
  await page.click('#check button[type="submit"]');
  await checked(page);
}

/** An archive of another program: masks and a text of which one number has no unit. */
const foreignZip = () => zipOf([['job.ini', Buffer.from('title = mooring post\n[light]\nnormal_ms = 2500\nbase_ms = 25000\nbase_layers = 2\n')],
  ...[1, 2, 3, 4, 5, 6].map((n) => [`out/s${n}.png`, png(48, 40, (x, y) => x >= 4 && x < 24 && y >= 4 && y < 36)])]);

test('an empty folder says so; jobs are chosen, two at once, and listed', () => onDesk([], {}, async (page, desk, folder) => {
  assert.ok(await page.isVisible('#no-jobs'));
  await page.setInputFiles('#files', [demoFile('hull.zip'), demoFile('nameplate.zip'), demoFile('rigging.zip')]);
  for (const name of ['hull.zip', 'nameplate.zip', 'rigging.zip']) {
    await card(page, name).waitFor();
    assert.deepEqual(readFileSync(join(folder, name)), readFileSync(demoFile(name)));
  }
  assert.ok(!(await page.isVisible('#no-jobs')));
  assert.match(await card(page, 'nameplate.zip').innerText(), /name plate[^]*Not checked yet/);
  await page.setInputFiles('#files', [demoFile('hull.zip')]);
  await page.waitForFunction(() => document.querySelector('#said').textContent.includes('is in the folder already'));
  assert.ok(!existsSync(join(folder, 'hull 2.zip')));
}));

test('an answer that comes late takes no job away that came meanwhile', () => onDesk([], {}, async (page) => {
  let asked = 0, given = 0, known;
  const first = new Promise((resolve) => { known = resolve; });
  await page.route('**/api/jobs', async (route) => {
    const late = asked++ === 0, answer = await route.fetch();
    if (late) known();
    if (late) await new Promise((resolve) => { setTimeout(resolve, 1000); });
    await route.fulfill({ response: answer });
    given++;
  });
  await page.route('**/api/upload?name=rigging.zip', async (route) => { await first; await route.continue(); });
  await page.setInputFiles('#files', [demoFile('hull.zip'), demoFile('nameplate.zip'), demoFile('rigging.zip')]);
  while (given < 3) await page.waitForTimeout(50);
  await page.waitForTimeout(200);
  assert.deepEqual(await page.$$eval('.job', (all) => all.map((one) => one.dataset.job)), ['hull.zip', 'nameplate.zip', 'rigging.zip']);
}));

test('files dropped anywhere are taken; of the same name and other bytes get a number; what is no job is said', () => onDesk(['hull.zip'], {}, async (page, desk, folder) => {
  const drop = async (name, bytes) => {
    const data = await page.evaluateHandle(([file, content]) => {
      const transfer = new DataTransfer();
      transfer.items.add(new File([Uint8Array.from(atob(content), (c) => c.charCodeAt(0))], file));
      return transfer;
    }, [name, bytes.toString('base64')]);
    for (const type of ['dragenter', 'dragover', 'drop']) await page.dispatchEvent('body', type, { dataTransfer: data });
  };
  await drop('hull.zip', readFileSync(demoFile('nameplate.zip')));
  await card(page, 'hull 2.zip').waitFor();
  assert.deepEqual(readFileSync(join(folder, 'hull 2.zip')), readFileSync(demoFile('nameplate.zip')));
  await drop('lantern.png', Buffer.from('no job'));
  await page.waitForFunction(() => /lantern\.png/.test(document.querySelector('#said').textContent));
  assert.match(await page.textContent('#said'), /\.zip or \.3mf/);
  await drop('broken.zip', Buffer.from('no archive'));
  await card(page, 'broken.zip').waitFor();
  assert.match(await card(page, 'broken.zip').locator('.bad').innerText(), /broken\.zip/);
  assert.deepEqual(readdirSync(folder).sort(), ['broken.zip', 'desk', 'hull 2.zip', 'hull.zip']);
}));

test('an upload shows how far it is, and is cancelled; nothing is left of it', () => onDesk([], {}, async (page, desk, folder) => {
  // A slow line, so that there is something to see.
  const line = await page.context().newCDPSession(page);
  await line.send('Network.enable');
  await line.send('Network.emulateNetworkConditions', { offline: false, latency: 0, downloadThroughput: -1, uploadThroughput: 400_000 });
  const large = join(jobs, 'large.zip');
  writeFileSync(large, Buffer.alloc(12_000_000, 7));
  await page.setInputFiles('#files', [large]);
  await page.waitForFunction(() => document.querySelector('#uploads progress')?.value > 0);
  await page.click('#uploads button');
  await page.waitForFunction(() => /cancelled/.test(document.querySelector('#uploads').textContent));
  for (let i = 0; i < 100 && readdirSync(folder).length > 1; i++) await new Promise((wait) => setTimeout(wait, 50));
  assert.deepEqual(readdirSync(folder), ['desk']);
}));

test('what a foreign archive leaves out is asked for, checked as typed, kept, and can be changed', () => onDesk(['harbour-grey.json'], {}, async (page, desk, folder) => {
  await page.setInputFiles('#files', { name: 'own.zip', mimeType: 'application/zip', buffer: foreignZip() });
  await card(page, 'own.zip').waitFor();
  await card(page, 'own.zip').locator('[data-key="asks"]').click();
  await page.waitForSelector('#asks');
  const field = (path) => page.locator(`#asks [data-path="${path}"]`);
  const errorOf = async (path) => page.textContent(`#${await field(path).getAttribute('id')}-error`);
  await field('layers.height_mm').fill('thick');
  await page.waitForFunction(() => /thick/.test(document.querySelector('#asks').textContent));
  assert.match(await errorOf('layers.height_mm'), /"thick" is no answer/);
  assert.equal(await field('layers.height_mm').getAttribute('aria-invalid'), 'true');
  await field('image.pitch_x_mm').fill('0.05');
  await field('layers.height_mm').fill('50');
  await page.waitForFunction(() => /layer height is 50/.test(document.querySelector('#asks').textContent));
  await field('layers.height_mm').fill('50 um');
  await page.waitForFunction(() => /6 layers of 0.05 mm/.test(document.querySelector('.trial').textContent));
  assert.equal(await errorOf('layers.height_mm'), '');
  assert.deepEqual(await violations(page), []);
  await page.click('#asks button[type="submit"]');
  await page.waitForSelector('#check');
  assert.ok(existsSync(join(folder, 'desk', 'descriptions', 'own.zip.json')));
  await page.click('.again > summary');
  assert.equal(await field('layers.height_mm').inputValue(), '0.05');
  await field('layers.height_mm').fill('0.1');
  await Promise.all([page.waitForResponse((answer) => answer.request().postData()?.includes('"keep":true')), page.click('#asks button[type="submit"]')]);
  assert.match(readFileSync(join(folder, 'desk', 'descriptions', 'own.zip.json'), 'utf8'), /0\.1/);
}));

test('the numbers and the page are those of the command line, byte for byte', () => onDesk(['nameplate.zip', 'harbour-grey.json'], {}, async (page, desk, folder) => {
  await checkByMouse(page, 'nameplate.zip');
  const files = [join(folder, 'nameplate.zip'), '--record', join(folder, 'harbour-grey.json'), '--today', today];
  const both = async (...more) => {
    hairline(jobs, 'check', ...files, '--json', 'line.json', '--html', 'line.html', ...more);
    for (const [part, file] of [['report.json', 'line.json'], ['page', 'line.html']])
      assert.equal(await (await askDesk(desk, `/api/jobs/nameplate.zip/${part}`)).text(), readFileSync(join(jobs, file), 'utf8'), part);
    return JSON.parse(readFileSync(join(jobs, 'line.json'), 'utf8'));
  };
  const json = await both();
  assert.equal(await page.getAttribute('#result .verdict', 'data-verdict'), json.verdict);
  assert.equal(await framed(page).locator('#verdict').getAttribute('data-verdict'), json.verdict);
  assert.ok((await page.textContent('#result')).includes(`${json.exposure_s.toFixed(2)} s`));
  const [saved] = await Promise.all([page.waitForEvent('download'), page.click('a[download]')]);
  assert.deepEqual(JSON.parse(readFileSync(await saved.path(), 'utf8')), json);
  await page.fill('#time', '2,55');
  await page.click('#check button[type="submit"]');
  await page.waitForSelector('#before-after');
  await both('--exposure', '2.55');
}));

test('progress is seen, a check is cancelled, and what goes wrong is said where one looks', () => onDesk(['lighthouse-night.zip', 'hull.zip', 'harbour-grey.json'], {}, async (page) => {
  await goTo(page, 'job', 'lighthouse-night.zip');  // long enough to be cancelled in the middle
  await page.fill('#time', '5000');
  await page.click('#check button[type="submit"]');
  await page.waitForFunction(() => /5000/.test(document.querySelector('#time-error').textContent));
  assert.match(await page.textContent('#time-error'), /3600/);
  await page.fill('#time', '');
  await page.click('#check button[type="submit"]');
  await page.waitForFunction(() => /Checking: \d+ of \d+ layers/.test(document.querySelector('#state').textContent));
  await page.click('#state button');
  await page.waitForFunction(() => /cancelled/.test(document.querySelector('#state').textContent));
  assert.equal(await page.locator('iframe').count(), 0);
  await page.click('#check button[type="submit"]');
  await checked(page);
}));

test('the slider in the report offers a check at the time chosen; only the frame is listened to', () => onDesk(['nameplate.zip', 'harbour-grey.json'], {}, async (page) => {
  await checkByMouse(page, 'nameplate.zip');
  const slider = framed(page).locator('#try-time'), offer = page.locator('#chosen-time button');
  await page.evaluate(() => { for (const exposure_s of [2.3, 1e9, NaN, '2.3']) window.postMessage({ about: 'exposure', exposure_s }, '*'); });
  await slider.focus();
  await page.keyboard.press('ArrowLeft');
  await offer.waitFor();
  const chosen = await framed(page).locator('#try-output').textContent();
  assert.equal(await offer.textContent(), `Check at ${chosen}`);
  await page.keyboard.press('ArrowRight');
  await offer.waitFor({ state: 'detached' });  // back at the judged time
  await page.keyboard.press('ArrowLeft');
  const frame = page.frames().find((one) => one.url().includes('/page'));
  await frame.evaluate(() => { for (const exposure_s of [1e9, NaN, null, '2.3', 2.31]) parent.postMessage({ about: 'exposure', exposure_s }, '*'); });
  assert.equal(await offer.textContent(), `Check at ${chosen}`);
  await offer.click();
  await page.waitForSelector('#before-after');
  await page.waitForFunction((time) => document.querySelector('#result').textContent.includes(`Judged at ${time}`), chosen);
}));

test('the time to set is checked by one button; before and after stand side by side', () => onDesk(['nameplate.zip', 'harbour-grey.json'], {}, async (page, desk) => {
  await checkByMouse(page, 'nameplate.zip');
  const first = await (await askDesk(desk, '/api/jobs/nameplate.zip/report.json')).json();
  assert.equal(await page.textContent('#set'), `Set ${first.suggestion.exposure_s.toFixed(2)} s and check`);
  await page.click('#set');
  await page.waitForSelector('#before-after');
  const row = (n) => page.$$eval(`#before-after tbody tr:nth-child(${n}) td`, (cells) => cells.map((cell) => cell.textContent));
  const then = await (await askDesk(desk, '/api/jobs/nameplate.zip/report.json')).json();
  assert.deepEqual(await row(1), [first, then].map((report) => `${report.exposure_s.toFixed(2)} s`));
  assert.deepEqual(await row(2), [first, then].map((report) => report.verdict.toUpperCase()));
  assert.deepEqual((await row(3)).map((text) => text.includes(`${first.suggestion.now.fuse} gaps closed`)), [true, false]);
  assert.equal(await page.locator('#set').count(), 0);
  await page.waitForFunction((time) => document.querySelector('#after-print').textContent.includes(`print at ${time}`), `${then.exposure_s.toFixed(2)} s`);
}));

test('a job without a time to speak of says no more than it knows; a page that is none says so', () => onDesk(['hull.zip'], {}, async (page) => {
  await goTo(page, 'job', 'hull.zip');
  await page.click('#check a:text-is("Layers")');  // as drawn, before any check
  await page.waitForSelector('#view[data-layer="1"]');
  await checkByMouse(page, 'hull.zip');
  assert.doesNotMatch(await page.innerText('#result'), /null|undefined/);
  for (const hash of ['#/toString', '#/100%']) {
    await page.evaluate((to) => { location.hash = to; }, hash);
    await page.waitForSelector('#here[data-part="jobs"]:not([aria-busy])');
    assert.equal(await page.textContent('h1'), 'Jobs');
  }
}));

test('a check that is cancelled twice is cancelled once, and those that wait say at which time', () => onDesk(['gallery-small.zip', 'harbour-grey.json'], {}, async (page, desk) => {
  const begin = async (exposure) => (await (await askDesk(desk, '/api/jobs/gallery-small.zip/check', { post: { record: 'harbour-grey.json', exposure } })).json()).number;
  const numbers = [await begin(''), await begin('2.4')];
  await goTo(page, 'job', 'gallery-small.zip');
  await page.waitForFunction(() => /The check at 2\.40 s waits/.test(document.querySelector('#state').textContent));
  for (const number of [...numbers, ...numbers]) assert.equal((await askDesk(desk, `/api/checks/${number}/cancel`, { post: {} })).status, 200);
  await page.waitForFunction(() => /The check at 2\.40 s was cancelled/.test(document.querySelector('#state').textContent));
}));

test('what was checked is there after a restart; a changed record is said and checked again', () => onDesk(['nameplate.zip', 'harbour-grey.json'], {}, async (page, desk, folder) => {
  await checkByMouse(page, 'nameplate.zip');
  await goTo(page, 'jobs');
  assert.match(await card(page, 'nameplate.zip').innerText(), /HOLD[^]*Set 2\.20 s a layer[^]*checked just now/);
  const second = await startDesk(folder, '--today', today), other = await openDesk(browser, second);
  assert.match(await card(other, 'nameplate.zip').innerText(), /HOLD/);
  await checkLook(other);
  await other.context().close();
  await second.stop();
  const record = JSON.parse(readFileSync(join(folder, 'harbour-grey.json'), 'utf8'));
  writeFileSync(join(folder, 'harbour-grey.json'), JSON.stringify({ ...record, note: 'looked at again' }));
  await page.reload();
  await settled(page);
  assert.match(await card(page, 'nameplate.zip').innerText(), /record has changed since/);
  await card(page, 'nameplate.zip').locator('button', { hasText: 'Check again' }).click();
  await page.waitForFunction(() => !/has changed/.test(document.querySelector('.job').textContent));
}));

async function checkLook(page) {
  await goTo(page, 'job', 'nameplate.zip');
  await checked(page);
  assert.deepEqual(await violations(page), []);
}

test('without a record the way to one is shown, and the measures are checked', () => onDesk(['hull.zip'], {}, async (page) => {
  await goTo(page, 'job', 'hull.zip');
  assert.ok(await page.isVisible('#check a[href="#/evening"]'));
  await page.click('#check button[type="submit"]');
  await checked(page);
  assert.match(await framed(page).locator('.entries').textContent(), /with a resin record says what is lost/);
}));

test('by keyboard alone: from the list to the report and a check at another time', () => onDesk(['nameplate.zip', 'harbour-grey.json'], {}, async (page) => {
  const tabTo = async (selector) => {
    for (let i = 0; i < 60; i++) {
      if (await page.evaluate((wanted) => document.activeElement?.matches(wanted), selector)) return;
      await page.keyboard.press('Tab');
    }
    assert.fail(`Tab does not come to ${selector}`);
  };
  await tabTo('#files');
  await tabTo('[data-job="nameplate.zip"] a');
  await page.keyboard.press('Enter');
  await page.waitForSelector('#check');
  await tabTo('#record');
  await tabTo('#time');
  await page.keyboard.press('Enter');
  await checked(page);
  await tabTo('#set');
  await page.keyboard.press('Space');
  await page.waitForSelector('#before-after');
  await page.waitForFunction(() => document.activeElement.id === 'result');  // the button is gone: what it brought has the focus
  await checked(page);  // Tab passes by a frame that is still empty
  await tabTo('iframe#report');
  await framed(page).locator('#try-time').focus();
  await page.keyboard.press('ArrowRight');
  await page.locator('#chosen-time button').waitFor();
}));

for (const [width, colours] of [[360, 'light'], [360, 'dark'], [1280, 'dark']])
  test(`${width} wide, ${colours}: nothing sticks out, and axe-core finds no serious violation`, () => onDesk(['nameplate.zip', 'hull.zip', 'harbour-grey.json'], { width, colours }, async (page) => {
    const fits = async () => {
      const out = await page.$$eval('#here *', (all, edge) => all.filter((one) => one.getBoundingClientRect().right > edge && !one.closest('.scroll')).map((one) => one.outerHTML.slice(0, 80)), width);
      assert.ok(await page.evaluate(() => document.documentElement.scrollWidth) <= width, out.join('\n'));
      assert.deepEqual(await violations(page), []);
    };
    await page.setInputFiles('#files', { name: 'own.zip', mimeType: 'application/zip', buffer: foreignZip() });
    await card(page, 'own.zip').waitFor();
    await fits();
    await goTo(page, 'job', 'own.zip');
    await fits();
    await checkByMouse(page, 'nameplate.zip');
    await page.click('#set');
    await page.waitForSelector('#before-after');
    await fits();
    await goTo(page, 'jobs');
    await fits();
  }));
