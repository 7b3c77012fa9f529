// Checks as they run: how far they are, their end, and how one is cancelled.
import { api, ask, button, complain, fill, find, make, say } from './desk.js';
import { words } from './words.js';

const said = words.checks;
export const isActive = (check) => check.stage === 'waiting' || check.stage === 'running';

const stageOf = ({ stage, done, total }) => (stage !== 'running' || !total ? stage : done < total ? 'layers' : 'closer');
const textOf = (check) => fill(said[stageOf(check)],
                               { ...check, at: check.exposure_s === null ? '' : fill(said.at, { s: check.exposure_s.toFixed(2) }) });

// Fills `node` (made where there is none) with the state of a check.
function progressOf(check, node) {
  const made = node ?? make('div', { class: 'check', 'data-check': check.number }, make('p', { class: 'words' }), make('progress', { max: 1, 'aria-label': said.label }),
      button(words.desk.cancel, () => ask(api('checks', check.number, 'cancel'), { post: {} })));
  const bar = find('progress', made), text = find('.words', made);
  made.dataset.stage = check.stage;
  text.className = `words ${check.stage === 'failed' ? 'bad' : ''}`;
  text.textContent = check.stage === 'failed' ? check.error : textOf(check);
  if (check.total && check.stage === 'running') [bar.max, bar.value] = [check.total, check.done];
  else bar.removeAttribute('value');
  bar.hidden = check.stage !== 'running';
  find('button', made).hidden = !isActive(check);
  made.hidden = check.stage === 'done';
  return made;
}

/** Fills `host` with the checks of a job; those that are there already stay. */
export function drawChecks(host, checks, job) {
  const own = checks.filter((check) => check.job === job).map((check) => progressOf(check, find(`[data-check="${check.number}"]`, host)));
  if (own.length !== host.children.length || own.some((one) => !host.contains(one))) host.replaceChildren(...own);
}

/**
 * A function that begins to listen while checks run: `draw` gets their states, `ended` is called once one has ended. The stream is
 * open only while the page is seen and something runs.
 */
export function follow(signal, draw, ended) {
  let source = null, wanted = false, active = new Set();
  const close = () => { source?.close(); source = null; };
  const take = async ({ checks }) => {
    const now = new Set(checks.filter(isActive).map((check) => check.number)), over = checks.filter((check) => active.has(check.number) && !now.has(check.number));
    const begun = checks.some((check) => !isActive(check)) && active.size === 0 && now.size === 0;  // ended before it was seen
    active = now;
    draw(checks);
    if (now.size === 0) { wanted = false; close(); }
    for (const check of over) if (check.stage !== 'done') say(textOf(check));
    if (over.length || begun) await ended();
  };
  const open = () => {
    if (source || !wanted || document.hidden || signal.aborted) return;
    source = new EventSource('/api/events');
    source.onmessage = (event) => take(JSON.parse(event.data)).catch(complain);
    source.onerror = () => {  // the desk is gone, or listens to too many already: said once, and looked at again later
      close();
      ask('/api/jobs', { signal }).catch(complain);
      setTimeout(open, 3000);
    };
  };
  document.addEventListener('visibilitychange', () => (document.hidden ? close() : open()), { signal });
  signal.addEventListener('abort', close);
  return () => { wanted = true; open(); };
}
