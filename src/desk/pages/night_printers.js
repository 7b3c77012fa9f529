// The printers of the night: what each is loaded with, and how large it is.
import { button, fill, make, say } from './desk.js';
import { choiceField, numberField, savedField } from './night_fields.js';
import { words } from './words.js';

function rename(night, at, label) {
  night.change(({ printers, jobs }) => {
    for (const job of jobs) if (job.printer === printers[at].label) job.printer = label;
    printers[at].label = label;
  }, { focus: `printer-${at}-record` });
}

// Both sides or none; the first one typed waits for the other.
function plateFields(night, at) {
  const printer = () => night.queue.printers[at];
  let typed = [null, null];
  const side = (axis) => numberField(`printer-${at}-plate-${'xy'[axis]}`, words.night[`plate_${'xy'[axis]}`], { min: 0.1, max: 10000,
    get: () => (printer().plate_mm ?? typed)[axis],
    set: (value) => {
      typed = [...(printer().plate_mm ?? typed)];
      typed[axis] = value;
      if ((typed[0] === null) !== (typed[1] === null) && !printer().plate_mm) return say(words.night.plate_both);
      const plate = typed.includes(null) ? null : typed;
      night.change(({ printers }) => { printers[at].plate_mm = plate; });
    } });
  return [side(0), side(1)];
}

function printerCard(night, at) {
  const printer = () => night.queue.printers[at], id = (name) => `printer-${at}-${name}`;
  const set = (name) => (value) => night.change(({ printers }) => { printers[at][name] = value; });
  const number = (name, min) => numberField(id(name), words.night[name], { get: () => printer()[name], set: set(name), min, max: 100000 });
  const records = night.state.choices.records.map((name) => [name, name]);
  const fields = [
    savedField(words.night.label, make('input', { id: id('label'), type: 'text', autocomplete: 'off' }), { read: () => printer().label, write: (label) => rename(night, at, label.trim()) }),
    choiceField(id('record'), words.night.record, { get: () => printer().record ?? '', set: (name) => set('record')(name || null), choices: [['', words.night.own_record], ...records] }),
    number('resin_ml', 0), number('vat_ml', 0.1), ...plateFields(night, at),
    numberField(id('changeover'), words.night.changeover_min, { get: () => printer().changeover_min, set: (value) => set('changeover_min')(value ?? 0), max: 1440 })];
  const { label } = printer();
  const remove = make('button', { type: 'button', 'aria-label': fill(words.night.remove_of, { job: label }), onclick: () => night.change(({ printers, jobs }) => {
    printers.splice(at, 1);
    for (const job of jobs) if (job.printer === label) job.printer = '';
  }, { focus: 'printer-to-add', said: () => fill(words.night.removed, { job: label }) }) }, words.night.remove);
  const node = make('li', {}, make('div', { class: 'head' }, make('h3', {}, label), make('div', { class: 'acts' }, remove)),
                    make('div', { class: 'fields' }, fields.map((field) => field.node)));
  return { node, update: () => fields.forEach((field) => field.update()) };
}

function addForm(night) {
  const input = make('input', { id: 'printer-to-add', type: 'text', autocomplete: 'off' });
  const add = () => {
    const label = input.value.trim();
    if (!label) return say(words.night.name_it, true);
    night.change(({ printers }) => { printers.push({ label, record: null, resin_ml: null, vat_ml: null, plate_mm: null, changeover_min: 0 }); },
                 { focus: `printer-${night.queue.printers.length}-record`, said: () => fill(words.night.printer_added, { label }) });
  };
  input.addEventListener('keydown', (event) => {
    if (event.key !== 'Enter') return;
    event.preventDefault();  // it would go on to the field that has the focus then, and open its list
    add();
  });
  return make('div', { class: 'row add' }, make('label', { for: input.id }, words.night.add_printer), input, button(words.night.add, add, { id: 'add-printer' }));
}

/** As jobsPart. */
export function printersPart(night) {
  const list = make('ul', { id: 'night-printers', class: 'cards' }), form = make('div');
  const none = make('p', { class: 'quiet' }, words.night.no_printers);
  const node = make('section', { 'aria-labelledby': 'night-printers-title' }, make('h2', { id: 'night-printers-title' }, words.night.printers), none, list, form);
  let cards = [];
  return { node, rebuild: () => {
    cards = night.queue.printers.map((_, at) => printerCard(night, at));
    list.replaceChildren(...cards.map((card) => card.node));
    form.replaceChildren(addForm(night));
    none.hidden = cards.length > 0;
  }, update: () => cards.forEach((card) => card.update()) };
}
