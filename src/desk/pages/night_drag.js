// Rows of a list put into another order by mouse, pen or finger, at their grip. By keyboard: night_jobs.js.

/** `moved(from, to)`: places in the list, from 0. */
export function dragRows(list, moved) {
  list.addEventListener('pointerdown', (down) => {
    const grip = down.target.closest('.grip');
    if (!grip || down.button !== 0) return;
    down.preventDefault();
    grip.setPointerCapture(down.pointerId);
    const row = grip.closest('li'), from = [...list.children].indexOf(row);
    const others = [...list.children].filter((one) => one !== row);
    let to = from, dropped = false;
    const mark = (on) => {
      for (const one of others) one.classList.remove('before', 'after');
      row.classList.toggle('dragged', on);
      if (on && to !== from) (others[to] ?? others[to - 1]).classList.add(to < others.length ? 'before' : 'after');
    };
    const ended = new AbortController();
    const listen = (name, act, on = grip) => on.addEventListener(name, act, { signal: ended.signal });
    listen('pointermove', ({ clientY }) => {
      to = others.filter((one) => { const box = one.getBoundingClientRect(); return box.top + box.height / 2 < clientY; }).length;
      if (clientY < 40 || clientY > innerHeight - 40) scrollBy(0, clientY < 40 ? -20 : 20);
      mark(true);
    });
    listen('pointerup', () => { dropped = true; });
    listen('keydown', (event) => { if (event.key === 'Escape') grip.releasePointerCapture(down.pointerId); }, document);
    listen('lostpointercapture', () => {
      mark(false);
      ended.abort();
      if (dropped && to !== from) moved(from, to);
    });
    mark(true);
  });
}
