// Tonight: the queue as the person wants it, saved with each answer, and the plan that the desk makes of it.
import { api, ask, button, complain, fill, find, fragment, make, say } from './desk.js';
import { savedField } from './night_fields.js';
import { jobsPart } from './night_jobs.js';
import { printersPart } from './night_printers.js';
import { words } from './words.js';

/**
 * `queue` is what is shown and wanted, `state` what the desk said last, `seen` what it said of each job of the queue.
 * change(act, {focus, said}) lets `act` change the queue, shows that at once and saves it; changes meanwhile are saved after
 * it. Where somebody else changed the queue, it is refused, and what is there now is shown.
 */
class Night {
  constructor(signal, draw) {
    Object.assign(this, { signal, draw, state: null, queue: null, seen: new WeakMap(), saving: false, more: false, timer: 0 });
  }

  take(state) {
    if (this.signal.aborted) return;
    const elsewhere = this.state && !this.saving && this.state.version !== state.version;
    this.state = state;
    if (!this.more) {
      this.queue = structuredClone(state.queue);
      this.queue.jobs.forEach((job, at) => this.seen.set(job, state.jobs[at]));
    }
    this.draw();
    if (elsewhere) say(words.night.elsewhere);
    clearTimeout(this.timer);
    if (state.busy && !document.hidden) this.timer = setTimeout(() => this.refresh().catch(complain), 500);
  }

  async refresh() {
    const state = await ask(api('night'), { signal: this.signal });
    if (!this.saving) this.take(state);
  }

  async change(act, { focus, said } = {}) {
    act(this.queue);
    this.more = true;
    this.draw(focus);
    say(said?.() ?? words.night.saved);
    if (this.saving) return;
    this.saving = true;
    try {
      while (this.more) {
        this.more = false;
        const state = await ask(`${api('night')}?version=${this.state.version}`, { post: this.queue });
        if (state.refused) throw new Error(state.refused);
        this.take(state);
      }
    } catch (error) {
      await this.undo(error);
    } finally {
      this.saving = false;
    }
  }

  // What could not be saved is taken back.
  async undo(error) {
    this.more = false;
    const state = error.status === 409 ? await ask(api('night')).catch(() => this.state) : this.state;
    this.take(state);
    say(error.status === 409 ? words.night.stale : error.message, true);
  }

  async post(what) {
    const state = await ask(api('night', what), { post: {} });
    if (!this.saving) this.take(state);
  }
}

function timesPart(night) {
  const time = (name) => savedField(words.night[name], make('input', { id: `night-${name}`, type: 'datetime-local' }), { wait_ms: 800,
    read: () => night.queue[name] ?? '', write: (text) => night.change((queue) => { queue[name] = text || null; }) });
  const fields = [time('start'), time('ready_by')], zone = make('p', { class: 'hint' });
  const node = make('section', { 'aria-labelledby': 'night-times-title' }, make('h2', { id: 'night-times-title' }, words.night.times),
                    make('div', { class: 'fields' }, fields.map((field) => field.node)), zone);
  return { node, update: () => {
    fields.forEach((field) => field.update());
    zone.textContent = fill(words.night.zone, { zone: night.queue.zone });
  } };
}

/** How far the checks are, and what stops or begins them. */
function progressPart(night) {
  const text = make('p'), bar = make('progress', { 'aria-label': words.night.progress });
  const cancel = button(words.desk.cancel, () => night.post('stop'), { id: 'night-cancel' });
  const go_on = button(words.night.check_rest, () => night.post('look'), { id: 'night-check' });
  const node = make('div', { id: 'night-progress', class: 'sheet' }, text, bar, make('div', { class: 'row' }, cancel, go_on));
  return { node, update: () => {
    const { running, waiting, stopped, queue } = night.state;
    node.hidden = waiting === 0;
    bar.hidden = cancel.hidden = stopped;
    go_on.hidden = !stopped;
    if (running?.total) [bar.max, bar.value] = [running.total, running.done];
    else bar.removeAttribute('value');
    text.textContent = fill(stopped || !running ? words.night.waiting : running.total ? words.night.checking : words.night.opening,
                            { ...running, job: queue.jobs[running?.job]?.file, waiting });
  } };
}

/** A fragment of the desk's, replaced where it is another. */
function saidPart(id, html, attributes = {}) {
  const node = make('div', { id, ...attributes });
  let shown = null;
  return { node, update: () => {
    if (shown === html()) return;
    shown = html();
    node.replaceChildren(fragment(shown));
  } };
}

function pageOf(night) {
  const jobs = jobsPart(night), printers = printersPart(night), times = timesPart(night);
  const first = saidPart('night-first', () => night.state.jobs.length ? night.state.first : '', { class: 'sheet', 'aria-live': 'polite' });
  const timelines = saidPart('night-timelines', () => night.state.timelines), records = saidPart('night-records', () => night.state.records);
  const progress = progressPart(night);
  const download = make('a', { class: 'button', id: 'night-download', href: api('night', 'queue.json'), download: 'queue.json' }, words.night.download);
  const plan = make('section', { id: 'night-plan', 'aria-labelledby': 'night-plan-title' }, make('h2', { id: 'night-plan-title' }, words.night.plan), first.node, timelines.node, records.node, download);
  const nodes = [make('h1', {}, words.desk.night), progress.node, plan, times.node, jobs.node, printers.node];
  let built = '';
  return { nodes, draw: (focus) => {
    const { queue, state } = night;
    const now = JSON.stringify([queue.jobs.map(({ file }) => file), queue.printers.map(({ label }) => label), state.choices]);
    const wanted = focus ?? document.activeElement?.id;
    if (built !== now) for (const part of [jobs, printers]) part.rebuild();
    const rebuilt = built !== now;
    built = now;
    for (const part of [first, progress, times, jobs, printers, timelines, records]) part.update();
    plan.hidden = state.jobs.length === 0;
    plan.setAttribute('aria-busy', night.more || state.busy);
    download.hidden = state.waiting > 0;
    if (wanted && (rebuilt || focus)) find(`#${CSS.escape(wanted)}`)?.focus();
  } };
}

export async function show(host, rest, signal) {
  const night = new Night(signal, (focus) => page.draw(focus)), page = pageOf(night);
  host.append(page.nodes[0]);
  await night.post('look');
  host.append(...page.nodes.slice(1));
  document.addEventListener('visibilitychange', () => { if (!document.hidden) night.refresh().catch(complain); }, { signal });
}
