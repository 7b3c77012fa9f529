// After the print: what really came out, in three clicks at most, and the prints before.
import { api, ask, button, complain, fill, make, place, say } from './desk.js';
import { words } from './words.js';

const text = words.outcome;

function losses(print) {
  if (print.came_off) return text.cameOff;
  if (print.fine) return text.fine;
  const lost = print.lost.map((one) => `${text[one.fate]}: ${one.name}`);
  return [...lost, ...print.others.map((one) => `${text[one.fate]}, ${text.notSaid}: ${one.note || text.noNote}`)].join('; ') || text.nothing;
}

export const historyList = (prints) => make('ul', { class: 'history' }, prints.map((print) => make('li', {}, print.problem
    ? make('span', { class: 'bad' }, print.problem)
    : [make('span', { class: 'strong' }, `${print.printed_on.replace('T', ' ')}, ${print.job}, ${print.exposure_s.toFixed(2)} s: `),
       losses(print), print.note ? make('span', { class: 'quiet' }, ` (${print.note})`) : null])));

const most_ticks = 200;  // one by one; of more alike ones all or none

const ticked = (id, label, attributes = {}) => make('li', {}, make('input', { type: 'checkbox', id, ...attributes }), ' ', make('label', { for: id }, label));

// What was predicted; alike ones are ticked together, or one by one.
function tick(group, i) {
  const { details } = group, many = details.length > 1 ? `${fill(text.alike, { n: details.length })} ` : '';
  const said = `${text[group.fate]}: ${many}${details[0].name} (${group.will ? text.will : text.may}, ${Math.round(100 * group.chance)} %)`;
  if (details.length === 1 || details.length > most_ticks) return ticked(`lost-${i}`, said, { 'data-ids': details.map((one) => one.id).join(' ') });
  const each = details.map((one) => ticked(`lost-${i}-${one.id}`, one.name, { 'data-ids': one.id }));
  const node = ticked(`lost-${i}`, said), all = node.querySelector('input'), ticks = each.map((one) => one.querySelector('input'));
  all.addEventListener('change', () => ticks.forEach((one) => { one.checked = all.checked; }));
  const list = make('ul', { class: 'ticks' }, each);
  list.addEventListener('change', () => {
    all.checked = ticks.every((one) => one.checked);
    all.indeterminate = !all.checked && ticks.some((one) => one.checked);
  });
  node.append(make('details', {}, make('summary', {}, text.each), list));
  return node;
}

function detailForm(form, keep) {
  const other = make('input', { id: 'other-note', type: 'text', maxlength: '500' });
  const fate = make('select', { id: 'other-fate' }, make('option', { value: 'vanish' }, text.vanish), make('option', { value: 'fuse' }, text.fuse));
  const rest = make('input', { type: 'checkbox', id: 'rest' });
  const note = make('input', { id: 'outcome-note', type: 'text', maxlength: '500' });
  const when = make('input', { id: 'printed-on', type: 'datetime-local', value: form.now });
  const list = make('ul', { class: 'ticks' }, form.groups.map(tick));
  const save = button(words.desk.save, () => keep({
    lost: [...list.querySelectorAll('input[data-ids]:checked')].flatMap((one) => one.dataset.ids.split(' ').map(Number)),
    others: other.value.trim() ? [{ fate: fate.value, note: other.value.trim() }] : [],
    rest_not_looked_at: rest.checked, note: note.value.trim(), printed_on: when.value || form.now }), { id: 'keep-outcome', class: 'first' });
  return make('div', { class: 'sheet', id: 'outcome-details' },
              form.groups.length > 0 ? [make('h3', {}, text.which), list] : make('p', {}, text.nonePredicted),
              make('p', {}, rest, ' ', make('label', { for: 'rest' }, text.rest)),
              make('p', { class: 'field' }, make('label', { for: 'other-note' }, text.other), other),
              make('p', { class: 'field' }, make('label', { for: 'other-fate' }, text.otherFate), fate),
              make('p', { class: 'field' }, make('label', { for: 'outcome-note' }, text.note), note),
              make('p', { class: 'field' }, make('label', { for: 'printed-on' }, text.when), when), save);
}

/** The form for a job that was checked with a record; says so where it was not. */
export async function outcomeForm(host, jobName) {
  const form = await ask(api('jobs', jobName, 'outcome'));
  if (form.not_yet) return host.append(make('p', { class: 'quiet' }, form.not_yet));
  let kept = null;  // the file of what was said just now
  const prints = make('div', { class: 'prints' }), details = make('div', {}), done = make('div', {});
  const showPrints = async () => {
    const history = (await ask(api('jobs', jobName, 'history'))).prints;
    prints.replaceChildren(...(history.length > 0 ? [make('h3', {}, text.before), historyList(history)] : []));
  };
  const keep = async (said) => {
    const answer = await ask(api('jobs', jobName, 'outcome'), { post: { ...said, check: form.check, instead_of: kept } });
    kept = answer.file;
    details.replaceChildren();
    choices.hidden = true;
    const change = button(text.change, async () => { done.replaceChildren(); choices.hidden = false; choices.querySelector('button').focus(); });
    done.replaceChildren(make('p', { class: 'row' }, make('span', {}, text.kept), change,
                              make('a', { href: place('record', answer.record) }, text.toRecord)));
    change.focus();
    say(text.kept);
    await showPrints();
  };
  const choices = make('div', { class: 'row', role: 'group', 'aria-label': text.ask },
                       button(text.fine, () => keep({}), { id: 'outcome-fine' }),
                       button(text.lost, async () => { details.replaceChildren(detailForm(form, keep)); details.querySelector('input').focus(); }, { id: 'outcome-lost' }),
                       button(text.cameOff, () => keep({ came_off: true }), { id: 'outcome-came-off' }));
  host.append(make('h2', {}, text.ask), make('p', { class: 'hint' }, fill(text.hint, { s: form.exposure_s.toFixed(2), record: form.record })), choices, details, done, prints);
  await showPrints().catch(complain);
}
