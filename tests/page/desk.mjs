// A desk over a folder of its own, as a person starts it, and a browser in front of it.
import axe from 'axe-core';
import { spawn } from 'node:child_process';
import { createInterface } from 'node:readline';

const binary = process.env.HAIRLINE_BINARY;

/** Starts `hairline desk` over `folder`; `address` is what it printed. */
export async function startDesk(folder, ...words) {
  const child = spawn(binary, ['desk', folder, '--port', '0', '--no-open', ...words], { stdio: ['ignore', 'pipe', 'inherit'] });
  process.on('exit', () => child.kill('SIGKILL'));
  const ended = new Promise((resolve) => child.on('exit', (code, signal) => resolve({ code, signal })));
  for await (const line of createInterface({ input: child.stdout })) {
    const address = /http:\/\/127\.0\.0\.1:(\d+)\/\?token=([0-9a-f]{32})/.exec(line);
    if (address) return { child, ended, address: address[0], port: Number(address[1]), token: address[2],
                          stop: async () => { child.kill('SIGINT'); return ended; } };
  }
  throw new Error('the desk printed no address');
}

/** Asks a desk without a browser: what a script with the token gets. */
export async function askDesk(desk, path, { post, headers = {} } = {}) {
  const origin = `http://127.0.0.1:${desk.port}`;
  return fetch(origin + path, { redirect: 'manual', method: post === undefined ? 'GET' : 'POST',
    body: post === undefined || typeof post === 'string' || post instanceof Uint8Array ? post : JSON.stringify(post),
    headers: { Cookie: `hairline${desk.port}=${desk.token}`, ...(post === undefined ? {} : { Origin: origin }), ...headers } });
}

/** A page on the desk, by its address with the token; what it complains of is kept in `complaints`. */
export async function openDesk(browser, desk, { width = 1280, colours = 'light', at = '' } = {}) {
  const context = await browser.newContext({ viewport: { width, height: 800 }, colorScheme: colours, reducedMotion: 'reduce', acceptDownloads: true });
  await context.addInitScript(axe.source);
  const page = await context.newPage();
  page.complaints = [];
  page.on('console', (said) => { if (['error', 'warning'].includes(said.type())) page.complaints.push(said.text()); });
  page.on('pageerror', (error) => page.complaints.push(String(error)));
  page.on('request', (request) => { if (!request.url().startsWith(`http://127.0.0.1:${desk.port}/`) && !/^(data|blob|about):/.test(request.url())) page.complaints.push(`asked ${request.url()}`); });
  await page.goto(desk.address);
  if (at) await page.evaluate((hash) => { location.hash = hash; }, at);
  await settled(page);
  return page;
}

/** Until what was asked for is shown. */
export const settled = (page) => page.waitForSelector('main#here:not([aria-busy])');
