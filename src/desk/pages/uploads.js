// Where jobs are dropped: files on their way to the folder, two at a time.
import { ask, button, fill, make, say } from './desk.js';
import { words } from './words.js';

const said = words.uploads;

// Sends one file; `progress` gets the share that is sent. The end is {name, known} or {error}.
function send(file, progress, begun) {
  return new Promise((resolve) => {
    const request = new XMLHttpRequest();
    request.open('POST', `/api/upload?name=${encodeURIComponent(file.name)}`);
    request.setRequestHeader('Content-Type', 'application/octet-stream');
    request.responseType = 'json';
    request.upload.onprogress = (event) => progress(event.loaded / Math.max(1, event.total));
    request.onload = () => resolve(request.status === 200 ? request.response : { error: request.response?.error?.text ?? request.statusText });
    request.onerror = () => ask('/api/jobs').then(() => resolve({ error: said.brokeOff }), (gone) => resolve({ error: gone.message }));
    request.onabort = () => resolve({ error: said.cancelled });
    begun(request);
    request.send(file);
  });
}

/** The place to drop files, or to choose them; `arrived` is called after each that is there. */
export function dropPlace(signal, arrived) {
  const input = make('input', { type: 'file', id: 'files', multiple: true, accept: '.zip,.3mf', 'aria-describedby': 'files-hint' });
  const list = make('ul', { id: 'uploads', 'aria-label': said.list });
  const host = make('section', { class: 'sheet drop', id: 'drop', 'aria-label': said.title },
      make('p', { class: 'field' }, make('label', { for: 'files' }, said.title), input, make('span', { class: 'hint', id: 'files-hint' }, said.hint)), list);
  const waiting = [];
  let running = 0;

  const next = async () => {
    if (running >= 2 || waiting.length === 0) return;
    const { file, row, text, bar, cancel } = waiting.shift();
    running++;
    text.textContent = fill(said.sending, { name: file.name });
    bar.hidden = false;
    const done = await send(file, (share) => { bar.value = share; }, (request) => cancel.addEventListener('click', () => request.abort()));
    running--;
    next();
    bar.remove();
    text.className = done.error ? 'bad' : '';
    text.textContent = done.error?.startsWith(`${file.name}: `) ? done.error : done.error ? fill(said.failed, { name: file.name, error: done.error }) : fill(done.known ? said.known : said.kept, { name: done.name });
    say(text.textContent, Boolean(done.error));
    cancel.replaceWith(button(said.hide, () => { row.remove(); input.focus(); }));
    if (!done.error && !signal.aborted) await arrived();
  };
  const refuse = (text) => {
    say(text, true);
    const row = make('li', {}, make('p', { class: 'bad' }, text), make('span', {}), button(said.hide, () => { row.remove(); input.focus(); }));
    list.append(row);
  };
  const add = (file) => {
    if (!/\.(zip|3mf)$/i.test(file.name)) return refuse(fill(/\.json$/i.test(file.name) ? said.record : said.noJob, { name: file.name }));
    const text = make('p', {}, fill(said.waiting, { name: file.name })), bar = make('progress', { max: 1, value: 0, hidden: true, 'aria-label': file.name });
    const cancel = make('button', { type: 'button', onclick: () => {
      const at = waiting.findIndex((one) => one.file === file);
      if (at >= 0) { waiting.splice(at, 1); row.remove(); }
    } }, words.desk.cancel);
    const row = make('li', {}, text, bar, cancel);
    list.append(row);
    waiting.push({ file, row, text, bar, cancel });
    next();
  };
  input.addEventListener('change', () => { [...input.files].forEach(add); input.value = ''; });

  // A drop anywhere on the page is meant for here.
  const over = (event) => {
    if (!event.dataTransfer?.types.includes('Files')) return;
    event.preventDefault();
    host.classList.toggle('over', event.type === 'dragover');
  };
  addEventListener('dragover', over, { signal });
  addEventListener('dragleave', over, { signal });
  addEventListener('drop', (event) => {
    over(event);
    const folders = new Set([...(event.dataTransfer?.items ?? [])].map((item) => item.webkitGetAsEntry?.()).filter((entry) => entry?.isDirectory).map((entry) => entry.name));
    for (const name of folders) refuse(fill(said.folder, { name }));
    [...(event.dataTransfer?.files ?? [])].filter((file) => !folders.has(file.name)).forEach(add);
  }, { signal });
  return host;
}
