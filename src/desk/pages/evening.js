// An evening from a bottle to the time to use, step by step. What was done is seen by the files, so that it goes on where it
// stopped; what is typed and not yet taken is kept in the browser.
import { api, ask, button, fill, find, fragment, make, place, say } from './desk.js';
import { words } from './words.js';

const text = words.evening;
const steps = ['facts', 'times', 'readings', 'fit'];

/** The time to use of a record, or that there is none. */
export const useText = (use_s) => (use_s === null ? words.records.noUse : fill(words.records.useNow, { s: use_s.toFixed(2) }));

// ---- what is typed

const key_of = (...parts) => ['evening', ...parts].join('\n');
const recall = (key) => sessionStorage.getItem(key);
function remember(key, value, known) {
  value === known ? sessionStorage.removeItem(key) : sessionStorage.setItem(key, value);
}
function forget(prefix) {
  for (const key of Object.keys(sessionStorage)) if (key.startsWith(prefix)) sessionStorage.removeItem(key);
}

/** A field whose text is checked by the desk as it is typed, and kept until `forget`. `told` hears of each sound answer. */
function typed(question, { id, kind, key, record, known = '', hint = '', field_words = [], kept, told = () => {} }) {
  const wrong = make('span', { class: 'bad wrong', id: `${id}-wrong`, role: 'status' });
  const about = `${hint ? `${id}-hint ` : ''}${id}-wrong`;
  const field = field_words.length > 0
    ? make('select', { id, name: key, 'aria-describedby': about }, make('option', { value: '' }, text.notRead),
           field_words.map((one) => make('option', { value: one.word }, one.means ? `${one.word}: ${one.means}` : one.word)))
    : make('input', { id, name: key, type: 'text', autocomplete: 'off', 'aria-describedby': about });
  field.value = recall(kept) ?? known;
  let asked = 0;
  const check = async () => {
    const mine = ++asked, value = field.value.trim();
    const answer = await ask('/api/evening/wrong', { post: { record, kind, key, text: value } }).catch(() => null);
    if (mine !== asked || !answer) return;
    wrong.textContent = answer.wrong;
    field.setAttribute('aria-invalid', answer.wrong !== '' ? 'true' : 'false');
    if (answer.wrong === '') told(answer);
  };
  let timer = 0;
  field.addEventListener('input', () => {
    remember(kept, field.value, known);
    clearTimeout(timer);
    timer = setTimeout(check, 250);
  });
  if (recall(kept) !== null && field.value !== '') check();
  return make('div', { class: 'field' }, make('label', { for: id }, question), field,
              hint ? make('span', { class: 'hint', id: `${id}-hint` }, hint) : null, wrong);
}

const form = (id, inside, act, press) => {
  const alert = make('p', { class: 'bad', role: 'alert' });
  const node = make('form', { id, class: 'sheet', novalidate: true }, inside, alert, make('p', { class: 'row' }, press));
  press.type = 'submit';
  node.addEventListener('submit', async (event) => {
    event.preventDefault();
    if (press.getAttribute('aria-disabled') === 'true') return;
    press.setAttribute('aria-disabled', 'true');
    alert.textContent = '';
    try { await act(node); } catch (error) { alert.textContent = error.message; node.dispatchEvent(new CustomEvent('refused')); } finally { press.removeAttribute('aria-disabled'); }
  });
  return node;
};
/** Sends what was typed; what the desk does not take is thrown with its reason. */
async function send(path, said) {
  const answer = await ask(path, { post: said });
  if (answer.wrong) throw new Error(answer.wrong);
  return answer;
}
const values = (node) => Object.fromEntries([...node.querySelectorAll('[name]')].map((one) => [one.name, one.value.trim()]));
const submit = (words) => make('button', { type: 'submit', class: 'first' }, words);

// ---- the steps

function factsForm(evening, file, go) {
  const fields = evening.facts.map((fact) => typed(fact.question, { id: `fact-${fact.key.replaceAll('.', '-')}`, kind: 'fact', key: fact.key, record: file ?? '',
    known: fact.value, kept: key_of(file ?? '', 'fact', fact.key) }));
  return form('facts', fields, async (node) => {
    const answer = await send(file ? api('records', file, 'facts') : '/api/evening', values(node));
    forget(key_of(file ?? '', 'fact'));
    if (file) return go(answer);
    location.hash = place('evening', answer.file);
  }, submit(text.keepFacts));
}

function timesForm(evening, go, proposed = '') {
  const kept = (name) => key_of(evening.file, name);
  const times = typed(text.times, { id: 'times', kind: 'times', key: 'times', record: evening.file, known: proposed, hint: text.timesHint, kept: kept('times') });
  const guess = proposed ? null : typed(text.guess, { id: 'guess', kind: 'guess', key: 'guess', record: evening.file, hint: text.guessHint, kept: kept('guess'),
    told: (answer) => { const field = find('input', times); field.value = answer.times; field.dispatchEvent(new Event('input')); } });
  return form('print', [guess, times], async (node) => {
    say(text.writing);
    const answer = await send(api('records', evening.file, 'coupons'), { times: values(node).times });
    forget(kept('times'));
    forget(kept('guess'));
    await go(answer);
    say(text.written);
  }, submit(text.print));
}

function files(evening) {
  const to = (name) => api('records', evening.file, 'coupons', name);
  return make('section', { 'aria-labelledby': 'files-head' }, make('h2', { id: 'files-head' }, text.files), make('p', {}, text.filesHint),
              make('ul', { id: 'files' }, [...evening.coupons.map((one) => one.file), 'coupon.stl'].map((name) => make('li', {}, make('a', { href: to(name), download: name }, name)))),
              make('details', { id: 'sheet', open: evening.step === 'readings' }, make('summary', {}, text.sheet),
                   make('iframe', { src: to('coupon-sheet.html'), title: text.sheet, sandbox: '', loading: 'lazy' })));
}

function couponForm(evening, coupon, go) {
  const kept = key_of(evening.file, coupon.exposure_s);
  const fields = coupon.fields.map((field) => typed(`${field.letter}  ${field.question}`, { id: `read-${field.key.replaceAll('.', '-')}`, kind: 'reading', key: field.key,
    record: evening.file, known: field.value, hint: field.hint, field_words: field.words, kept: key_of(evening.file, coupon.exposure_s, field.key) }));
  const take = async (node, more = {}) => {
    const said = values(node);
    if (!said.look) {
      find('[name="look"]', node).focus();
      throw new Error(text.look);
    }
    const answer = await send(api('records', evening.file, 'readings'), { ...said, exposure_s: String(coupon.exposure_s), ...more });
    forget(kept);
    await (answer.step === 'fit' ? fit(evening.file, go) : go(answer));
    say([fill(text.taken, { s: coupon.exposure_s.toFixed(2) }), ...(answer.kept ?? []), answer.step === 'fit' ? text.fitted : ''].join(' '));
  };
  const node = form('coupon', [make('h2', { id: 'coupon-head', tabindex: '-1' }, fill(text.coupon, { s: coupon.exposure_s.toFixed(2) })), make('p', { class: 'hint' }, text.how), make('div', { class: 'columns' }, fields)],
                    take, submit(text.take));
  node.addEventListener('refused', () => {
    if (find('#instead', node)) return;
    find('.row:last-child', node).append(button(text.instead, async () => {
      try { await take(node, { replace: 'yes' }); } catch (error) { find('[role="alert"]', node).textContent = error.message; }
    }, { id: 'instead' }));
  });
  return node;
}

function couponChoice(evening, chosen, choose) {
  return make('div', { class: 'row', role: 'group', 'aria-label': text.which, id: 'coupons' }, evening.coupons.map((one) => button(
      fill(one.open ? text.open : text.read, { s: one.exposure_s.toFixed(2) }), async () => choose(one), { 'aria-pressed': one === chosen ? 'true' : 'false' })));
}

function result(evening, said, go, time) {
  const host = make('section', { id: 'result' }, make('h2', { id: 'result-head', tabindex: '-1' }, text.result),
                    make('p', { class: 'strong', id: 'use' }, useText(evening.use_s)));
  if (said) host.append(fragment(said.said));
  if (said?.odd) host.append(make('p', {}, button(text.leaveOut, () => fit(evening.file, go, true), { id: 'leave-out' })));
  host.append(make('p', {}, make('a', { href: place('record', evening.file) }, text.toRecord)),
              make('h2', {}, text.more), make('p', {}, evening.more_times ? text.moreWeak : text.moreOther), timesForm(evening, go, time || evening.more_times));
  return host;
}

async function fit(file, go, leave_out = false) {
  const said = await ask(`${api('records', file, 'fit')}${leave_out ? '?leave_out=yes' : ''}`, { post: {} });
  await go(said, said);
  say(text.fitted);
}

// ---- the page

function progressOf(step) {
  const at = step === 'done' ? steps.length : steps.indexOf(step);
  return make('ol', { class: 'steps', id: 'steps' }, steps.map((name, i) => make('li', { 'aria-current': i === at ? 'step' : null },
              `${text.steps[name]}${i < at ? ` (${text.stepDone})` : ''}`)));
}

/** With a time to print, the form for more coupons proposes that. */
export async function showEvening(host, [file, time = ''], signal) {
  const first = await ask(file ? api('records', file, 'evening') : '/api/evening', { signal });
  const above = make('div'), papers = make('div'), below = make('div');
  host.append(above, papers, below);
  let shown = '';
  // The sheet's frame stays while the coupons do: one that loads takes away keys that are pressed meanwhile.
  const showFiles = (evening) => {
    const names = JSON.stringify(evening.coupons.map((one) => one.file));
    if (names !== shown) papers.replaceChildren(...(evening.coupons.length > 0 ? [files(evening)] : []));
    shown = names;
  };
  const show = async (evening, said = null, chosen = null) => {
    const open = chosen ?? evening.coupons.find((one) => one.open), inside = [];
    const go = async (next, fitted = null) => {
      if (signal.aborted) return;
      await show(next, fitted);
      find('#coupon-head, #result-head, h1', host)?.focus();
    };
    above.replaceChildren(make('h1', {}, file ? fill(text.title, { resin: evening.resin || file }) : text.begin), progressOf(evening.step),
                          make('details', { id: 'cautions', open: evening.step !== 'done' }, make('summary', {}, text.cautions), fragment(evening.cautions)),
                          evening.step === 'facts' ? factsForm(evening, file, go) : evening.step === 'times' ? timesForm(evening, go) : '');
    showFiles(evening);
    if (evening.coupons.length > 0 && (open || evening.step === 'readings'))
      inside.push(couponChoice(evening, open, (one) => show(evening, said, one)), couponForm(evening, open, go));
    else if (evening.coupons.length > 0) inside.push(couponChoice(evening, null, (one) => show(evening, said, one)));
    if (evening.step === 'done') inside.push(result(evening, said, go, time));
    if (evening.step === 'fit') inside.push(make('p', {}, text.unfitted), button(text.fit, () => fit(file, go), { id: 'fit', class: 'first' }));
    below.replaceChildren(...inside);
    if (chosen) find('#coupon-head', host).focus();
  };
  await show(first);
}
