// The table of runs by flow: one stop for the keyboard, arrow keys within.

function markTable() {
  document.querySelectorAll(".ledger [data-flow]").forEach((cell) => {
    cell.classList.toggle("is-now", Number(cell.dataset.flow) === state.flow);
  });
}

function cellsOf(table) {
  return [...table.tBodies[0].rows].map((row) => [...row.cells]);
}

async function openCell(cell) {
  if (cell.dataset.flow !== undefined) await setFlow(Number(cell.dataset.flow));
  openRun(Number(cell.dataset.run));
}

function startTable() {
  const table = document.querySelector(".ledger");
  if (!table) return;
  startCurves();
  const grid = cellsOf(table);
  let here = grid[0][0];
  const stop = (cell, focus) => {
    here.tabIndex = -1;
    here = cell;
    here.tabIndex = 0;
    if (focus) here.focus();
  };
  grid.flat().forEach((cell) => (cell.tabIndex = -1));
  stop(here, false);
  table.addEventListener("click", (event) => {
    const cell = event.target.closest("tbody th, tbody td");
    if (!cell) return;
    stop(cell, true);
    openCell(cell);
  });
  table.addEventListener("keydown", (event) => {
    const row = grid.findIndex((cells) => cells.includes(here));
    const column = grid[row].indexOf(here);
    const last = grid[row].length - 1;
    const moves = {
      ArrowRight: [row, Math.min(column + 1, last)],
      ArrowLeft: [row, Math.max(column - 1, 0)],
      ArrowDown: [Math.min(row + 1, grid.length - 1), column],
      ArrowUp: [Math.max(row - 1, 0), column],
      Home: [row, 0],
      End: [row, last],
    };
    if (event.key === "Enter" || event.key === " ") openCell(here);
    else if (moves[event.key]) stop(grid[moves[event.key][0]][moves[event.key][1]], true);
    else return;
    event.preventDefault();
    event.stopPropagation();
  });
}

listen("flow", markTable);
