"use strict";
// A click on a column's head sorts its table; cells with data-v sort by that, blanks come last.
for (const table of document.querySelectorAll("table.sorts")) {
  const heads = Array.from(table.tHead.rows[0].cells);
  const value = (row, i) => {
    const cell = row.cells[i];
    const text = cell.dataset.v !== undefined ? cell.dataset.v : cell.textContent.trim();
    return text === "" ? null : heads[i].classList.contains("n") ? Number(text) : text;
  };
  const compare = (a, b) => typeof a === "number" ? a - b : a.localeCompare(b, "en", { numeric: true });
  heads.forEach((head, i) => {
    const button = document.createElement("button");
    button.type = "button";
    button.append(...head.childNodes);
    head.append(button);
    button.addEventListener("click", () => {
      const down = head.getAttribute("aria-sort") === "ascending";
      heads.forEach((other) => other.removeAttribute("aria-sort"));
      head.setAttribute("aria-sort", down ? "descending" : "ascending");
      const rows = Array.from(table.tBodies[0].rows);
      rows.sort((r, s) => {
        const a = value(r, i), b = value(s, i);
        if (a === null || b === null) return (a === null) - (b === null);
        return down ? compare(b, a) : compare(a, b);
      });
      table.tBodies[0].append(...rows);
    });
  });
}
