// Sorts the tables, and takes boxes that need no scrolling out of the order of the tab key. The page is whole
// without it.
(() => {
  "use strict";

  // A screen reader is told what a press did.
  const said = document.createElement("p");
  said.className = "unseen";
  said.setAttribute("role", "status");
  document.querySelector("main").append(said);

  const collator = new Intl.Collator(document.documentElement.lang, { numeric: true });

  // The figure of a cell; not a number where it holds none.
  const number = (text) => Number.parseFloat(text.replace("\u2212", "-").replace(/[\s\u202f]/g, ""));

  const compare = (kind) => (a, b) => {
    if (kind !== "number") return collator.compare(a, b);
    const [x, y] = [number(a), number(b)];
    return x - y;
  };

  // A cell without a figure or a word stands last, whichever way the others are sorted.
  const isEmpty = (text, kind) => (kind === "number" ? Number.isNaN(number(text)) : text === "");

  // Where a head's column stands in the rows: heads that span columns or rows are counted with what they span.
  const columns = (table) => {
    const taken = [];
    const places = new Map();
    [...table.tHead.rows].forEach((row, line) => {
      let place = 0;
      for (const cell of row.cells) {
        while (taken[line]?.[place]) place += 1;
        places.set(cell, place);
        for (let down = 0; down < cell.rowSpan; down += 1) {
          const below = (taken[line + down] ??= []);
          for (let along = 0; along < cell.colSpan; along += 1) below[place + along] = true;
        }
        place += cell.colSpan;
      }
    });
    return places;
  };

  const prepare = (table) => {
    const heads = [...table.querySelectorAll("th[data-sort]")];
    if (heads.length === 0) return;
    const places = columns(table);
    const groups = [...table.tBodies].map((body) => ({
      body,
      rows: [...body.rows].filter((row) => !row.classList.contains("group")),
    }));
    if (groups.every(({ rows }) => rows.length < 2)) return;
    const name = table.caption.textContent.trim();

    const sort = (head, order) => {
      for (const other of heads) other.removeAttribute("aria-sort");
      if (order) head.setAttribute("aria-sort", order);
      const kind = head.dataset.sort;
      const place = places.get(head);
      const by = compare(kind);
      const text = (row) => row.cells[place].textContent.trim();
      for (const { body, rows } of groups) {
        const empty = order ? rows.filter((row) => isEmpty(text(row), kind)) : [];
        const full = rows.filter((row) => !empty.includes(row));
        if (order) full.sort((a, b) => (order === "ascending" ? by(text(a), text(b)) : by(text(b), text(a))));
        body.append(...full, ...empty);
      }
      const what = head.textContent.trim();
      said.textContent = order ? `${name}: sorted by ${what}, ${order}` : `${name}: in the order of the report`;
    };

    const next = { null: "ascending", ascending: "descending", descending: null };
    for (const head of heads) {
      const button = document.createElement("button");
      button.type = "button";
      button.className = "sort";
      button.append(...head.childNodes);
      head.append(button);
      button.addEventListener("click", () => sort(head, next[head.getAttribute("aria-sort")]));
    }
  };

  for (const table of document.querySelectorAll("table")) prepare(table);

  // Only a box that can be scrolled is worth a stop.
  const boxes = document.querySelectorAll(".scroll");
  const fit = (box) => {
    if (box.scrollWidth > box.clientWidth + 1) box.tabIndex = 0;
    else box.removeAttribute("tabindex");
  };
  const watch = new ResizeObserver((entries) => entries.forEach((entry) => fit(entry.target)));
  boxes.forEach((box) => watch.observe(box));
})();
