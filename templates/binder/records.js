// What the page knows: rows of the registers, the lineage, and the lots that each record reaches.
// Text of the records enters the page as text only.
const data = JSON.parse(document.getElementById("data").textContent);
// A tree may be called `constructor`: what is looked up by a record's name holds nothing but what was told.
const bare = (told) => Object.assign(Object.create(null), told);
for (const name of ["findings", "lots", "left", "trees"]) data[name] = bare(data[name]);
data.supposed.trees = bare(data.supposed.trees);
const byId = (id) => document.getElementById(id);
const element = (name, text, ...kids) => {
  const made = document.createElement(name);
  if (text) made.textContent = text;
  made.append(...kids);
  return made;
};
const addressOf = (place) => "#" + place.split("/").map(encodeURIComponent).join("/");
const linkTo = (place, text) => {
  const made = element("a", text);
  made.href = addressOf(place);
  return made;
};
const shape = (name) => {
  const drawing = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  drawing.setAttribute("class", "mark");
  drawing.setAttribute("aria-hidden", "true");
  drawing.setAttribute("viewBox", "0 0 10 10");
  const use = document.createElementNS("http://www.w3.org/2000/svg", "use");
  use.setAttribute("href", "#m-" + name);
  drawing.append(use);
  return drawing;
};
const nounOf = (table, count = 1) => (data.nouns[table] || [table, table])[count === 1 ? 0 : 1];
const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);
// Whole milligrams as grams, with no more decimals than there are.
const grams = (mg) => {
  const whole = Math.floor(mg / 1000), rest = String(mg % 1000).padStart(3, "0").replace(/0+$/, "");
  return String(whole).replace(/\B(?=(\d{3})+$)/g, "\u202f") + (rest ? "." + rest : "") + "\u00a0g";
};

// The rows of all registers, by what leads to each.
const rows = new Map();
const registers = new Map();
for (const register of document.querySelectorAll(".register")) {
  const table = register.dataset.table, listed = [];
  for (const row of register.querySelector("tbody").rows) {
    // A row that is linked to bears its address; any other's follows from its first cell.
    const id = row.cells[0].textContent.trim(), named = "keyed" in register.dataset ? table + "/" + id : "";
    const place = rows.has(named) ? "" : named;
    const record = { table, id, lower: id.toLowerCase(), place, row, words: "" };
    listed.push(record);
    if (place) rows.set(place, record);
  }
  registers.set(table, { register, listed });
}
const wordsOf = (record) => {
  if (!record.words) record.words = (record.row.textContent + "\n" + nounOf(record.table)).toLowerCase();
  return record.words;
};

// The lineage: records of all seasons by number, and what each comes from and leads to.
const nodes = [], numbers = new Map();
for (const [table, season, ids] of data.nodes) {
  for (const id of ids) {
    if (!season) numbers.set(table + "/" + id, nodes.length);
    nodes.push({ table, id, season });
  }
}
const back = nodes.map(() => []), onward = nodes.map(() => []);
for (let at = 0, from = 0; at < data.links.length; at += 2) {
  from += data.links[at];
  onward[from].push(data.links[at + 1]);
  back[data.links[at + 1]].push(from);
}
const walk = (start, ways, goes = () => true) => {
  const seen = new Set([start]), reached = [];
  let layer = [start];
  while (layer.length) {
    const next = [];
    for (const at of layer) for (const to of ways[at]) {
      if (!seen.has(to) && goes(nodes[to])) { seen.add(to); reached.push(to); next.push(to); }
    }
    layer = next;
  }
  return reached;
};
// From a record along its seed to the lots: what is sown of them is another year's line.
const SEED = new Set(["trees", "bagging", "harvests", "batches", "lots", "screening", "tests", "cleaning", "plantings"]);
const lotsKnown = new Map();
const lotsOf = (place) => {
  if (!lotsKnown.has(place)) {
    const [table] = place.split("/"), at = numbers.get(place);
    let lots = [];
    if (table === "lots") lots = [place.slice(5)];
    else if (table === "movements") lots = at === undefined ? [] : back[at].filter((to) => nodes[to].table === "lots").map((to) => nodes[to].id);
    else if (at !== undefined) lots = walk(at, onward, (node) => SEED.has(node.table) && !(node.table === "plantings" && table !== "plantings")).filter((to) => nodes[to].table === "lots").map((to) => nodes[to].id);
    lotsKnown.set(place, lots.filter((lot) => lot in data.lots));
  }
  return lotsKnown.get(place);
};
const buyersOf = new Map(Object.keys(data.lots).map((lot) => [lot, new Set()]));
for (const [lot, , , party] of Object.values(data.left)) if (party && buyersOf.has(lot)) buyersOf.get(lot).add(party);
