// A page in headless Chromium: what it complains of, what it asks for, how it looks.
import axe from 'axe-core';
import assert from 'node:assert/strict';
import { existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { chromium } from 'playwright-core';

const kept = join(dirname(fileURLToPath(import.meta.url)), 'kept');

/** Chromium of the system. Its own sandbox is off: it does not start as root with it, and the pages are ours. */
export const launch = () => chromium.launch({ executablePath: '/usr/bin/chromium', chromiumSandbox: false });

/** Opens a page offline, and keeps what it complained of and what it asked for (but for itself and data: addresses). */
export async function open(browser, url, { width = 1280, colours = 'light', javaScript = true } = {}) {
  const context = await browser.newContext({ viewport: { width, height: 800 }, colorScheme: colours, offline: true,
                                             reducedMotion: 'reduce', javaScriptEnabled: javaScript });
  await context.addInitScript(axe.source);  // not as an element of the page: its content policy lets none in
  const page = await context.newPage();
  page.complaints = [];
  page.requests = [];
  page.on('console', (said) => { if (['error', 'warning'].includes(said.type())) page.complaints.push(said.text()); });
  page.on('pageerror', (error) => page.complaints.push(String(error)));
  page.on('dialog', (dialog) => { page.complaints.push(`dialog: ${dialog.message()}`); dialog.dismiss(); });
  page.on('request', (request) => {
    if (request.url() !== url && !request.url().startsWith('data:')) page.requests.push(request.url());
  });
  await page.goto(url);
  return page;
}

/** Fails where the page complained of anything or asked for anything. */
export function assertQuiet(page) {
  assert.deepEqual(page.complaints, []);
  assert.deepEqual(page.requests, []);
}

/** Serious and critical violations of WCAG 2 A and AA that axe-core finds, one line each. Frames are left to tests of what is in them. */
export async function violations(page) {
  const found = await page.evaluate(() => axe.run(document, {
    iframes: false, runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'best-practice'], resultTypes: ['violations'] }));
  return found.violations.filter((v) => ['serious', 'critical'].includes(v.impact))
      .map((v) => `${v.id} (${v.impact}): ${v.nodes.slice(0, 3).map((n) => n.target.join(' ')).join('; ')} - ${v.help}`);
}

/** What Tab visits from the top of the page until it leaves it; fails when it is still there after `most` steps. */
export async function tabThrough(page, most) {
  await page.evaluate(() => { window.scrollTo(0, 0); document.activeElement?.blur(); });
  const visited = [];
  for (let step = 0; step < most; step++) {
    await page.keyboard.press('Tab');
    const at = await page.evaluate(() => {
      const e = document.activeElement;
      if (!e || e === document.body || e === document.documentElement) return null;
      window.tabbed ??= new Map();
      if (!window.tabbed.has(e)) window.tabbed.set(e, window.tabbed.size);
      return { index: window.tabbed.get(e), name: e.tagName + (e.id ? `#${e.id}` : '') };
    });
    if (!at || (visited.length > 0 && at.index === 0)) return visited;
    assert.equal(at.index, visited.length, `Tab comes back to ${at.name} after ${visited.at(-1)}`);
    visited.push(at.name);
  }
  assert.fail(`Tab has not left the page after ${most} steps; last ${visited.slice(-5).join(', ')}`);
}

/** The picture at a sixth of its size, in 16 shades of each colour, as a PNG: small enough to keep. */
async function coarse(page, png) {
  const url = await page.evaluate(async (source) => {
    const image = new Image();
    image.src = source;
    await image.decode();
    const canvas = document.createElement('canvas');
    [canvas.width, canvas.height] = [Math.ceil(image.width / 6), Math.ceil(image.height / 6)];
    const draw = canvas.getContext('2d');
    draw.imageSmoothingQuality = 'high';
    draw.drawImage(image, 0, 0, canvas.width, canvas.height);
    const pixels = draw.getImageData(0, 0, canvas.width, canvas.height);
    pixels.data.forEach((value, i) => { pixels.data[i] = i % 4 === 3 ? value : value & 0xf0; });
    draw.putImageData(pixels, 0, 0);
    return canvas.toDataURL('image/png');
  }, `data:image/png;base64,${png.toString('base64')}`);
  return Buffer.from(url.slice(url.indexOf(',') + 1), 'base64');
}

/** Share of pixels that differ by more than 40 of 255 in any colour; 1 when the heights differ by over 4 % or the widths differ. */
const differing = (page, a, b) => page.evaluate(async (sources) => {
  const pixels = [];
  for (const source of sources) {
    const image = new Image();
    image.src = source;
    await image.decode();
    const canvas = new OffscreenCanvas(image.width, image.height);
    canvas.getContext('2d').drawImage(image, 0, 0);
    pixels.push({ ...{ width: image.width, height: image.height },
                  data: canvas.getContext('2d').getImageData(0, 0, image.width, image.height).data });
  }
  const [one, other] = pixels;
  const height = Math.min(one.height, other.height);
  if (one.width !== other.width || Math.abs(one.height - other.height) > 0.04 * height) return 1;
  let differ = 0;
  for (let i = 0; i < 4 * one.width * height; i += 4)
    differ += [0, 1, 2].some((c) => Math.abs(one.data[i + c] - other.data[i + c]) > 40) ? 1 : 0;
  return differ / (one.width * height);
}, [a, b].map((png) => `data:image/png;base64,${png.toString('base64')}`));

/**
 * Compares the page's look with tests/page/kept/NAME.png: coarse, and at most 5 % of its pixels may differ.
 * With HAIRLINE_KEEP=1 the look is kept instead. A look that differs is written to `folder` for a person to see.
 */
export async function assertLooksAsKept(browser, page, name) {
  await page.evaluate(() => {
    const sheet = new CSSStyleSheet();
    sheet.replaceSync('*, *::before, *::after { font-family: "DejaVu Sans", sans-serif !important; }');
    document.adoptedStyleSheets = [...document.adoptedStyleSheets, sheet];
  });
  const blank = await (await browser.newContext()).newPage();
  const look = await coarse(blank, await page.screenshot({ fullPage: true, animations: 'disabled' }));
  const file = join(kept, `${name}.png`);
  if (process.env.HAIRLINE_KEEP) {
    mkdirSync(kept, { recursive: true });
    return writeFileSync(file, look);
  }
  assert.ok(existsSync(file), `${file} is not there: HAIRLINE_KEEP=1 keeps it`);
  const share = await differing(blank, look, readFileSync(file));
  if (share > 0.05) {
    const seen = join(process.cwd(), `${name}-seen.png`);
    writeFileSync(seen, look);
    assert.fail(`${(100 * share).toFixed(1)} % of the look differs from ${file}; what was seen: ${seen}`);
  }
}
