"use strict";
// The binder: search, lines both ways, filters and a spot-check list. Text of the records enters the page as text only.
const data = JSON.parse(document.getElementById("data").textContent);
const byId = (id) => document.getElementById(id);
const element = (name, text, ...kids) => {
  const made = document.createElement(name);
  if (text) made.textContent = text;
  made.append(...kids);
  return made;
};
const records = [];
const numbers = new Map();
for (const [table, content] of Object.entries(data.tables)) {
  for (const row of content.rows) {
    numbers.set(table + "/" + row[0], records.length);
    records.push({ table, id: row[0], cells: row.slice(1), words: (row.join("\u0001") + "\u0001" + content.noun).toLowerCase() });
  }
}
const into = new Map(), out = new Map();
const push = (map, key, value) => { if (!map.has(key)) map.set(key, []); map.get(key).push(value); };
for (const [from, to] of data.links) { push(out, from, to); push(into, to, from); }
const walk = (start, map) => {
  const seen = new Set([start]);
  const reached = [];
  let layer = [start];
  while (layer.length) {
    const next = [];
    for (const at of layer) for (const to of map.get(at) || []) {
      if (!seen.has(to)) { seen.add(to); reached.push(to); next.push(to); }
    }
    layer = next;
  }
  return reached;
};

// Tabs, as a screen reader expects them: arrows move, Home and End jump.
const tabs = [...document.querySelectorAll("[role=tab]")];
const select = (tab, focus) => {
  for (const one of tabs) {
    const on = one === tab;
    one.setAttribute("aria-selected", String(on));
    one.tabIndex = on ? 0 : -1;
    byId(one.getAttribute("aria-controls")).hidden = !on;
  }
  if (focus) tab.focus();
};
tabs.forEach((tab, at) => {
  tab.addEventListener("click", () => select(tab));
  tab.addEventListener("keydown", (event) => {
    const steps = { ArrowRight: at + 1, ArrowLeft: at - 1, Home: 0, End: tabs.length - 1 };
    if (event.key in steps) {
      event.preventDefault();
      select(tabs[(steps[event.key] + tabs.length) % tabs.length], true);
    }
  });
});

const opener = (table, id, label) => {
  const button = element("button", label || id);
  button.className = "record";
  button.addEventListener("click", () => open(table, id));
  return button;
};
const MOST = 60;
const listed = (names) => {
  const groups = new Map();
  for (const at of names) {
    const [table, id, season] = data.nodes[at];
    const key = table + (season ? "\u0001" + season : "");
    push(groups, key, [table, id, season]);
  }
  const box = element("div");
  for (const [, group] of groups) {
    const [table, , season] = group[0];
    const noun = data.nouns[table][group.length === 1 ? 0 : 1];
    box.append(element("h3", group.length + " " + noun + (season ? ", season " + season : "")));
    const list = element("ul");
    list.className = "plain";
    const show = (items) => { for (const [, id] of items) list.append(element("li", "", season || !numbers.has(table + "/" + id) ? element("span", id) : opener(table, id))); };
    show(group.slice(0, MOST));
    if (group.length > MOST) {
      const more = element("button", (group.length - MOST) + " more");
      more.addEventListener("click", () => { more.parentElement.remove(); show(group.slice(MOST)); });
      list.append(element("li", "", more));
    }
    box.append(list);
  }
  if (!groups.size) box.append(element("p", "Nothing is recorded on this side."));
  return box;
};
const open = (table, id) => {
  select(tabs[0]);
  const record = records[numbers.get(table + "/" + id)];
  const box = byId("record");
  box.replaceChildren();
  box.append(element("h2", data.nouns[table][0] + " " + id));
  for (const number of data.gaps[table + "/" + id] || []) {
    const go = element("button", "gap " + number);
    go.className = "record";
    go.addEventListener("click", () => {
      select(tabs[2]);
      for (const name of ["by-weight", "by-lot", "by-words"]) byId(name).value = "";
      filter();
      byId("gap-" + number).focus();
      byId("gap-" + number).scrollIntoView();
    });
    const note = element("p", "A gap stands here: ", go);
    note.className = "gapnote";
    box.append(note);
  }
  const facts = element("dl");
  data.tables[table].columns.forEach((title, at) => {
    if (record.cells[at]) facts.append(element("dt", title), element("dd", record.cells[at]));
  });
  box.append(facts);
  const at = data.places[table + "/" + id];
  const lines = element("div");
  lines.className = "line";
  lines.append(
    element("div", "", element("h2", "Back, nearest first"), listed(at === undefined ? [] : walk(at, into))),
    element("div", "", element("h2", "Forward, nearest first"), listed(at === undefined ? [] : walk(at, out))),
  );
  box.append(lines);
  box.focus();
  box.scrollIntoView();
};
document.addEventListener("click", (event) => {
  const button = event.target.closest("button[data-table]");
  if (button) open(button.dataset.table, button.dataset.id);
});

// Find: what begins with the words first, what merely holds them after.
const query = byId("query");
query.addEventListener("input", () => {
  const asked = query.value.trim().toLowerCase();
  const hits = byId("hits");
  hits.replaceChildren();
  byId("found").textContent = "";
  byId("start").hidden = asked !== "";
  if (!asked) return;
  const rank = (record) => {
    const id = record.id.toLowerCase();
    return id === asked ? 0 : id.startsWith(asked) ? 1 : id.includes(asked) ? 2 : record.words.includes(asked) ? 3 : 4;
  };
  const found = records.map((record) => [rank(record), record]).filter(([place]) => place < 4).sort((a, b) => a[0] - b[0]);
  byId("found").textContent = found.length + (found.length === 1 ? " record" : " records") + (found.length > MOST ? ", the first " + MOST + " shown" : "");
  for (const [, record] of found.slice(0, MOST)) hits.append(element("li", "", opener(record.table, record.id, data.nouns[record.table][0] + " " + record.id)));
});
query.addEventListener("keydown", (event) => {
  const first = byId("hits").querySelector("button");
  if (event.key === "Enter" && first) first.click();
});

// Gaps: filters by weight, lot and words.
const filter = () => {
  const weight = byId("by-weight").value, lot = byId("by-lot").value, words = byId("by-words").value.trim().toLowerCase();
  let shown = 0;
  const all = document.querySelectorAll("article.gap");
  for (const gap of all) {
    const fits = (!weight || gap.dataset.weight === weight) && (!lot || gap.dataset.lots.split(", ").includes(lot)) && (!words || gap.textContent.toLowerCase().includes(words));
    gap.hidden = !fits;
    shown += fits;
  }
  byId("gap-count").textContent = shown + " of " + all.length + " gaps shown";
};
for (const name of ["by-weight", "by-lot", "by-words"]) byId(name).addEventListener("input", filter);
filter();

// Spot check: ticks and notes stay in this browser, under the name of these very records.
let kept = {};
try { kept = JSON.parse(localStorage.getItem(data.spot.key) || "{}"); } catch { kept = {}; }
const keep = () => { try { localStorage.setItem(data.spot.key, JSON.stringify(kept)); } catch { /* a browser may forbid it; the list still works until it is closed */ } };
const count = () => {
  const size = byId("spot-rows").children.length;
  const seen = byId("spot-rows").querySelectorAll("input[type=checkbox]:checked").length;
  byId("spot-count").textContent = seen + " of " + size + " seen";
};
const draw = () => {
  const size = Math.max(1, Math.min(data.spot.items.length, Number(byId("spot-size").value) || 1));
  const body = byId("spot-rows");
  body.replaceChildren();
  for (const id of data.spot.items.slice(0, size)) {
    const state = kept[id] || { seen: false, note: "" };
    const tick = element("input");
    tick.type = "checkbox";
    tick.checked = state.seen;
    tick.setAttribute("aria-label", "Seen: " + id);
    const note = element("input");
    note.value = state.note;
    note.setAttribute("aria-label", "Note on " + id);
    const store = () => { kept[id] = { seen: tick.checked, note: note.value }; keep(); count(); };
    tick.addEventListener("change", store);
    note.addEventListener("input", store);
    body.append(element("tr", "", element("td", "", tick), element("td", "", opener(data.spot.table, id)), element("td", "", note)));
  }
  count();
};
byId("spot-size").addEventListener("input", draw);
byId("spot-clear").addEventListener("click", () => { kept = {}; keep(); draw(); });
draw();
