"use strict";
// Tables sort by the figure that a cell begins with, in SI (data-value), and by its words where it has none.
for (const table of document.querySelectorAll("table.sorts")) {
  const body = table.tBodies[0];
  const heads = [...table.tHead.rows[0].cells];
  heads.forEach((head, column) => {
    head.querySelector("button").addEventListener("click", () => {
      const down = head.getAttribute("aria-sort") === "ascending";
      heads.forEach((other) => other.removeAttribute("aria-sort"));
      head.setAttribute("aria-sort", down ? "descending" : "ascending");
      const sign = down ? -1 : 1;
      const rows = [...body.rows].map((row) => {
        const cell = row.cells[column];
        const figure = cell.dataset.value === undefined ? null : Number(cell.dataset.value);
        return { row, figure, text: cell.textContent.trim() };
      });
      rows.sort((a, b) => {
        if (a.figure !== null && b.figure !== null) return sign * (a.figure - b.figure);
        if (a.figure !== null || b.figure !== null) return a.figure === null ? 1 : -1; // figures first, either way
        if (!a.text || !b.text) return a.text ? -1 : b.text ? 1 : 0; // and blanks last
        return sign * a.text.localeCompare(b.text, "en", { numeric: true });
      });
      body.append(...rows.map((each) => each.row));
    });
  });
}
