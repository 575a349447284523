"use strict";
// Sorting only; filtering is done by the style sheet, so that it works where scripts do not run.
const bars = document.getElementById("bars"), sort = document.getElementById("sort");
sort.closest(".sorting").hidden = false;
sort.addEventListener("change", () => {
  const key = sort.value, by = (item) => key === "name" ? item.dataset.name : Number(item.dataset[key]);
  const compare = (a, b) => key === "name" ? by(a).localeCompare(by(b), "en", { numeric: true }) : by(a) - by(b);
  bars.append(...[...bars.children].sort(compare));
});
