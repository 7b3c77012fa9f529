// Sorting of the table by its columns: by number where the cells have one, else by text.
"use strict";
(() => {
  const table = document.querySelector("#jobs"), body = table.tBodies[0], rows = [...body.rows];
  const valueOf = (row, field) => {
    const { value } = row.querySelector(`[data-field="${field}"]`).dataset;
    return value === undefined ? NaN : Number(value);
  };
  const textOf = (row, field) => row.querySelector(`[data-field="${field}"]`).textContent;
  const order = new Intl.Collator("en", { numeric: true }).compare;
  for (const button of table.querySelectorAll(".sort"))
    button.addEventListener("click", () => {
      const head = button.closest("th"), down = head.getAttribute("aria-sort") === "ascending", field = button.dataset.field;
      for (const other of table.querySelectorAll("[aria-sort]")) other.removeAttribute("aria-sort");
      head.setAttribute("aria-sort", down ? "descending" : "ascending");
      const sign = down ? -1 : 1;
      const text = rows.every((row) => isNaN(valueOf(row, field)));
      const keyed = rows.map((row, i) => [text ? textOf(row, field) : valueOf(row, field), i, row]);
      // Rows without a value come last either way.
      keyed.sort(text ? ([a, i], [b, k]) => sign * order(a, b) || i - k
                      : ([a, i], [b, k]) => isNaN(a) - isNaN(b) || (isNaN(a) ? 0 : sign * (a - b)) || i - k);
      body.append(...keyed.map(([, , row]) => row));
    });
})();
