// What is asked about an archive of another program: a field for each setting, held against it as it is typed.
import { api, ask, button, complain, fill, find, fragment, labelled, make, say } from './desk.js';
import { words } from './words.js';

const said = words.asks;
const yesNo = [['', said.choose], ['true', said.yes], ['false', said.no]];

function hintOf(field) {
  const from = field.from ? fill(said.from, { from: field.from, found: field.found || field.value }) : '';
  const sure = field.sure === 'ask' ? said.nothingSays : [said.sureness[field.sure], field.why].filter(Boolean).join(': ');
  const example = field.kind === 'flag' || field.value ? '' : fill(said.example, { example: `${field.example} ${field.unit}`.trim() });
  return [from, sure, example].filter(Boolean).map((text) => `${text[0].toUpperCase()}${text.slice(1)}.`).join(' ');
}

function fieldOf(field, i, typed) {
  const id = `ask-${i}`, kind = { id, 'data-path': field.paths[0], 'aria-describedby': `${id}-hint ${id}-error`, autocomplete: 'off' };
  const input = field.kind === 'flag' ? make('select', kind, yesNo.map(([value, text]) => make('option', { value, selected: value === field.value }, text)))
                                      : make('input', { ...kind, value: field.value, inputmode: field.kind === 'text' ? 'text' : 'decimal' });
  input.addEventListener('input', typed);
  const unit = field.unit ? ` (${field.unit})` : '', needed = field.required && !field.value ? `, ${said.needed}` : '';
  return { field, input, error: make('p', { class: 'bad small', id: `${id}-error` }),
           host() { return make('div', {}, labelled(field.words + unit + needed, input, hintOf(field)), this.error); } };
}

/** The form for a job; `kept` is called once the answers are kept. Not `open`: folded, behind what can be changed. */
export async function askForm(job, open, kept) {
  const asked = await ask(api('jobs', job, 'asks'));
  const trial = make('div', { class: 'trial', role: 'status', 'aria-live': 'polite' });
  let timer = 0, latest = 0;
  const send = async (keep) => {
    const mine = ++latest, values = {};
    for (const { field, input } of fields) if (input.value.trim() !== field.value) for (const path of field.paths) values[path] = input.value.trim();
    const answer = await ask(api('jobs', job, 'asks'), { post: { values, keep } });
    if (mine !== latest) return;
    for (const { field, input, error } of fields) {
      error.textContent = field.paths.map((path) => answer.errors[path]).find(Boolean) ?? '';
      input.toggleAttribute('aria-invalid', false);
      if (error.textContent) input.setAttribute('aria-invalid', 'true');
    }
    trial.replaceChildren(Object.keys(answer.errors).length ? make('p', { class: 'doubtful' }, said.correct) : fragment(answer.said));
    if (answer.kept) {
      say(said.kept);
      await kept();
    } else if (keep) (fields.find(({ error }) => error.textContent) ?? fields.find(({ field, input }) => field.required && !input.value))?.input.focus();
  };
  const typed = () => { clearTimeout(timer); timer = setTimeout(() => send(false).catch(complain), 400); };
  const fields = asked.fields.map((field, i) => fieldOf(field, i, typed));
  const unsure = fields.filter(({ field }) => field.sure === 'ask' || field.sure === 'unsure' || !field.from), rest = fields.filter((one) => !unsure.includes(one));
  const form = make('form', { class: 'sheet', id: 'asks', 'aria-label': said.title, onsubmit: (event) => {
    event.preventDefault();
    clearTimeout(timer);
    send(true).catch(complain);
  } }, make('h2', {}, said.title), make('p', {}, unsure.length ? said.lead : said.nothingOpen), unsure.map((one) => one.host()),
    rest.length ? make('details', { open: open && !unsure.length }, make('summary', {}, said.found), rest.map((one) => one.host())) : null,
    make('details', {}, make('summary', {}, said.draft), fragment(asked.said)), trial, make('button', { type: 'submit', class: 'first' }, said.keep));
  return open ? form : make('details', { class: 'again' }, make('summary', {}, said.change), form);
}
