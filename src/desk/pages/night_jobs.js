// Tonight's jobs in their order: moved, added, removed, and how each is printed.
import { button, fill, find, fragment, make, place, say } from './desk.js';
import { dragRows } from './night_drag.js';
import { choiceField, numberField } from './night_fields.js';
import { words } from './words.js';

const say_place = (night, at) => fill(words.night.moved, { job: night.queue.jobs[at].file, place: at + 1, of: night.queue.jobs.length });

/** Puts a job into another place; `focus` is what of its row has the focus then. */
function move(night, from, to, focus) {
  if (to < 0 || to >= night.queue.jobs.length) {
    find(`#job-${from}-${focus}`)?.focus();
    return say(say_place(night, from));
  }
  night.change(({ jobs }) => jobs.splice(to, 0, ...jobs.splice(from, 1)), { focus: `job-${to}-${focus}`, said: () => say_place(night, to) });
}

function nameOf(night, file) {
  const known = night.state.choices.jobs.includes(file);
  return known ? make('a', { href: place('job', file) }, file) : file;
}

/** A row and how it follows the state. */
function jobRow(night, at) {
  const job = () => night.queue.jobs[at], id = (name) => `job-${at}-${name}`;
  const set = (name) => (value) => night.change(({ jobs }) => { jobs[at][name] = value; });
  const file = job().file, printers = night.queue.printers.map(({ label }) => [label, label]);
  const copies = numberField(id('copies'), words.night.copies, { get: () => job().copies, set: set('copies'), min: 1, max: 1000, step: 1 });
  const exposure = numberField(id('exposure'), words.night.exposure, { get: () => job().exposure_s, set: set('exposure_s'), min: 0.01, max: 3600 });
  const printer = choiceField(id('printer'), words.night.printer, { get: () => job().printer, set: set('printer'), choices: [['', words.night.any_printer], ...printers] });
  if (printers.length === 0) printer.node.hidden = true;
  const told = make('div', { class: 'told' }), better = make('span', { class: 'better' });
  const step = (name, by) => make('button', { type: 'button', id: id(name), 'aria-label': fill(words.night[`${name}_of`], { job: file }), onclick: () => move(night, at, at + by, name) }, words.night[name]);
  const remove = make('button', { type: 'button', id: id('remove'), 'aria-label': fill(words.night.remove_of, { job: file }), onclick: () => night.change(
      ({ jobs }) => { jobs.splice(at, 1); },
      { focus: at < night.queue.jobs.length - 1 ? id('remove') : 'job-to-add', said: () => fill(words.night.removed, { job: file }) }) }, words.night.remove);
  const node = make('li', { 'data-job': file, onkeydown: (event) => {
    const by = { ArrowUp: -1, ArrowDown: 1 }[event.key];
    if (!event.altKey || !by || event.target.tagName === 'SELECT') return;
    event.preventDefault();
    const focused = document.activeElement;
    focused.blur();  // what was typed into it counts
    move(night, at, at + by, focused.id.replace(`job-${at}-`, ''));
  } },
    make('div', { class: 'head' }, make('span', { class: 'grip', 'aria-hidden': 'true', title: words.night.grip }, '\u2261'),
         make('h3', {}, `${at + 1}. `, nameOf(night, file)),
         make('div', { class: 'row acts' }, step('earlier', -1), step('later', 1), remove)),
    told, make('div', { class: 'fields' }, copies.node, printer.node, exposure.node, better));
  const update = () => {
    const seen = night.seen.get(job());
    node.className = seen?.verdict ?? 'open';
    const html = seen?.said ?? '';
    if (told.dataset.html !== html || !told.firstChild) told.replaceChildren(seen ? fragment(html) : make('p', { class: 'quiet' }, words.night.not_checked));
    told.dataset.html = html;
    exposure.input.placeholder = seen?.exposure_s && job().exposure_s === null ? seen.exposure_s : '';
    better.replaceChildren(...(seen?.set_s ? [make('button', { type: 'button', id: id('set'), class: 'first', onclick: () => night.change(
        ({ jobs }) => { jobs[at].exposure_s = seen.set_s; }, { focus: id('exposure'), said: () => fill(words.night.was_set, { job: file, time: seen.set_text }) }) },
        fill(words.night.set, { time: seen.set_text }))] : []));
    for (const field of [copies, exposure, printer]) field.update();
  };
  return { node, update };
}

function addForm(night) {
  const { jobs } = night.state.choices;
  if (jobs.length === 0) return make('p', {}, words.night.no_jobs, ' ', make('a', { href: place('jobs') }, words.desk.jobs));
  const entry = (file) => ({ file, printer: '', exposure_s: null, copies: 1 });
  const others = () => jobs.filter((file) => !night.queue.jobs.some((job) => job.file === file));
  const choice = make('select', { id: 'job-to-add' }, jobs.map((file) => make('option', { value: file }, file)));
  choice.value = others()[0] ?? jobs[0];
  return make('div', { class: 'row add' }, make('label', { for: 'job-to-add' }, words.night.add_job), choice,
    button(words.night.add, () => night.change((queue) => { queue.jobs.push(entry(choice.value)); },
      { focus: 'job-to-add', said: () => fill(words.night.added, { job: night.queue.jobs.at(-1).file, place: night.queue.jobs.length }) }), { id: 'add-job' }),
    others().length > 1 ? button(words.night.add_all, () => night.change((queue) => { queue.jobs.push(...others().map(entry)); },
      { focus: 'job-to-add', said: () => words.night.added_all }), { id: 'add-all' }) : null);
}

/** The part of the page; draw() follows the state, anew where jobs came, went or moved. */
export function jobsPart(night) {
  const list = make('ol', { id: 'night-jobs', class: 'cards' }), form = make('div');
  const empty = make('p', { class: 'quiet' }, words.night.empty);
  dragRows(list, (from, to) => move(night, from, to, 'earlier'));
  const node = make('section', { 'aria-labelledby': 'night-jobs-title' }, make('h2', { id: 'night-jobs-title' }, words.night.jobs),
                    make('p', { class: 'hint' }, words.night.order_hint), empty, list, form);
  let rows = [];
  return { node, rebuild: () => {
    rows = night.queue.jobs.map((_, at) => jobRow(night, at));
    list.replaceChildren(...rows.map((row) => row.node));
    form.replaceChildren(addForm(night));
    empty.hidden = rows.length > 0;
    find('.hint', node).hidden = rows.length === 0;
  }, update: () => rows.forEach((row) => row.update()) };
}
