// Fields whose answer is saved once it is given, and that follow what the desk says.
import { fill, labelled, make, say } from './desk.js';
import { words } from './words.js';

/**
 * A labelled field. `read()` is its text as it stands in the queue, `write(text)` puts another there. Saved when it is
 * left, when Enter is pressed, or `wait_ms` after it changed (a date changes part by part). update() shows what stands in
 * the queue, unless the person is typing in it.
 */
export function savedField(text, input, { read, write, hint, wait_ms = 0 }) {
  let timer = 0;
  const settle = () => {
    clearTimeout(timer);
    if (!input.isConnected || input.value === read()) return;
    if (input.validity.valid) return write(input.value);
    if (input.type === 'number') say(fill(words.night.range, { field: text, from: input.min, to: input.max }), true);
    if (document.activeElement !== input) input.value = read();
  };
  input.addEventListener('change', () => {
    clearTimeout(timer);
    if (wait_ms > 0) timer = setTimeout(settle, wait_ms);
    else settle();
  });
  input.addEventListener('blur', settle);
  input.addEventListener('keydown', (event) => { if (event.key === 'Enter') settle(); });
  const update = () => {
    if (document.activeElement !== input || input.tagName === 'SELECT' || input.dataset.shown === input.value) input.value = read();
    input.dataset.shown = read();
  };
  if (hint) input.setAttribute('aria-describedby', `${input.id}-hint`);
  return { node: labelled(text, input, hint), input, update };
}

/** A number or null; `get` and `set` as in the queue. */
export function numberField(id, text, { get, set, hint, min = 0, max, step = 'any' }) {
  const input = make('input', { id, type: 'number', inputmode: 'decimal', min, max, step });
  return savedField(text, input, { hint, read: () => String(get() ?? ''), write: (typed) => set(typed === '' ? null : Number(typed)) });
}

/** One of [value, text] pairs; what is chosen but not among them is shown as it is. */
export function choiceField(id, text, { get, set, choices, hint }) {
  const all = choices.some(([value]) => value === get()) ? choices : [...choices, [get(), get()]];
  const input = make('select', { id }, all.map(([value, shown]) => make('option', { value }, shown)));
  return savedField(text, input, { hint, read: get, write: set });
}
