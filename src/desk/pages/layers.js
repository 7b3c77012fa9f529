// The layers of a job: scrubbed through, at each time of its check, zoomed and moved. Its address: #/layers/JOB, with a layer
// and the id of a finding behind it where one is to be shown. What a test may rely on: input#layer, #layer-range, #time-range,
// output#time-said, #closer, #farther, #whole, #view (data-layer, data-time of the picture; data-zoom, 1: the whole plate; data-x,
// data-y: mm in its middle; img#picture), p#seen (a live region), p#kept, #findings button[data-id].
import { api, ask, button, complain, fill, find, make, place } from './desk.js';
import { words } from './words.js';

const text = words.layers;
const most_view_px = 2000, stale_ms = 300, quiet_ms = 200, most_scale = 1000;  // px per mm

const counted = (forms, count, values = {}) => fill(forms[Math.min(count, 2)], { n: count, ...values });
const area = (mm2) => (mm2 > 0 && mm2 < 0.01 ? text.under : mm2.toPrecision(2).includes('e') ? String(Math.round(mm2)) : mm2.toPrecision(2));
const lies_in = (finding, layer) => finding.from_layer <= layer && layer <= finding.to_layer;
const clamp = (value, low, high) => Math.min(Math.max(value, low), high);

// ---- where on the plate one looks ----

// The corner of what is seen, mm on the plate, and px per mm; `width`, `height`: of the plate, mm.
class View {
  constructor(job, node) {
    [this.job, this.node] = [job, node];
    [this.width, this.height] = [job.width_px * job.pitch_x_mm, job.height_px * job.pitch_y_mm];
    this.showWhole();
  }
  get px() { return [this.node.clientWidth || 1, this.node.clientHeight || 1]; }
  get whole() { const [w, h] = this.px; return Math.min(w / this.width, h / this.height); }
  get middle() { const [w, h] = this.px; return [this.x + w / 2 / this.scale, this.y + h / 2 / this.scale]; }
  showWhole() { this.showBox(0, 0, this.width, this.height); }
  showBox(x, y, width, height) {
    const [w, h] = this.px;
    this.scale = clamp(Math.min(w / width, h / height), this.whole, most_scale);
    this.look(x + width / 2, y + height / 2);
  }
  look(x, y) {
    const [w, h] = this.px;
    [x, y] = [clamp(x, 0, this.width), clamp(y, 0, this.height)];
    if (this.scale <= this.whole) [x, y] = [this.width / 2, this.height / 2];
    [this.x, this.y] = [x - w / 2 / this.scale, y - h / 2 / this.scale];
  }
  move(across, down) {
    const [x, y] = this.middle;
    this.look(x + across / this.scale, y + down / this.scale);
  }
  // The point at `at` (px in the view) stays where it is.
  zoom(by, at = this.px.map((side) => side / 2)) {
    const [w, h] = this.px, before = this.scale;
    const point = [this.x + at[0] / before, this.y + at[1] / before];
    this.scale = clamp(before * by, this.whole, Math.max(most_scale, this.whole));
    this.look(point[0] + (w / 2 - at[0]) / this.scale, point[1] + (h / 2 - at[1]) / this.scale);
  }
  // Whole voxels that cover what is seen, and how many pixels are worth asking for; null: nothing of the plate is seen.
  part() {
    const [w, h] = this.px, { pitch_x_mm: px, pitch_y_mm: py, width_px, height_px } = this.job;
    const x = clamp(Math.floor(this.x / px), 0, width_px), y = clamp(Math.floor(this.y / py), 0, height_px);
    const x1 = clamp(Math.ceil((this.x + w / this.scale) / px), 0, width_px), y1 = clamp(Math.ceil((this.y + h / this.scale) / py), 0, height_px);
    if (x1 <= x || y1 <= y) return null;
    const wide = clamp(Math.round((x1 - x) * px * this.scale * devicePixelRatio), 1, most_view_px);
    return { x, y, w: x1 - x, h: y1 - y, wide };
  }
  put(picture, part) {
    const { pitch_x_mm: px, pitch_y_mm: py } = this.job;
    const edges = { left: part.x * px - this.x, top: part.y * py - this.y, width: part.w * px, height: part.h * py };
    for (const [side, mm] of Object.entries(edges)) picture.style[side] = `${mm * this.scale}px`;
  }
}

// ---- pictures: one is on its way at a time, then the one wanted last ----

class Pictures {
  constructor(job, view, node, signal, shown) {
    Object.assign(this, { job, view, node, signal, shown });
    this.wanted = this.running = this.part = null;
    signal.addEventListener('abort', () => { this.running?.abort(); URL.revokeObjectURL(this.node.src); });
  }
  place() { if (this.part) this.view.put(this.node, this.part); }
  want(layer, time) {
    this.place();
    const part = this.view.part();
    if (!part) return;
    this.wanted = { layer, time, part };
    if (!this.running) { this.next(); return; }
    clearTimeout(this.patience);  // what nobody waits for any more may not hold up the rest
    const late = this.running;
    this.patience = setTimeout(() => late.abort(), stale_ms);
  }
  async next() {
    while (this.wanted && !this.signal.aborted) {
      const { layer, time, part } = this.wanted;
      this.wanted = null;
      this.running = new AbortController();
      try {
        const url = await this.fetched(layer, { time, ...part }, this.running.signal);
        const old = this.node.src;
        this.node.src = url;
        await this.node.decode();
        if (old.startsWith('blob:')) URL.revokeObjectURL(old);
        this.part = part;
        this.place();
        this.shown(layer, time);
      } catch (error) {
        if (this.signal.aborted || error.name === 'AbortError') continue;
        this.node.removeAttribute('src');  // what was seen before is another layer
        complain(error);
      }
      clearTimeout(this.patience);
    }
    this.running = null;
  }
  async fetched(layer, query, signal) {
    const answer = await fetch(`${api('jobs', this.job.name, 'layers', `${layer}.png`)}?${new URLSearchParams(query)}`, { signal });
    if (!answer.ok) throw new Error((await answer.json().catch(() => null))?.error?.text ?? answer.statusText);
    return URL.createObjectURL(await answer.blob());
  }
}

// ---- the page ----

const swatch = (kind, says) => make('li', {}, make('span', { class: `swatch ${kind}`, 'aria-hidden': 'true' }), ' ', says);
const range = (id, most, least = 0) => make('input', { type: 'range', id, min: least, max: most, step: 1 });

function build(host, job) {
  const timed = job.times_s.length > 0;
  const note = job.kept === 'all' ? null : make('p', { class: 'sheet', id: 'kept' }, text[job.kept]);
  const layer = make('input', { type: 'number', id: 'layer', min: 1, max: job.count, step: 1, inputmode: 'numeric' });
  const time = make('p', { class: 'field', hidden: !timed }, make('label', { for: 'time-range' }, text.time), range('time-range', Math.max(job.times_s.length - 1, 0)),
                    make('output', { id: 'time-said', for: 'time-range' }));
  host.append(
    make('h1', {}, fill(text.title, { job: job.title || job.name })),
    make('p', {}, make('a', { href: place('job', job.name) }, text.back)), note ?? '',
    make('div', { class: 'layers' },
      make('div', {},
        make('div', { id: 'view', tabindex: 0, role: 'application', 'aria-label': text.view, 'aria-describedby': 'view-keys' }, make('img', { id: 'picture', alt: '', draggable: 'false' })),
        make('p', { id: 'seen', role: 'status', 'aria-live': 'polite' })),
      make('div', { class: 'sheet' },
        make('p', { class: 'field' }, make('label', { for: 'layer' }, text.layer), layer,
             make('input', { type: 'range', id: 'layer-range', min: 1, max: job.count, step: 1, 'aria-label': text.scrub })),
        time,
        make('div', { class: 'row' }, button('+', () => {}, { id: 'closer', 'aria-label': text.closer }), button('−', () => {}, { id: 'farther', 'aria-label': text.farther }),
             button(text.whole, () => {}, { id: 'whole' })),
        make('ul', { class: 'legend' }, swatch('kept', text.kept), timed ? [swatch('missing', text.missing), swatch('filled', text.filled)] : []),
        make('p', { class: 'hint', id: 'view-keys' }, text.keys))));
  if (timed) host.append(make('h2', {}, fill(text.findings, { s: job.times_s[job.judged].toFixed(2) })), make('p', { id: 'found' }, words.desk.wait));
}

const item = (one) => make('li', { value: one.id }, make('button', { type: 'button', 'data-id': one.id }, one.name), make('span'));
/** What will be lost, what may be and what starts on nothing, apart and in this order. */
const list = (findings) => (findings.length === 0 ? make('p', {}, text.none) : make('div', { id: 'findings' }, ['will', 'may', 'adrift'].map((state) => {
  const those = findings.filter((one) => one.state === state);
  return those.length > 0 ? [make('h3', {}, text[state]), make('ol', {}, those.map(item))] : [];
}).flat()));

/** Layers of a job: parts are its name and, where they are given, a layer and the id of a finding. */
export async function show(host, [name, number, id], signal) {
  const job = await ask(api('jobs', name, 'layers'), { signal });
  if (signal.aborted) return;
  build(host, job);
  const node = find('#view', host), view = new View(job, node);
  const at = { layer: clamp(Math.round(Number(number)) || 1, 1, job.count), time: job.judged };
  let findings = null;  // until they are known
  const pictures = new Pictures(job, view, find('#picture', host), signal, (layer, time) => { Object.assign(node.dataset, { layer, time }); });

  // What is seen, in words, once one stays.
  let asked = null, quiet = 0;
  async function tell() {
    asked?.abort();
    asked = new AbortController();
    const { layer, time } = at;
    const found = await ask(`${api('jobs', name, 'layers', String(layer))}?time=${time}`, { signal: asked.signal });
    const parts = [fill(text.where, { n: layer, count: job.count, mm: job.bottom_mm[layer - 1].toFixed(2) })];
    if (job.times_s.length > 0) parts.push(fill(text.at, { s: job.times_s[time].toFixed(2) }),
      ...(found.known ? [counted(text.missing_here, found.missing, { mm2: area(found.missing_mm2) }), counted(text.filled_here, found.filled, { mm2: area(found.filled_mm2) }),
      ...(findings ? [counted(text.findings_here, findings.filter((one) => lies_in(one, layer)).length)] : [])] : [text.unknown]));
    find('#seen', host).textContent = parts.join(' ');
  }
  signal.addEventListener('abort', () => { asked?.abort(); clearTimeout(quiet); });

  function redraw() {
    for (const field of ['#layer', '#layer-range']) find(field, host).value = at.layer;
    find('#layer-range', host).setAttribute('aria-valuetext', fill(text.where, { n: at.layer, count: job.count, mm: job.bottom_mm[at.layer - 1].toFixed(2) }));
    if (job.times_s.length > 0) {
      const said = fill(at.time === job.judged ? text.judged : text.other, { s: job.times_s[at.time].toFixed(2) });
      find('#time-range', host).value = at.time;
      find('#time-range', host).setAttribute('aria-valuetext', said);
      find('#time-said', host).textContent = said;
    }
    host.querySelectorAll('#findings li').forEach((item, i) => { item.lastChild.textContent = lies_in(findings[i], at.layer) ? ` ${text.here}` : ''; });
    node.dataset.zoom = (view.scale / view.whole).toFixed(3);
    [node.dataset.x, node.dataset.y] = view.middle.map((mm) => mm.toFixed(3));
    node.classList.toggle('voxels', view.scale * job.pitch_x_mm > 1);
    pictures.want(at.layer, at.time);
    clearTimeout(quiet);
    quiet = setTimeout(() => tell().catch(complain), quiet_ms);
  }
  const go = (layer) => {
    at.layer = clamp(Math.round(layer) || at.layer, 1, job.count);
    history.replaceState(null, '', place('layers', name, at.layer));
    redraw();
  };
  function jump(one) {
    const { from, to } = one.box_mm, margin = Math.max(0.5, 0.2 * Math.max(to[0] - from[0], to[1] - from[1]));
    view.showBox(from[0] - margin, from[1] - margin, to[0] - from[0] + 2 * margin, to[1] - from[1] + 2 * margin);
    go(lies_in(one, at.layer) ? at.layer : Math.round((one.from_layer + one.to_layer) / 2));
  }

  find('#layer', host).addEventListener('change', (event) => go(Number(event.target.value)));
  find('#layer-range', host).addEventListener('input', (event) => go(Number(event.target.value)));
  find('#time-range', host).addEventListener('input', (event) => { at.time = Number(event.target.value); redraw(); });
  const step = 1.5, zooms = { closer: () => view.zoom(step), farther: () => view.zoom(1 / step), whole: () => view.showWhole() };
  for (const [id_of, zoom] of Object.entries(zooms)) find(`#${id_of}`, host).addEventListener('click', () => { zoom(); redraw(); });
  listen(node, view, redraw, (keys) => {
    const moves = { ArrowUp: 1, ArrowRight: 1, ArrowDown: -1, ArrowLeft: -1, PageUp: 10, PageDown: -10, Home: -job.count, End: job.count };
    const zoom = { '+': zooms.closer, '=': zooms.closer, '-': zooms.farther, '0': zooms.whole }[keys.key];
    if (keys.ctrlKey || keys.altKey || keys.metaKey || !(zoom || keys.key in moves)) return false;
    const pan = { ArrowUp: [0, -1], ArrowDown: [0, 1], ArrowLeft: [-1, 0], ArrowRight: [1, 0] }[keys.key];
    if (zoom) zoom();
    else if (keys.shiftKey && pan) view.move(pan[0] * view.px[0] / 8, pan[1] * view.px[1] / 8);
    else go(at.layer + moves[keys.key]);
    return true;
  });
  const sized = new ResizeObserver(() => { if (view.scale < view.whole) view.showWhole(); redraw(); });
  sized.observe(node);
  signal.addEventListener('abort', () => sized.disconnect());

  redraw();
  if (job.times_s.length === 0) return;
  findings = await ask(api('jobs', name, 'findings'), { signal });  // while the first picture is on its way
  findings = [...findings.filter((one) => one.state === 'will'), ...findings.filter((one) => one.state !== 'will')];
  const listed = list(findings), wanted = findings.find((one) => String(one.id) === id);
  listed.addEventListener('click', (event) => {
    const pressed = event.target.closest('button');
    if (pressed) jump(findings.find((one) => String(one.id) === pressed.dataset.id));
  });
  find('#found', host).replaceWith(listed);
  if (wanted) jump(wanted); else redraw();
}

// Wheel, drag, two fingers and keys on the view.
function listen(node, view, redraw, press) {
  const spot = (event) => { const box = node.getBoundingClientRect(); return [event.clientX - box.left, event.clientY - box.top]; };
  node.addEventListener('wheel', (event) => {
    event.preventDefault();
    view.zoom(Math.exp(-event.deltaY * (event.deltaMode === 0 ? 0.002 : 0.05)), spot(event));
    redraw();
  }, { passive: false });
  const fingers = new Map();
  const apart = () => { const [a, b] = [...fingers.values()]; return Math.hypot(a[0] - b[0], a[1] - b[1]) || 1; };
  node.addEventListener('pointerdown', (event) => { fingers.set(event.pointerId, spot(event)); node.setPointerCapture(event.pointerId); });
  for (const end of ['pointerup', 'pointercancel']) node.addEventListener(end, (event) => fingers.delete(event.pointerId));
  node.addEventListener('pointermove', (event) => {
    const before = fingers.get(event.pointerId), now = spot(event);
    if (!before) return;
    const wide = fingers.size === 2 ? apart() : 0;
    fingers.set(event.pointerId, now);
    if (wide > 0) view.zoom(apart() / wide, now);
    else view.move(before[0] - now[0], before[1] - now[1]);
    redraw();
  });
  node.addEventListener('keydown', (event) => {
    if (!press(event)) return;
    event.preventDefault();
    redraw();
  });
}
