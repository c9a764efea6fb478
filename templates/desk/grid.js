// A table as a grid: arrows between cells, a cell changed where it stands, rows pasted from a spreadsheet.
const grid = document.querySelector("table[role=grid]");
if (grid) {
  const says = document.getElementById("grid-says"), clash = document.getElementById("conflict");
  const rowsOf = () => [...grid.tBodies[0].rows];
  const cellAt = (row, column) => { const line = rowsOf()[row]; return line && line.cells[column]; };
  const rowOf = (cell) => rowsOf().indexOf(cell.parentElement);
  let current = null;
  const goTo = (cell) => {
    if (!cell) return;
    if (current) current.tabIndex = -1;
    current = cell;
    cell.tabIndex = 0;
    cell.focus();
    cell.scrollIntoView({ block: "nearest", inline: "nearest" });
  };
  const textOf = (cell) => cell.dataset.typed !== undefined ? cell.dataset.typed : cell.dataset.kind === "new" ? "" : cell.textContent;
  const mark = (cell, said) => {
    cell.classList.toggle("faulty", Boolean(said));
    cell.title = said || "";
    if (said) cell.setAttribute("aria-invalid", "true"); else cell.removeAttribute("aria-invalid");
  };
  const cellOf = (fault, laid) => {
    const line = fault.row === undefined ? rowsOf().find((row) => row.dataset.name === fault.name) : laid[fault.row];
    if (!line) return undefined;
    const key = grid.dataset.key, name = fault.column || key;
    return [...line.cells].find((cell) => cell.dataset.column === name || (name === key && cell.matches("th")));
  };
  const send = async (cells, rows, trying) => {
    const answer = await fetch(grid.dataset.cells, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify({ cells, rows, try: trying }) });
    if (answer.headers.get("content-type") !== "application/json") throw new Error((await answer.text()).replace(/<[^>]*>/g, " ").slice(-200));
    return answer.json();
  };
  const tell = (told, laid = []) => {
    clash.classList.add("off");
    for (const one of [...told.faults, ...told.hints]) { const cell = cellOf(one, laid); if (cell) mark(cell, one.says); }
    if (told.faults.length) says.textContent = told.faults.slice(0, 3).map((one) => (one.column ? one.column + ": " : "") + one.says).join(" ") + (told.faults.length > 3 ? " And " + (told.faults.length - 3) + " more." : "") + " Nothing was saved.";
    else if (told.conflicts.length) {
      clash.textContent = told.conflicts.map((one) => one.record + ", " + one.column + ": it showed “" + one.was + "”, the file says “" + one.there + "” now, and you typed “" + one.wanted + "”.").join(" ") + " Nothing was saved; show the page anew, then change it.";
      clash.classList.remove("off");
      document.body.dataset.waiting = "yes";
    } else if (told.done.length) {
      says.textContent = "Saved: " + told.done.slice(0, 3).join(", ") + (told.done.length > 3 ? " and " + (told.done.length - 3) + " more" : "") + ".";
      document.body.dataset.version = told.version;
    }
  };
  const keep = async (cell, text) => {
    const line = cell.parentElement;
    if (line.classList.contains("fresh")) { cell.dataset.typed = text; cell.textContent = text; return keepFresh(line, cell); }
    const was = cell.textContent;
    if (text === was) return;
    document.body.dataset.waiting = "yes";
    try {
      const told = await send([{ name: line.dataset.name, column: cell.dataset.column, was, now: text }], [], false);
      cell.textContent = told.faults.length ? was : text;
      mark(cell, "");
      if (!told.faults.length && !told.conflicts.length) cell.classList.add("kept");
      if (told.conflicts.length) cell.textContent = told.conflicts[0].there;
      tell(told);
    } catch (fault) { says.textContent = "Not saved: " + fault.message; }
    delete document.body.dataset.waiting;
  };
  // The new row is sent once its number and all that it needs are there; until then each cell is tried.
  const rowTyped = (line) => Object.fromEntries([...line.cells].filter((cell) => cell.dataset.typed).map((cell) => [cell.dataset.column, cell.dataset.typed]));
  const keepFresh = async (line, cell) => {
    const key = line.cells[[...line.cells].findIndex((one) => one.matches("th"))];
    if (!key.dataset.typed && grid.dataset.next) { key.dataset.typed = grid.dataset.next; key.textContent = grid.dataset.next; }
    for (const one of line.cells) mark(one, "");
    const told = await send([], [rowTyped(line)], true);
    const missing = told.faults.filter((one) => / is missing/.test(one.says)), wrong = told.faults.filter((one) => !/ is missing/.test(one.says));
    for (const one of [...wrong, ...told.hints]) { const at = cellOf({ ...one, row: 0 }, [line]); if (at) mark(at, one.says); }
    says.textContent = wrong.length ? wrong.map((one) => one.says).join(" ") : missing.length ? missing.map((one) => one.says).join(" ") : "Press Ctrl + Enter to save this row.";
    return cell;
  };
  const sendRows = async (rows, laid) => {
    document.body.dataset.waiting = "yes";
    try {
      const told = await send([], rows, false);
      tell(told, laid);
      if (told.done.length) location.reload();
    } catch (fault) { says.textContent = "Not saved: " + fault.message; }
    delete document.body.dataset.waiting;
  };
  const edit = (cell, begin) => {
    if (cell.dataset.kind === "fixed") { const link = cell.querySelector("a") || cell.parentElement.querySelector("th a"); if (link) link.click(); return; }
    const before = textOf(cell), input = document.createElement("input");
    input.value = begin === undefined ? before : begin;
    input.setAttribute("aria-label", cell.dataset.column);
    cell.replaceChildren(input);
    input.focus();
    let over = false, waiting = 0;
    const end = (text, next) => {
      if (over) return;
      over = true;
      clearTimeout(waiting);
      cell.textContent = before;
      if (text !== undefined && text !== before) keep(cell, text);
      goTo(next || cell);
    };
    input.addEventListener("input", () => {
      clearTimeout(waiting);
      const line = cell.parentElement;
      waiting = setTimeout(async () => {
        const fresh = line.classList.contains("fresh");
        const told = fresh ? await send([], [{ ...rowTyped(line), [cell.dataset.column]: input.value }], true) : await send([{ name: line.dataset.name, column: cell.dataset.column, was: before, now: input.value }], [], true);
        const mine = [...told.faults, ...told.hints].find((one) => one.column === cell.dataset.column && !/ is missing/.test(one.says));
        if (!over) { mark(cell, mine && mine.says); says.textContent = mine ? mine.says : ""; }
      }, 300);
    });
    input.addEventListener("keydown", (event) => {
      const at = rowOf(cell), column = cell.cellIndex;
      if (event.key === "Escape") { event.stopPropagation(); mark(cell, ""); end(undefined); }
      else if (event.key === "Enter" && !event.ctrlKey) { event.preventDefault(); event.stopPropagation(); end(input.value, cellAt(at + 1, column)); }
      else if (event.key === "Tab") { event.preventDefault(); event.stopPropagation(); end(input.value, cellAt(at, column + (event.shiftKey ? -1 : 1))); }
      else if (event.key !== "Enter") event.stopPropagation();
    });
    input.addEventListener("blur", () => end(input.value));
  };
  const MOVES = { ArrowUp: [-1, 0], ArrowDown: [1, 0], ArrowLeft: [0, -1], ArrowRight: [0, 1], PageUp: [-15, 0], PageDown: [15, 0] };
  grid.addEventListener("keydown", (event) => {
    const cell = event.target.closest("td, tbody th");
    if (!cell) return;
    const row = rowOf(cell), column = cell.cellIndex, last = rowsOf().length - 1;
    if (event.key in MOVES) {
      event.preventDefault();
      const [down, right] = MOVES[event.key];
      goTo(cellAt(Math.min(last, Math.max(0, row + down)), column + right) || cell);
    } else if (event.key === "Home" || event.key === "End") {
      event.preventDefault();
      const line = event.ctrlKey ? (event.key === "Home" ? 0 : last) : row;
      goTo(cellAt(line, event.key === "Home" ? 0 : rowsOf()[line].cells.length - 1));
    } else if (event.key === "Enter" && event.ctrlKey) {
      event.preventDefault();
      if (cell.parentElement.classList.contains("fresh")) sendRows([rowTyped(cell.parentElement)], [cell.parentElement]);
    } else if (event.key === "Enter" || event.key === "F2") { event.preventDefault(); edit(cell); }
    else if ((event.key === "Delete" || event.key === "Backspace") && cell.dataset.kind !== "fixed") { event.preventDefault(); keep(cell, ""); }
    else if (event.key.length === 1 && !event.ctrlKey && !event.metaKey && !event.altKey && cell.dataset.kind !== "fixed") { event.preventDefault(); edit(cell, event.key); }
  });
  grid.addEventListener("click", (event) => { const cell = event.target.closest("td, tbody th"); if (cell && !event.target.closest("a, input")) goTo(cell); });
  grid.addEventListener("dblclick", (event) => { const cell = event.target.closest("td"); if (cell && !event.target.closest("input")) edit(cell); });
  // What a spreadsheet puts on the clipboard: cells parted by tabs, rows by line feeds, quotes doubled.
  const readClipboard = (text) => {
    const rows = [[]]; let cell = "", quoted = false;
    for (let at = 0; at < text.length; at += 1) {
      const sign = text[at];
      if (quoted) { if (sign === '"' && text[at + 1] === '"') { cell += '"'; at += 1; } else if (sign === '"') quoted = false; else cell += sign; }
      else if (sign === '"' && !cell) quoted = true;
      else if (sign === "\t") { rows[rows.length - 1].push(cell); cell = ""; }
      else if (sign === "\n") { rows[rows.length - 1].push(cell); cell = ""; rows.push([]); }
      else if (sign !== "\r") cell += sign;
    }
    rows[rows.length - 1].push(cell);
    return rows.filter((row) => row.some((one) => one.trim()));
  };
  grid.addEventListener("paste", async (event) => {
    const start = event.target.closest("td, tbody th");
    if (!start || event.target.matches("input")) return;
    event.preventDefault();
    const names = [...grid.tHead.rows[0].cells].map((cell) => cell.dataset.column);
    const cells = [], added = [], laid = [];
    readClipboard(event.clipboardData.getData("text/plain")).forEach((row, down) => {
      const line = rowsOf()[rowOf(start) + down], there = line && line.dataset.name;
      const typed = {};
      row.forEach((text, right) => {
        const column = names[start.cellIndex + right], cell = there && line.cells[start.cellIndex + right];
        if (!column) return;
        if (!there) { if (text.trim()) typed[column] = text.trim(); }
        else if (cell.dataset.kind !== "fixed" && cell.textContent !== text.trim() && text.trim()) cells.push({ name: there, column, was: cell.textContent, now: text.trim() });
      });
      if (!there && Object.keys(typed).length) { added.push(typed); laid.push(line); }
    });
    if (!cells.length && !added.length) { says.textContent = "Nothing of that differs from what is here."; return; }
    document.body.dataset.waiting = "yes";
    try {
      const told = await send(cells, added, false);
      tell(told, laid);
      if (told.done.length) location.reload();
    } catch (fault) { says.textContent = "Not saved: " + fault.message; }
    delete document.body.dataset.waiting;
  });
  goToFirst: { const first = cellAt(0, 0); if (first) { first.tabIndex = 0; current = first; } }
}
