// The shell: which part is shown, how the desk is asked, and small helpers for all parts.
import { words } from './words.js';
import * as jobs from './jobs.js';
import * as layers from './layers.js';
import * as night from './night.js';
import * as records from './records.js';

export const find = (selector, within = document) => within.querySelector(selector);

/** An element; attributes that are functions listen ("onclick"), true sets and false leaves out. Texts are text, never HTML. */
export function make(tag, attributes = {}, ...inside) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (typeof value === 'function') node.addEventListener(name.slice(2), value);
    else if (value === true) node.setAttribute(name, '');
    else if (value !== false && value !== null && value !== undefined) node.setAttribute(name, value);
  }
  node.append(...inside.flat().filter((one) => one !== null && one !== undefined));
  return node;
}

export const secondsText = (seconds) => `${seconds.toFixed(2)} s`;

/** Filled with {name} replaced. */
export const fill = (text, values) => text.replace(/\{(\w+)\}/g, (_, name) => values[name]);

export class Refused extends Error {
  constructor(status, kind, text) {
    super(text);
    [this.status, this.kind] = [status, kind];
  }
}

/** Asks the desk: a GET, or with `post` (a value sent as JSON, or a Blob as it is) a POST. Throws Refused with the desk's own words. */
export async function ask(path, { post, signal } = {}) {
  const how = { signal };
  if (post !== undefined) {
    how.method = 'POST';
    how.body = post instanceof Blob ? post : JSON.stringify(post);
    how.headers = { 'Content-Type': post instanceof Blob ? 'application/octet-stream' : 'application/json' };
  }
  let answer;
  try {
    answer = await fetch(path, how);
  } catch (error) {
    if (error.name === 'AbortError') throw error;
    throw new Refused(0, 'gone', words.desk.gone);
  }
  const json = await answer.json().catch(() => null);
  if (!answer.ok) throw new Refused(answer.status, json?.error?.kind ?? 'request', json?.error?.text ?? answer.statusText);
  return json;
}

/** Runs of `act` one after the other, so that none is left showing what the desk said before the newest. */
export function inTurn(act) {
  let last = Promise.resolve();
  return () => (last = last.catch(() => {}).then(act));
}

/** A fragment that the desk made of a document: escaped there. */
export function fragment(html) {
  const host = make('div', { class: 'said' });
  host.innerHTML = html;
  return host;
}

/** Said aloud, and shown at the top until something else is. */
export function say(text, bad = false) {
  const said = find('#said');
  said.textContent = text;
  said.className = bad ? 'bad' : '';
}
export const complain = (error) => { if (error.name !== 'AbortError') say(error.message, true); };

/** A button that does `act` and cannot be pressed again meanwhile. */
export function button(text, act, attributes = {}) {
  const node = make('button', { type: 'button', ...attributes, onclick: async () => {
    if (node.getAttribute('aria-disabled') === 'true') return;
    node.setAttribute('aria-disabled', 'true');
    try { await act(); } catch (error) { complain(error); } finally { node.removeAttribute('aria-disabled'); }
  } }, text);
  return node;
}

/** A labelled field; `field` is an input or select of its own id. */
export const labelled = (text, field, hint) => make('p', { class: 'field' }, make('label', { for: field.id }, text), field,
                                                   hint ? make('span', { class: 'hint', id: `${field.id}-hint` }, hint) : null);

/** The address of a part: place('job', 'hull.zip') is "#/job/hull.zip". */
export const place = (...parts) => '#/' + parts.map(encodeURIComponent).join('/');
/** The same for the desk's own requests: api('jobs', name, 'page'). */
export const api = (...parts) => '/api/' + parts.map(encodeURIComponent).join('/');

// Each shows itself in `host` and stops what it began when `signal` is aborted.
const parts = { jobs: jobs.showAll, job: jobs.showOne, layers: layers.show, records: records.showAll, record: records.showOne,
                evening: records.showEvening, night: night.show };
const tab_of = { job: 'jobs', layers: 'jobs', record: 'records', evening: 'records' };

// What was typed into the address bar may be no coded text.
function decoded(text) {
  try { return decodeURIComponent(text); } catch { return text; }
}

let shown = null;
async function show() {
  shown?.abort();
  const now = shown = new AbortController();
  const [name, ...rest] = location.hash.replace(/^#\/?/, '').split('/').map(decoded);
  const part = Object.hasOwn(parts, name) ? name : 'jobs';
  for (const link of document.querySelectorAll('#parts a'))
    if (link.hash === `#/${tab_of[part] ?? part}`) link.setAttribute('aria-current', 'page');
    else link.removeAttribute('aria-current');
  const old = find('#here');
  const host = make('main', { id: 'here', tabindex: '-1', 'data-part': part, 'aria-busy': 'true' });
  old.replaceWith(host);
  say('');
  try {
    await parts[part](host, rest, now.signal);
  } catch (error) {
    if (!now.signal.aborted) complain(error);
    if (!find('h1', host)) host.append(make('h1', {}, words.desk.notShown));
  }
  if (now.signal.aborted) return;
  host.removeAttribute('aria-busy');
  document.title = `${find('h1', host)?.textContent ?? words.desk.jobs} - ${words.desk.title}`;
}

function start() {
  find('#skip').textContent = words.desk.skip;
  find('#skip').addEventListener('click', (event) => { event.preventDefault(); find('#here').focus(); });
  find('#sign').textContent = words.desk.title;
  find('#parts').setAttribute('aria-label', words.desk.parts);
  for (const part of ['jobs', 'records', 'night']) find('#parts').append(make('a', { href: `#/${part}` }, words.desk[part]));
  find('#stop').textContent = words.desk.stop;
  find('#stop').addEventListener('click', async () => {
    await ask('/api/stop', { post: {} }).catch(() => {});
    shown?.abort();
    document.body.replaceChildren(make('main', { id: 'here', 'data-part': 'closed' }, make('h1', {}, words.desk.title), make('p', {}, words.desk.stopped)));
  });
  addEventListener('hashchange', async () => { await show(); find('#here').focus(); });
  show();
}
start();
