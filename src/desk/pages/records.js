// The records of the folder, and one of them with what came out of its prints.
import { api, ask, fill, fragment, make, place, secondsText } from './desk.js';
import { useText } from './evening.js';
import { historyList } from './outcome.js';
import { words } from './words.js';

export { showEvening } from './evening.js';

const text = words.records;
const seconds = (s) => s === null || s === undefined ? text.none : secondsText(s);
const age = (days) => days === null || days === undefined ? text.undated : days < 0 ? text.future : days === 1 ? text.oneDay : fill(text.days, { n: days });
const way = (href, words) => make('a', { class: 'button', href }, words);

function row(record) {
  const link = make('a', { href: place('record', record.file) }, record.resin || record.file);
  if (record.problem)
    return make('tr', {}, make('th', { scope: 'row' }, record.file), make('td', { colspan: '5', class: 'bad' }, `${text.broken}: ${record.problem}`));
  return make('tr', {}, make('th', { scope: 'row' }, link, make('p', { class: 'hint' }, record.file)), make('td', {}, record.printer || text.none),
              make('td', { class: 'number' }, seconds(record.use_s)), make('td', { class: record.fit === 'sound' ? 'good' : 'doubtful' }, text.fit[record.fit]),
              make('td', {}, age(record.age_days)), make('td', {}, record.used || text.none));
}

export async function showAll(host, names, signal) {
  host.append(make('h1', {}, words.desk.records));
  const { records } = await ask('/api/records', { signal });
  host.append(make('p', { class: 'row' }, way('#/evening', text.begin)), make('p', { class: 'hint' }, text.what));
  if (records.length === 0) return host.append(make('p', {}, text.empty));
  const head = ['resin', 'printer', 'use', 'soundness', 'made', 'used'].map((name) => make('th', { scope: 'col', class: name === 'use' ? 'number' : null }, text.columns[name]));
  host.append(make('div', { class: 'scroll', tabindex: '0', role: 'region', 'aria-label': words.desk.records },
                   make('table', { id: 'records' }, make('thead', {}, make('tr', {}, head)), make('tbody', {}, records.map(row)))));
}

export async function showOne(host, [file], signal) {
  const record = await ask(api('records', file), { signal });
  host.append(make('h1', {}, record.resin || record.file),
              make('p', { class: 'strong', id: 'use' }, useText(record.use_s)),
              make('p', { class: record.fit === 'sound' ? 'good' : 'doubtful' }, `${text.fit[record.fit]}. ${record.weakness}`),
              make('p', { class: 'row' }, way(place('evening', file), record.step === 'done' ? text.more : text.goOn)));
  const out = fragment(record.outcomes);
  out.id = 'outcomes';
  host.append(make('h2', {}, text.out), out);
  if (record.new_coupon) host.append(make('p', {}, way(place('evening', file, ...(record.coupon_s === null ? [] : [`${record.coupon_s}`])), text.newCoupon)));
  if (record.prints.length > 0) host.append(make('h3', {}, text.prints), historyList(record.prints));
  if (record.next) host.append(make('h2', {}, text.next), fragment(record.next));
  host.append(make('h2', {}, text.page),
              make('iframe', { src: api('records', file, 'page'), title: text.page, sandbox: 'allow-scripts' }));
}
