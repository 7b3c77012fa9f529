// How soon a page can be used: node tests/page/interactive.mjs PAGE.html. From the call to open it until a mark has led to its entry,
// five times; the answer is checked each time. A measurement for docs/benchmarks.md, no test.
import assert from 'node:assert/strict';
import { resolve } from 'node:path';
import { pathToFileURL } from 'node:url';
import { launch } from './browser.mjs';

const url = pathToFileURL(resolve(process.argv[2])).href, browser = await launch(), taken_ms = [];
for (let round = 0; round < 5; round++) {
  const page = await (await browser.newContext({ viewport: { width: 1280, height: 800 } })).newPage();
  const begun = performance.now();
  await page.goto(url);
  const mark = page.locator('a.mark').first();
  await mark.focus();
  await page.keyboard.press('Enter');
  assert.equal(await page.evaluate(() => location.hash), await mark.getAttribute('href'));
  taken_ms.push(Math.round(performance.now() - begun));
  await page.context().close();
}
await browser.close();
console.log(`${taken_ms.sort((a, b) => a - b)[2]} ms in the middle of ${taken_ms.join(', ')}`);
