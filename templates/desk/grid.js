// A table as a grid: arrows between cells, a cell changed where it stands, rows pasted from a spreadsheet.
const grid = document.querySelector("table[role=grid]");
if (grid) {
  const says = document.getElementById("grid-says"), clash = document.getElementById("conflict");
  const bar = document.getElementById("grid-waiting");
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
  const labelOf = (column) => { const head = [...grid.tHead.rows[0].cells].find((cell) => cell.dataset.column === column); return head ? head.querySelector("a").firstChild.textContent.trim() : column; };
  const words = (one) => (one.column ? labelOf(one.column) + ": " : "") + one.says;
  // What was typed or pasted and isn't saved: changed cells with what stood there, and new rows.
  const waitingCells = () => [...grid.querySelectorAll("[data-was]")];
  const waitingRows = () => rowsOf().filter((line) => line.classList.contains("fresh") && Object.keys(rowTyped(line)).length);
  const showWaiting = () => {
    const count = waitingCells().length + waitingRows().length;
    bar.classList.toggle("off", !count);
    if (count) document.body.dataset.pending = "yes"; else delete document.body.dataset.pending;
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
  const saidOf = (done) => done.slice(0, 3).join(", ") + (done.length > 3 ? " and " + (done.length - 3) + " more" : "");
  const offerUndo = (change) => {
    const offer = document.getElementById("grid-undo") || document.createElement("form"), back = document.createElement("input"), button = document.createElement("button");
    Object.assign(offer, { id: "grid-undo", method: "post", action: "/history/" + change + "/undo" });
    Object.assign(back, { type: "hidden", name: "back", value: location.pathname });
    button.textContent = "Undo";
    offer.replaceChildren(back, button);
    says.after(offer);
  };
  const tell = (told, laid = []) => {
    clash.classList.add("off");
    for (const one of [...told.faults, ...told.hints]) { const cell = cellOf(one, laid); if (cell) mark(cell, one.says); }
    if (told.faults.length) says.textContent = told.faults.slice(0, 3).map(words).join(" ") + (told.faults.length > 3 ? " And " + (told.faults.length - 3) + " more." : "") + " Nothing was saved; mend the marked cells, or Esc puts back what stood in one.";
    else if (told.conflicts.length) {
      clash.textContent = told.conflicts.map((one) => one.record + ", " + labelOf(one.column) + ": it showed “" + one.was + "”, the file says “" + one.there + "” now, and you typed “" + one.wanted + "”.").join(" ") + " Nothing was saved; saved again, what you typed takes its place, and Esc at the cell keeps what the file says.";
      clash.classList.remove("off");
      // Whoever saves again has seen both.
      for (const one of told.conflicts) {
        const cell = waitingCells().find((there) => there.dataset.column === one.column && one.record.endsWith(" " + there.parentElement.dataset.name));
        if (cell) { cell.dataset.was = one.there; mark(cell, "the file says “" + one.there + "”"); }
      }
    } else if (told.done.length) {
      says.textContent = "Saved: " + saidOf(told.done) + ".";
      if (told.change) offerUndo(told.change);
      document.body.dataset.version = told.version;
    }
  };
  const settle = (cell, text) => { delete cell.dataset.was; cell.textContent = text; mark(cell, ""); };
  const keep = async (cell, text) => {
    const line = cell.parentElement;
    if (line.classList.contains("fresh")) { cell.dataset.typed = text; cell.textContent = text; return keepFresh(line, cell); }
    const was = cell.dataset.was !== undefined ? cell.dataset.was : cell.textContent;
    if (text === was) { settle(cell, was); return showWaiting(); }
    cell.dataset.was = was;
    cell.textContent = text;
    showWaiting();
    document.body.dataset.waiting = "yes";
    try {
      const told = await send([{ name: line.dataset.name, column: cell.dataset.column, was, now: text }], [], false);
      mark(cell, "");
      if (!told.faults.length && !told.conflicts.length) { settle(cell, text); cell.classList.add("kept"); }
      tell(told);
    } catch (fault) { says.textContent = "Not saved: " + fault.message; }
    delete document.body.dataset.waiting;
    showWaiting();
  };
  // The new row is sent once its number and all that it needs are there; until then each cell is tried.
  const rowTyped = (line) => Object.fromEntries([...line.cells].filter((cell) => cell.dataset.typed).map((cell) => [cell.dataset.column, cell.dataset.typed]));
  const keepFresh = async (line, cell) => {
    const key = line.cells[[...line.cells].findIndex((one) => one.matches("th"))];
    if (!key.dataset.typed && grid.dataset.next && waitingRows().length < 2) { key.dataset.typed = grid.dataset.next; key.textContent = grid.dataset.next; }
    for (const one of line.cells) mark(one, "");
    showWaiting();
    if (!Object.keys(rowTyped(line)).length) return cell;
    const told = await send([], [rowTyped(line)], true);
    const missing = told.faults.filter((one) => / is missing/.test(one.says)), wrong = told.faults.filter((one) => !/ is missing/.test(one.says));
    for (const one of [...wrong, ...told.hints]) { const at = cellOf({ ...one, row: 0 }, [line]); if (at) mark(at, one.says); }
    says.textContent = wrong.length ? wrong.map(words).join(" ") : missing.length ? missing.map((one) => one.says).join(" ") : "Press Ctrl + Enter to save this row.";
    return cell;
  };
  // All that waits, saved together or not at all.
  const saveAll = async () => {
    const laid = waitingRows(), rows = laid.map(rowTyped);
    const cells = waitingCells().map((cell) => ({ name: cell.parentElement.dataset.name, column: cell.dataset.column, was: cell.dataset.was, now: cell.textContent }));
    if (!cells.length && !rows.length) return;
    document.body.dataset.waiting = "yes";
    says.textContent = "Saving …";
    try {
      const told = await send(cells, rows, false);
      for (const one of grid.querySelectorAll(".faulty")) mark(one, "");
      tell(told, laid);
      if (told.done.length) {
        const where = new URL(location.href);
        where.searchParams.set("saved", saidOf(told.done));
        if (told.change) where.searchParams.set("change", told.change);
        where.hash = "";
        location.href = where;
        return;
      }
      if (!told.faults.length && !told.conflicts.length) says.textContent = "All of that is there already.";
      goTo(grid.querySelector(".faulty"));
    } catch (fault) { says.textContent = "Not saved: " + fault.message; }
    delete document.body.dataset.waiting;
    showWaiting();
  };
  const dropAll = () => {
    for (const cell of waitingCells()) settle(cell, cell.dataset.was);
    rowsOf().filter((line) => line.classList.contains("fresh")).forEach((line, at) => {
      if (at) line.remove();
      else for (const cell of line.cells) { delete cell.dataset.typed; mark(cell, ""); cell.textContent = cell.matches("th") ? "new" : ""; }
    });
    says.textContent = "Left out; nothing was saved.";
    showWaiting();
    goTo(cellAt(0, 0));
  };
  bar.querySelector(".main").addEventListener("click", saveAll);
  bar.querySelector("button:not(.main)").addEventListener("click", dropAll);
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
        const told = fresh ? await send([], [{ ...rowTyped(line), [cell.dataset.column]: input.value }], true) : await send([{ name: line.dataset.name, column: cell.dataset.column, was: cell.dataset.was !== undefined ? cell.dataset.was : before, now: input.value }], [], true);
        const mine = [...told.faults, ...told.hints].find((one) => one.column === cell.dataset.column && !/ is missing/.test(one.says));
        if (!over) { mark(cell, mine && mine.says); says.textContent = mine ? mine.says : ""; }
      }, 300);
    });
    input.addEventListener("keydown", (event) => {
      const at = rowOf(cell), column = cell.cellIndex;
      if (event.key === "Escape") { event.stopPropagation(); if (cell.dataset.was === undefined) mark(cell, ""); end(undefined); }
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
      saveAll();
    } else if (event.key === "Escape" && cell.dataset.was !== undefined) {
      event.preventDefault();
      settle(cell, cell.dataset.was);
      says.textContent = "As it was.";
      showWaiting();
    } else if (event.key === "Enter" || event.key === "F2") { event.preventDefault(); edit(cell); }
    else if ((event.key === "Delete" || event.key === "Backspace") && cell.dataset.kind !== "fixed") { event.preventDefault(); keep(cell, ""); }
    else if (event.key.length === 1 && !event.ctrlKey && !event.metaKey && !event.altKey && cell.dataset.kind !== "fixed") { event.preventDefault(); edit(cell, event.key); }
  });
  grid.addEventListener("click", (event) => { const cell = event.target.closest("td, tbody th"); if (!cell || event.target.closest("a, input")) return; if (cell === current && cell.dataset.kind !== "fixed" && document.activeElement === cell) edit(cell); else goTo(cell); });
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
    if (!start || event.target.matches("input") || !rowsOf().some((line) => line.classList.contains("fresh"))) return;
    event.preventDefault();
    const model = rowsOf().find((line) => line.classList.contains("fresh")), at = rowOf(start);
    let changed = 0;
    readClipboard(event.clipboardData.getData("text/plain")).forEach((row, down) => {
      let line = rowsOf()[at + down];
      if (!line) { line = model.cloneNode(true); for (const cell of line.cells) { delete cell.dataset.typed; mark(cell, ""); cell.textContent = ""; } grid.tBodies[0].append(line); }
      const fresh = line.classList.contains("fresh");
      row.forEach((text, right) => {
        const typed = text.trim(), cell = line.cells[start.cellIndex + right];
        if (!cell || !typed || cell.dataset.kind === "fixed" || typed === textOf(cell)) return;
        changed += 1;
        mark(cell, "");
        if (fresh) cell.dataset.typed = typed;
        else if (cell.dataset.was === undefined) cell.dataset.was = cell.textContent;
        cell.textContent = typed;
      });
    });
    if (!changed) { says.textContent = "Nothing of that differs from what is here."; return; }
    showWaiting();
    await saveAll();
  });
  // A row's link is opened by Enter at its number: the Tab key needn't stop at each.
  for (const link of grid.querySelectorAll("tbody a")) link.tabIndex = -1;
  goToFirst: { const first = cellAt(0, 0); if (first) { first.tabIndex = 0; current = first; } }
}
