// Charts, sliders, sorting and filters. Everything drawn comes from the JSON in the page; sentences are the report's.
"use strict";
(() => {
  const find = (selector, within = document) => within.querySelector(selector);
  const all = (selector, within = document) => [...within.querySelectorAll(selector)];
  const json = (id) => JSON.parse(find(id).textContent);
  document.documentElement.classList.add("js");

  // ---- drawing ----

  const shape = (tag, attributes = {}, text = "") => {
    const node = document.createElementNS("http://www.w3.org/2000/svg", tag);
    for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, value);
    node.textContent = text;
    return node;
  };
  const short = (value) => String(Number(value.toPrecision(4)));

  // Round numbers from `from` to `to`, about `most` of them and `least` apart.
  const ticks = (from, to, most, least = 0) => {
    const rough = Math.max((to - from) / most, least), ten = 10 ** Math.floor(Math.log10(rough));
    const step = [1, 2, 5, 10].map((times) => times * ten).find((size) => size >= rough);
    const list = [];
    for (let i = Math.ceil(from / step - 1e-9); i * step <= to + 1e-9 * step; i++) list.push(i * step);
    return list;
  };

  // A frame with axes in `drawing`: x and y turn values into places. `box`: its top and height.
  const frame = (drawing, { xs, ys, title, box, words = true, whole = false }) => {
    const left = 52, right = drawing.wide - 14, top = box.top + 30, bottom = box.top + box.tall - (words ? 22 : 6);
    const [x0, x1] = xs, y1 = ys[1] > ys[0] ? ys[1] : ys[0] + 1, y0 = ys[0];
    const x = (value) => left + ((value - x0) / (x1 - x0 || 1)) * (right - left);
    const y = (value) => bottom - ((value - y0) / (y1 - y0)) * (bottom - top);
    const axis = shape("g", { class: "axis" });
    for (const value of ticks(y0, y1, Math.max(2, box.tall / 30), whole ? 1 : 0)) {
      axis.append(shape("path", { d: `M${left} ${y(value)}H${right}` }));
      axis.append(shape("text", { x: left - 6, y: y(value) + 4 }, short(value)));
    }
    if (words)
      for (const value of ticks(x0, x1, Math.max(2, drawing.wide / 90))) {
        axis.append(shape("path", { d: `M${x(value)} ${bottom}v5` }));
        axis.append(shape("text", { class: "x", x: x(value), y: bottom + 18 }, short(value)));
      }
    axis.append(shape("text", { class: "title", x: left, y: box.top + 12 }, title));
    drawing.svg.append(axis);
    return { x, y, left, right, top, bottom };
  };

  const point = (kind, x, y, colour, name) => {
    const paths = {
      circle: "m-4 0a4 4 0 1 0 8 0a4 4 0 1 0 -8 0z", square: "m-4 -4h8v8h-8z", triangle: "m0 -5l5 9h-10z",
      diamond: "m0 -5l5 5l-5 5l-5 -5z",
    };
    const node = shape("path", { class: `point ${colour}`, d: `M${x} ${y}${paths[kind]}` });
    if (name) node.append(shape("title", {}, name));
    return node;
  };

  // A line through the values that are there; gaps where there are none.
  const line = (values, x, y) => {
    let d = "", open = false;
    for (const [at, value] of values) {
      if (value === null || value === undefined) { open = false; continue; }
      d += `${open ? "L" : "M"}${x(at).toFixed(1)} ${y(value).toFixed(1)}`;
      open = true;
    }
    return d;
  };

  // An upright line at a value, named `row` below the top and on the side that has room.
  const upright = (drawing, at, value, row, name, kind = "") => {
    const x = at.x(value), last = x > at.right - 90;
    drawing.svg.append(shape("path", { class: `at ${kind}`, d: `M${x} ${at.top - 6}V${at.bottom}` }));
    drawing.svg.append(shape("text", { class: "at-text", x: x + (last ? -5 : 5), y: at.top + row, "text-anchor": last ? "end" : "start" }, name));
  };

  const legend = (host, entries) => {
    const list = document.createElement("ul");
    list.className = "legend";
    for (const { name, colour, kind, dash = "", area } of entries) {
      const item = document.createElement("li"), sample = shape("svg", { viewBox: "0 0 32 16", class: "line", "aria-hidden": "true" });
      if (area) sample.append(shape("rect", { class: `area ${colour} ${area}`, x: 4, y: 3, width: 24, height: 10 }));
      else if (dash !== null) sample.append(shape("path", { class: `series ${dash} ${colour}`, d: "M0 8h32" }));
      if (kind) sample.append(point(kind, 16, 8, colour));
      item.append(sample, ` ${name}`);
      list.append(item);
    }
    host.append(list);
  };

  // Draws now, and again when the place for it has another width, or the page goes to paper.
  const charts = [];
  let paper = 0;
  const chart = (id, tall, label, draw) => {
    const host = find(id);
    if (!host) return () => {};
    let drawn = 0;
    const again = () => {
      if (host.closest("[hidden]")) return;
      const svg = shape("svg", { role: "img", "aria-label": label });
      host.replaceChildren(svg);  // first: an empty place has no width
      const wide = paper || Math.max(300, host.clientWidth - 16);
      svg.setAttribute("viewBox", `0 0 ${wide} ${tall}`);
      drawn = wide;
      draw({ svg, wide, tall, host });
    };
    charts.push(() => { if (paper || (Math.abs(host.clientWidth - 16 - drawn) > 2 && host.clientWidth > 0)) again(); });
    again();
    return again;
  };

  const report = json("#report");
  const plan = report.suggestion, sweep = plan ? plan.sweep : [];

  // ---- when ----

  const wholeFails = (row) => row.bulk_chance >= 0.5;
  // The exposures shown: the rows', and the job's own.
  const times = () => {
    const list = sweep.map((row) => row.exposure_s).concat(report.exposure_s);
    return [Math.min(...list), Math.max(...list)];
  };
  let tried = null;  // the row that is looked at; null: that of the job
  const marked = (drawing, at) => {
    upright(drawing, at, report.exposure_s, 4, "this job", "job");
    if (plan && plan.action === "change") upright(drawing, at, plan.exposure_s, 18, "set this", "set");
    if (tried) upright(drawing, at, tried.exposure_s, 32, "looked at", "tried");
  };
  const band = (drawing, at) => {
    if (!plan || !plan.window_s) return;
    const [from, to] = plan.window_s;
    drawing.svg.append(shape("rect", { class: "band", x: at.x(from), y: at.top, width: Math.max(1, at.x(to) - at.x(from)), height: at.bottom - at.top }));
  };

  const series = (drawing, at, rows, value, { colour, kind, dash = "", name }) => {
    drawing.svg.append(shape("path", { class: `series ${dash} ${colour}`, d: line(rows.map((row) => [row.exposure_s, value(row)]), at.x, at.y) }));
    for (const row of rows)
      drawing.svg.append(point(kind, at.x(row.exposure_s), at.y(value(row)), colour, `${row.exposure_s} s: ${name} ${short(value(row))}`));
  };

  // Where the whole print fails: as far as halfway to the rows beside.
  const failing = (drawing, at) => {
    const halfway = (i) => at.x((sweep[Math.max(0, i - 1)].exposure_s + sweep[Math.min(i, sweep.length - 1)].exposure_s) / 2);
    sweep.forEach((row, i) => {
      if (wholeFails(row))
        drawing.svg.append(shape("rect", { class: "area c-missing faint", x: halfway(i), y: at.top, width: halfway(i + 1) - halfway(i), height: at.bottom - at.top }));
    });
  };

  const drawWhen = (drawing) => {
    const rows = sweep.filter((row) => !wholeFails(row));
    const panel = (top, title, top_value, lines, words) => {
      const at = frame(drawing, { xs: times(), ys: [0, top_value * 1.08], title, box: { top, tall: words ? 190 : 170 }, words, whole: words });
      band(drawing, at);
      failing(drawing, at);
      for (const [value, look] of lines) series(drawing, at, rows, value, look);
      marked(drawing, at);
    };
    const missing = { colour: "c-missing", kind: "triangle", dash: "dash", name: "missing" };
    const closed = { colour: "c-closed", kind: "square", dash: "dot", name: "closed" };
    const both = { colour: "c-both", kind: "circle", name: "both" };
    const split = rows.every((row) => row.expected_fuse_mm !== undefined);
    const harm = split ? [[(row) => row.expected_mm - row.expected_fuse_mm, missing], [(row) => row.expected_fuse_mm, closed]] : [];
    panel(0, "expected harm, mm", Math.max(0, ...rows.map((row) => row.expected_mm)), [[(row) => row.expected_mm, both], ...harm], false);
    panel(176, "lost, counted; time a layer, s", Math.max(1, ...rows.map((row) => row.vanish + row.fuse)),
      [[(row) => row.vanish + row.fuse, both], [(row) => row.vanish, missing], [(row) => row.fuse, closed]], true);
    const looks = [{ ...missing }, { ...closed }, { ...both }];
    if (plan.window_s) looks.push({ name: "window: nothing avoidable at risk", colour: "c-good", area: "faint" });
    if (rows.length < sweep.length) looks.push({ name: "the whole print fails", colour: "c-missing", area: "faint" });
    legend(drawing.host, looks);
  };

  // ---- chance of one finding ----

  // Chance that a standard normal variable is below z (Abramowitz and Stegun, 26.2.17; error under 1e-7).
  const below = (z) => {
    const t = 1 / (1 + 0.2316419 * Math.abs(z));
    const tail = Math.exp((-z * z) / 2) / Math.sqrt(2 * Math.PI) * t *
      (0.31938153 + t * (-0.356563782 + t * (1.781477937 + t * (-1.821255978 + t * 1.330274429))));
    return z > 0 ? 1 - tail : tail;
  };
  // Where `below` has this value.
  const quantile = (chance) => {
    let low = -8, high = 8;
    for (let i = 0; i < 50; i++) below((low + high) / 2) < chance ? (low = (low + high) / 2) : (high = (low + high) / 2);
    return low;
  };
  // Spread log_sd around the time at which it turns, through the chance at the judged time where that can be told.
  const chanceAt = (detail, time) => {
    const sign = detail.fate === "vanish" ? -1 : 1, sd = Math.max(detail.log_sd || 0, 1e-6), p = detail.probability;
    if (p > 1e-4 && p < 0.9999) return below(quantile(p) + (sign * Math.log(time / report.exposure_s)) / sd);
    return below((sign * Math.log(time / detail.critical_exposure_s)) / sd);
  };
  const choice = find("#chance-of"), byId = new Map(report.details.map((detail) => [String(detail.id), detail]));
  const choosable = all(".choose").map((button) => button.dataset.id).filter((id) => byId.has(id));
  const nameOf = (id) => find(`#finding-${id} p`).textContent.split(":")[0];
  for (const id of choosable) choice.append(new Option(`${id}: ${nameOf(id)}`, id));
  const drawChance = (drawing) => {
    const detail = byId.get(choice.value);
    if (!detail) return drawing.host.replaceChildren();
    const at = frame(drawing, { xs: times(), ys: [0, 100], title: "chance, %; time a layer, s", box: { top: 0, tall: drawing.tall } });
    band(drawing, at);
    const colour = detail.fate === "vanish" ? "c-missing" : "c-closed", [from, to] = times(), values = [];
    for (let i = 0; i <= 120; i++) values.push(from + ((to - from) * i) / 120);
    drawing.svg.append(shape("path", { class: `series ${colour}`, d: line(values.map((time) => [time, 100 * chanceAt(detail, time)]), at.x, at.y) }));
    marked(drawing, at);
    drawing.svg.append(point(detail.fate === "vanish" ? "triangle" : "square", at.x(report.exposure_s), at.y(100 * detail.probability), colour,
      `${short(100 * detail.probability)} %`));
  };

  // ---- another time ----

  const percent = (chance) => (chance < 0.01 ? "under 1 %" : chance > 0.99 ? "over 99 %" : `${Math.round(100 * chance)} %`);
  // Of all that an entry stands for: the chance of the likeliest, and whether each is as good as safe (docs/page.md).
  const membersOf = (button) => button.dataset.ids.split(" ").flatMap((range) => {
    const [from, to = from] = range.split("-").map(Number);
    return Array.from({ length: to - from + 1 }, (_, i) => byId.get(String(from + i)));
  });
  const turns = (detail) => detail && !detail.base && detail.critical_exposure_s !== null;
  const fareAt = (members, row) => {
    if (!row || wholeFails(row) || !members.every(turns)) return { saved: false, text: "" };
    const chances = members.map((detail) => chanceAt(detail, row.exposure_s));
    const saved = members.every((detail, i) => chances[i] < (detail.state === "will" ? 0.5 : 0.05));
    return { saved, text: `At ${row.exposure_s.toFixed(2)} s ${saved ? "not lost" : "may still be lost"}: chance ${percent(Math.max(...chances))}.` };
  };
  const rowText = (row) => {
    if (wholeFails(row)) return "the whole print fails.";
    const bulk = row.bulk_chance === null ? "" : `; chance that thick parts do not bond ${percent(row.bulk_chance)}`;
    const uncured = row.uncured_share > 0.02 ? `; ${percent(row.uncured_share)} of the print does not cure` : "";
    const half = row.half_lost > 0 ? `; ${row.half_lost} half lost` : "";
    return `${row.vanish} missing, ${row.fuse} closed, harm ${Number(row.expected_mm.toPrecision(2))} mm${bulk}${uncured}${half}.`;
  };
  const showThen = (button) => {
    const entry = button.closest(".entry"), key = entry.dataset.key, { saved, text } = fareAt(membersOf(button), tried);
    const marks = all(".mark, .place").filter((one) => one.dataset.key === key);
    find(".then", entry)?.remove();
    if (text) {
      const note = document.createElement("p");
      note.className = "then";
      note.textContent = text;
      find(".links", entry).before(note);
    }
    for (const node of [entry, ...marks]) node.classList.toggle("saved", saved);
    for (const mark of marks) if (mark.dataset.name) mark.setAttribute("aria-label", `${key}: ${mark.dataset.name}${text && ` ${text}`}`);
    return saved;
  };
  const tryTime = (slider, redraw) => {
    const row = sweep[slider.value];
    tried = Math.abs(row.exposure_s - report.exposure_s) < 1e-6 ? null : row;
    find("#try-output").value = `${row.exposure_s.toFixed(2)} s`;
    const saved = all(".choose").map(showThen).filter(Boolean).length;
    const then = tried ? ` Of the findings above ${saved} would not be lost: they are struck through. What only this time would lose has no mark until the job is checked at it.` : " This is the time that was judged.";
    find("#try-says").textContent = rowText(row) + then;
    slider.setAttribute("aria-valuetext", `${find("#try-output").value}: ${rowText(row)}`);
    redraw();
  };

  // ---- how thin ----

  // Of walls or gaps: how a width fares, as a class of its bar.
  const fares = (row, printed, colour) => {
    if (!report.record) return "c-kept";
    if (row[printed] === null) return colour;
    return row[printed] < row.drawn_mm / 2 ? `faint ${colour}` : "c-kept";
  };
  // Lines at the widths below which nothing prints; `kinds` are a name and a field each.
  const limit_mm = JSON.parse(find("#chart-widths").dataset.limits || "{}");
  const limits = (drawing, at, kinds) => kinds.forEach(([name, printed], i) => {
    const x = limit_mm[printed] ? at.x(limit_mm[printed]) : 0;  // those off the axis are left out
    if (x >= at.left && x <= at.right) upright(drawing, at, limit_mm[printed], 6 + 14 * i, `limit of ${name}`);
  });
  const drawWidths = (drawing) => {
    const { widths } = report.growth, step = widths.length > 1 ? widths[1].drawn_mm - widths[0].drawn_mm : 0.05;
    const last = widths[widths.length - 1].drawn_mm, size = (value) => (value === null ? "nothing" : `${short(value)} mm`);
    const panel = (top, { title, area, colour, words, kinds }) => {
      const [printed, round] = kinds.map(([, field]) => field);
      const most = Math.max(...widths.map((row) => row[area]));
      const none = most > 0 ? "" : `: none up to ${short(last)} mm`;
      const at = frame(drawing, { xs: [widths[0].drawn_mm - step / 2, last + step / 2], ys: [0, most * 1.08], title: title + none,
        box: { top, tall: words ? 170 : 150 }, words });
      const wide = Math.max(2, at.x(step) - at.x(0) - 3);
      for (const row of widths) {
        if (!(row[area] > 0)) continue;
        const bar = shape("rect", { class: `area ${fares(row, printed, colour)}`, x: at.x(row.drawn_mm) - wide / 2, y: at.y(row[area]), width: wide, height: at.bottom - at.y(row[area]) });
        const prints = report.record ? `; of a long one ${size(row[printed])} prints, of a round one ${size(row[round])}` : "";
        bar.append(shape("title", {}, `drawn ${short(row.drawn_mm)} mm: ${short(row[area])} mm²${prints}`));
        drawing.svg.append(bar);
      }
      limits(drawing, at, kinds);
    };
    panel(0, { title: "walls, mm²", area: "wall_mm2", colour: "c-missing", words: false, kinds: [["walls", "wall_mm"], ["pins", "pin_mm"]] });
    panel(156, { title: "gaps, mm²; drawn width, mm", area: "slot_mm2", colour: "c-closed", words: true, kinds: [["slots", "slot_mm"], ["holes", "hole_mm"]] });
    const looks = [["at least half the width prints", "c-kept", " "], ["walls below the limit", "c-missing", " "], ["gaps below the limit", "c-closed", " "],
      ["paler: prints under half as wide", "c-closed", "faint"]];
    legend(drawing.host, (report.record ? looks : [["as drawn", "c-kept", " "]]).map(([name, colour, area]) => ({ name, colour, area })));
  };

  // ---- up the print ----

  const layers = report.layers, count = layers.height_mm.length, tops = [];
  for (let i = 0, sum = 0; i < count; i++) tops.push((sum += layers.height_mm[i]));
  const upFrom = find("#up-from"), upTo = find("#up-to");
  // At most two values for each column of the picture, so that peaks stay: [height, value].
  const thinned = (values, first, last, wide) => {
    const list = [], share = Math.max(1, Math.ceil((last - first + 1) / wide));
    for (let i = first; i <= last; i += share) {
      let low = -1, high = -1;
      for (let k = i; k < Math.min(last + 1, i + share); k++) {
        if (values[k] === null) continue;
        if (low < 0 || values[k] < values[low]) low = k;
        if (high < 0 || values[k] > values[high]) high = k;
      }
      if (low < 0) list.push([tops[i], null]);
      else for (const k of low === high ? [low] : [Math.min(low, high), Math.max(low, high)]) list.push([tops[k], values[k]]);
    }
    return list;
  };
  const drawUp = (drawing) => {
    const first = Math.min(upFrom.value, upTo.value) - 1, last = Math.max(upFrom.value, upTo.value) - 1;
    find("#up-from-layer").value = first + 1;
    find("#up-to-layer").value = last + 1;
    const xs = [first > 0 ? tops[first - 1] : 0, tops[last]];
    const most = (lists) => Math.max(0, ...lists.flatMap((list) => thinned(list, first, last, 500).map(([, value]) => value || 0)));
    const panel = (top, title, lists, words) => {
      const at = frame(drawing, { xs, ys: [0, most(lists.map(([list]) => list)) * 1.08], title, box: { top, tall: words ? 140 : 120 }, words, whole: words });
      for (const [list, colour, dash, kind] of lists) {
        const values = thinned(list, first, last, (at.right - at.left) / (kind ? 6 : 1));
        if (!kind) drawing.svg.append(shape("path", { class: `series ${dash} ${colour}`, d: line(values, at.x, at.y) }));
        else for (const [height, value] of values) if (value) drawing.svg.append(point(kind, at.x(height), at.y(value), colour));
      }
    };
    panel(0, "solid and contact area, mm²", [[layers.solid_mm2, "c-both", ""], [layers.contact_mm2, "c-closed", "dash"]], false);
    panel(126, "thinnest wall and gap, mm", [[layers.thinnest_wall_mm, "c-missing", "", "triangle"], [layers.thinnest_gap_mm, "c-closed", "", "square"]], false);
    panel(252, "islands that begin; height, mm", [[layers.islands, "c-island", "", "diamond"]], true);
    legend(drawing.host, [{ name: "solid", colour: "c-both" }, { name: "contact with the layer below", colour: "c-closed", dash: "dash" },
      { name: "wall", colour: "c-missing", kind: "triangle", dash: null }, { name: "gap", colour: "c-closed", kind: "square", dash: null },
      { name: "island", colour: "c-island", kind: "diamond", dash: null }]);
  };

  if (sweep.length > 1) {
    const whenAgain = chart("#chart-when", 372, "Losses against exposure time", drawWhen);
    const again = chart("#chart-chance", 240, "Chance of the chosen finding against exposure time", drawChance);
    choice.addEventListener("change", again);
    for (const button of all(".choose"))
      button.addEventListener("click", () => {
        choice.value = button.dataset.id;
        again();
        choice.focus();
        choice.scrollIntoView({ block: "center" });
      });
    const slider = find("#try-time"), redraw = () => { whenAgain(); again(); };
    slider.max = sweep.length - 1;
    slider.value = Math.max(0, sweep.findIndex((row) => Math.abs(row.exposure_s - report.exposure_s) < 1e-6));
    tryTime(slider, () => {});
    slider.addEventListener("input", () => {
      tryTime(slider, redraw);
      if (window.parent !== window) window.parent.postMessage({ about: "exposure", exposure_s: sweep[slider.value].exposure_s }, "*");
    });
    if (choosable.length === 0) choice.closest(".pair > div").hidden = true;
  } else {
    for (const button of all(".choose")) button.hidden = true;
    find("#try").hidden = true;
  }
  if (report.growth && report.growth.widths.length > 0) chart("#chart-widths", 330, "Area of walls and gaps by drawn width", drawWidths);
  if (count > 1) {
    for (const input of [upFrom, upTo]) input.max = count;
    upTo.value = count;
    const again = chart("#chart-up", 396, "Areas, thinnest places and islands along the height", drawUp);
    for (const input of [upFrom, upTo]) input.addEventListener("input", again);
  }
  window.addEventListener("resize", () => {
    if (!matchMedia("print").matches) charts.forEach((fit) => fit());
  });
  for (const [event, wide] of [["beforeprint", 900], ["afterprint", 0]])
    window.addEventListener(event, () => {
      paper = wide;
      charts.forEach((fit) => fit());
    });

  // ---- marks ----

  const name = find("#where-name"), rest = name.textContent;
  const pick = (key, text) => {
    for (const mark of all(".mark, .place")) mark.classList.toggle("on", mark.dataset.key === key);
    name.textContent = text;
  };
  for (const mark of all(".mark")) {
    for (const event of ["focus", "pointerenter"]) mark.addEventListener(event, () => pick(mark.dataset.key, mark.getAttribute("aria-label")));
    for (const event of ["blur", "pointerleave"]) mark.addEventListener(event, () => pick("", rest));
    mark.addEventListener("click", () => {
      const entry = document.getElementById(mark.getAttribute("href").slice(1));
      for (const look of all("details", entry)) look.open = true;
    });
  }

  // ---- slices ----

  for (const slider of all("input.slices")) {
    const slices = all(".slice", slider.closest(".pictures")), output = find("output", slider.closest("label"));
    slider.addEventListener("input", () => {
      slices.forEach((slice, i) => { slice.hidden = i !== Number(slider.value); });
      output.value = slices[slider.value].dataset.layer;
      slider.setAttribute("aria-valuetext", `layer ${output.value}`);
    });
  }

  // ---- the table ----

  const table = find("#details"), body = find("tbody", table), rows = all("tr", body);
  const valueOf = (row, field) => {
    const cell = find(`[data-field="${field}"]`, row);
    return cell && cell.dataset.value !== undefined ? Number(cell.dataset.value) : NaN;
  };
  for (const button of all(".sort", table))
    button.addEventListener("click", () => {
      const head = button.closest("th"), down = head.getAttribute("aria-sort") === "ascending";
      for (const other of all("[aria-sort]", table)) other.removeAttribute("aria-sort");
      head.setAttribute("aria-sort", down ? "descending" : "ascending");
      const keyed = rows.map((row, i) => [valueOf(row, button.dataset.field), i, row]);
      const sign = down ? -1 : 1;  // rows without a value come last either way
      keyed.sort(([a, i], [b, k]) => (isNaN(a) - isNaN(b)) || sign * (a - b) || i - k);
      body.append(...keyed.map(([, , row]) => row));
    });
  const kind = find("#filter-kind"), outcome = find("#filter-outcome"), layer = find("#filter-layer");
  const filter = () => {
    let shown = 0;
    for (const row of rows) {
      const on = layer.value === "" || (valueOf(row, "from_layer") <= layer.value && layer.value <= valueOf(row, "to_layer"));
      row.hidden = !on || (kind.value !== "" && row.dataset.kind !== kind.value) || (outcome.value !== "" && row.dataset.outcome !== outcome.value);
      if (!row.hidden) shown++;
    }
    find("#filter-count").value = `${shown} of ${rows.length}`;
  };
  for (const input of [kind, outcome, layer]) input.addEventListener("input", filter);
  filter();
})();
