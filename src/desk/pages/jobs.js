// The jobs of the folder, and one of them: its check, its report, and what is asked about it.
import { api, ask, button, complain, fill, find, inTurn, labelled, make, place, Refused, say, secondsText } from './desk.js';
import { askForm } from './asks.js';
import { drawChecks, follow, isActive } from './checks.js';
import { dropPlace } from './uploads.js';
import { outcomeForm } from './outcome.js';
import { words } from './words.js';

const said = words.jobs;

const shapes = { clear: [['circle', { cx: 32, cy: 32, r: 28 }], ['path', { d: 'M18 33l10 10l19-21' }]],
                 caution: [['path', { class: 'solid', d: 'M32 4L62 58H2z' }], ['path', { d: 'M32 24v17M32 48v4' }]],
                 hold: [['path', { class: 'solid', d: 'M21 4h22l17 17v22l-17 17H21L4 43V21z' }], ['path', { d: 'M18 32h28' }]] };

// The verdict as a shape and a word.
function verdictMark(verdict) {
  const node = (tag, attributes, inside = []) => {
    const made = document.createElementNS('http://www.w3.org/2000/svg', tag);
    for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
    made.append(...inside);
    return made;
  };
  const drawn = shapes[verdict].map(([tag, attributes]) => node(tag, attributes));
  return make('span', { class: `verdict ${verdict}`, 'data-verdict': verdict },
              node('svg', { class: 'shape', viewBox: '0 0 64 64', 'aria-hidden': 'true' }, drawn), make('strong', {}, said.verdicts[verdict]));
}

/** How long ago, between two local times "2026-11-26T21:05". */
function agoText(at, now) {
  const minutes = Math.round((Date.parse(now) - Date.parse(at)) / 60000);
  const text = new Intl.RelativeTimeFormat('en', { numeric: 'auto' });
  if (minutes < 1) return said.justNow;
  if (minutes < 60) return text.format(-minutes, 'minute');
  return minutes < 48 * 60 ? text.format(-Math.round(minutes / 60), 'hour') : text.format(-Math.round(minutes / 1440), 'day');
}

const titleOf = (job) => job.title || job.last?.title || job.name;
async function checkAt(name, record, exposure = '') {
  const { refused } = await ask(api('jobs', name, 'check'), { post: { record, exposure: String(exposure) } });
  if (refused) throw new Refused(200, 'usage', refused);
}
const againAs = (job) => checkAt(job.name, job.last.asked.record, job.last.asked.exposure_s ?? '');

// What has changed since the check, and the way to check again.
function changedNote(job, again) {
  if (!job.last?.changed.length) return null;
  const what = job.last.changed.length > 1 ? said.bothChanged : job.last.changed[0] === 'job' ? said.jobChanged : said.recordChanged;
  return make('p', { class: 'doubtful row' }, what, again ? button(said.checkAgain, again, { 'data-key': 'again' }) : null);
}

function answerOf(job, now) {
  const last = job.last;
  return [make('p', { class: 'row' }, verdictMark(last.verdict), last.sentence), ...(last.time_text ? [make('p', { class: 'time' }, last.time_text)] : []),
          make('p', { class: 'quiet small' }, fill(said.facts, { time: secondsText(last.exposure_s), duration: last.duration, ago: agoText(last.at, now) }))];
}

// ---- the list ----

function card(job, now, checks, start) {
  const link = make('a', { href: place('job', job.name), 'data-key': 'open' }, titleOf(job));
  const about = make('div', { class: 'about' }, make('h2', {}, link), titleOf(job) === job.name ? null : make('p', { class: 'quiet small' }, job.name));
  if (job.last) about.append(...answerOf(job, now));
  if (job.asks) about.append(make('p', { class: 'doubtful' }, said.asks, ' ', make('a', { href: place('job', job.name), 'data-key': 'asks' }, said.answer)));
  else if (job.error) about.append(make('p', { class: 'bad' }, job.error));
  else if (!job.last) about.append(make('p', { class: 'quiet' }, said.notChecked));
  const note = changedNote(job, () => againAs(job).then(start));
  if (note && !job.error) about.append(note);
  const state = make('div', { class: 'state' });
  drawChecks(state, checks, job.name);
  const picture = job.last?.thumbnail ? make('img', { class: 'thumbnail', alt: '', src: `${api('jobs', job.name, 'thumbnail.png')}?id=${job.last.id}` })
                                      : make('div', { class: 'thumbnail', 'aria-hidden': 'true' });
  return make('li', { class: 'job', 'data-job': job.name }, picture, about, state);
}

export async function showAll(host, _, signal) {
  const list = make('ul', { class: 'jobs', 'aria-label': said.list }), empty = make('p', { class: 'quiet', id: 'no-jobs', hidden: true }, said.none);
  const warning = make('p', { class: 'doubtful', hidden: true });
  const shown = new Map();
  const refresh = inTurn(async () => {
    const { jobs, checks, now, warning: text } = await ask('/api/jobs', { signal });
    for (const [name, { node }] of shown) if (!jobs.some((job) => job.name === name)) { node.remove(); shown.delete(name); }
    jobs.forEach((job, i) => {
      const was = shown.get(job.name), own = checks.filter((check) => check.job === job.name), text = JSON.stringify([job, own, now]);
      if (was?.text !== text) {
        const node = card(job, now, checks, listen), key = was?.node.contains(document.activeElement) ? document.activeElement.dataset.key : null;
        was ? was.node.replaceWith(node) : list.insertBefore(node, list.children[i] ?? null);
        if (key) (find(`[data-key="${key}"]`, node) ?? find('a', node)).focus();
        shown.set(job.name, { text, node });
      }
    });
    empty.hidden = jobs.length > 0;
    warning.textContent = text ?? '';
    warning.hidden = !text;
    return checks;
  });
  const listen = follow(signal, (checks) => {
    for (const [name, { node }] of shown) drawChecks(find('.state', node), checks, name);
  }, refresh);
  host.append(make('h1', {}, words.desk.jobs), dropPlace(signal, refresh), warning, empty, list);
  if ((await refresh()).some(isActive)) listen();
}

// ---- one job ----

function recordField(job) {
  const name = ({ resin, printer, name: file }) => [resin, printer].filter(Boolean).join(', ') + ` (${file})`;
  const options = job.records.map((one) => make('option', { value: one.name, disabled: one.error !== null, selected: one.name === chosen(job) },
                                                one.error ? fill(said.unreadable, { file: one.name }) : name(one)));
  return make('select', { id: 'record' }, options, make('option', { value: '', selected: chosen(job) === '' }, said.measuredOnly));
}
const chosen = (job) => job.last && !job.last.changed.includes('record') ? job.last.asked.record : job.fitting;

function checkForm(job, start) {
  const record = recordField(job), time = make('input', { id: 'time', inputmode: 'decimal', autocomplete: 'off', 'aria-describedby': 'time-hint time-error' });
  if (job.last?.asked.exposure_s) time.value = job.last.asked.exposure_s;
  const error = make('p', { class: 'bad', id: 'time-error', role: 'alert' });
  const form = make('form', { class: 'sheet', id: 'check', 'aria-label': said.check }, make('div', { class: 'fields' },
      labelled(said.record, record), labelled(said.time, time, fill(said.ownTime, { time: secondsText(job.normal_s) }))), error);
  if (!job.records.length)
    form.append(make('p', { class: 'doubtful' }, said.noRecords, ' ', make('a', { href: place('evening') }, said.toEvening)));
  else if (job.fitting_why) form.append(make('p', { class: 'quiet' }, job.fitting_why));
  form.append(make('div', { class: 'row' }, make('button', { type: 'submit', class: 'first' }, job.last ? said.checkAgain : said.check),
                   job.last ? null : make('a', { class: 'button', href: place('layers', job.name) }, said.layers)));
  form.addEventListener('submit', async (event) => {
    event.preventDefault();
    error.textContent = '';
    time.removeAttribute('aria-invalid');
    try {
      await checkAt(job.name, record.value, time.value.trim());
      start();
    } catch (refused) {
      error.textContent = refused.message;
      if (refused.kind !== 'usage') return;
      time.setAttribute('aria-invalid', 'true');
      time.focus();
    }
  });
  return form;
}

// Two times side by side: the one before and the one of the report.
function beforeAfter({ before, now }) {
  if (!before || !now) return null;
  const row = (name, value, kind = '') => make('tr', {}, make('th', { scope: 'row' }, name), make('td', { class: kind }, value(before)), make('td', { class: kind }, value(now)));
  return make('div', { class: 'scroll', role: 'region', tabindex: '0', 'aria-label': said.beforeAfter }, make('table', { id: 'before-after' },
      make('caption', {}, said.beforeAfter),
      make('thead', {}, make('tr', {}, make('td'), make('th', { scope: 'col' }, said.before), make('th', { scope: 'col' }, said.after))),
      make('tbody', {}, row(said.time, (at) => secondsText(at.exposure_s)), row(said.verdict, (at) => (at.verdict ? verdictMark(at.verdict) : '–')),
           row(said.lost, (at) => at.text), row(said.harm, (at) => String(Number(at.harm_mm.toPrecision(2)))))));
}

// The report in its frame, and what its slider asks for: only this frame is heard, and only times that its rows have.
function reportFrame(job, signal, start) {
  const { last, name } = job, record = last.asked.record;
  const frame = make('iframe', { id: 'report', sandbox: 'allow-scripts allow-downloads', title: fill(said.reportTitle, { job: titleOf(job) }),
                                 src: `${api('jobs', name, 'page')}?id=${last.id}` });
  const offer = make('div', { id: 'chosen-time', role: 'status', 'aria-live': 'polite' });
  addEventListener('message', (event) => {
    if (event.source !== frame.contentWindow || event.data?.about !== 'exposure') return;
    const time = event.data.exposure_s;
    if (typeof time !== 'number' || !last.rows_s.includes(time)) return;
    offer.replaceChildren(...(time === last.exposure_s ? [] : [button(fill(said.checkAt, { time: secondsText(time) }), () => checkAt(name, record, time).then(start), { class: 'button first' })]));
  }, { signal });
  return [offer, frame];
}

function result(job, now, signal, start) {
  const { last, name } = job, host = make('section', { id: 'result', tabindex: '-1', 'aria-label': said.report });
  if (!last) return host;
  const set = last.then && !last.changed.length ? button(fill(said.set, { time: secondsText(last.then.exposure_s) }),
      () => checkAt(name, last.asked.record, last.then.exposure_s).then(start), { class: 'first', id: 'set' }) : null;
  host.append(...answerOf(job, now), changedNote(job) ?? '', make('div', { class: 'row' }, set, make('a', { class: 'button', href: place('layers', name) }, said.layers),
      make('a', { class: 'button', href: api('jobs', name, 'report.json'), download: '' }, said.save)), beforeAfter(last) ?? '', ...reportFrame(job, signal, start));
  return host;
}

function afterPrint(name) {
  const host = make('section', { id: 'after-print', 'aria-label': said.afterPrint });
  outcomeForm(host, name).catch(complain);
  return host;
}

export async function showOne(host, [name], signal) {
  const title = make('h1', {}, name), file = make('p', { class: 'quiet small' }), state = make('div', { class: 'state', id: 'state' });
  const slots = new Map(['form', 'result', 'answers', 'after'].map((key) => [key, { node: make('div', { id: `slot-${key}` }), text: null, drawn: new AbortController() }]));
  let job = null;
  const start = () => { say(said.begun); listen(); };
  // Anew only where what it shows is another: the report's frame keeps its place, and what has the focus keeps it.
  const fillSlot = async (key, value, made) => {
    const slot = slots.get(key), text = JSON.stringify(value), focus = slot.node.contains(document.activeElement) ? document.activeElement.id : '';
    if (slot.text === text) return;
    slot.drawn.abort();
    [slot.text, slot.drawn] = [text, new AbortController()];
    slot.node.replaceChildren(...[value ? await made(slot.drawn.signal) : []].flat());
    if (focus) (document.getElementById(focus) ?? find('section', slot.node))?.focus();
  };
  const problem = () => make('p', job.asks ? { class: 'doubtful' } : { class: 'bad', id: 'broken' }, job.asks ? said.asks : job.error);
  const refresh = inTurn(async () => {
    job = await ask(api('jobs', name), { signal });
    title.textContent = titleOf(job);
    file.textContent = titleOf(job) === name ? '' : name;
    const { last, records, fitting, fitting_why, normal_s, error, asks, answered } = job, sound = !error;
    await fillSlot('form', { error, last, records, fitting, fitting_why, normal_s }, () => (sound ? checkForm(job, start) : problem()));
    await fillSlot('result', sound && last, (own) => result(job, job.now, own, start));
    await fillSlot('answers', (asks || answered) && { asks }, () => askForm(name, asks, refresh));
    await fillSlot('after', last && { check: last.id }, (own) => afterPrint(name, own));
    return job.checks;
  });
  const draw = (checks) => drawChecks(state, checks, name);
  const listen = follow(signal, draw, async () => {
    draw(await refresh());
    const own = job.checks.find((check) => check.job === name);
    if (own?.stage === 'done') say(`${said.verdicts[job.last.verdict]}: ${job.last.sentence}`);
  });
  signal.addEventListener('abort', () => { for (const { drawn } of slots.values()) drawn.abort(); });
  host.append(title, file, state, ...[...slots.values()].map((slot) => slot.node));
  const checks = await refresh();
  draw(checks);
  if (checks.some(isActive)) listen();
}
