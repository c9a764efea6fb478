// Filters of lots, findings, evidence and registers. Rows beyond a page of them wait until they are asked for.
const SHOWN = 200;
const fill = (select, names) => { for (const name of names) select.append(element("option", name)); };
const sorted = (names) => [...new Set(names)].filter(Boolean).sort((one, other) => one.localeCompare(other));
const varieties = sorted(Object.values(data.lots).map((lot) => lot[1]));
const parties = sorted([...buyersOf.values()].flatMap((names) => [...names]));
const within = (box, name) => { const field = box.querySelector("." + name); return field ? field.value : ""; };
const onChange = (box, then) => {
  for (const field of box.querySelectorAll("select, input")) field.addEventListener(field.tagName === "SELECT" ? "change" : "input", then);
};
const showWhere = (items, fits, count, noun) => {
  let shown = 0;
  for (const item of items) {
    const yes = fits(item);
    item.classList.toggle("off", !yes);
    shown += yes;
  }
  count.textContent = shown + " of " + items.length + " " + noun + " shown";
};
const textOf = new Map();
const holds = (item, words) => {
  if (!words) return true;
  if (!textOf.has(item)) textOf.set(item, item.textContent.toLowerCase());
  return textOf.get(item).includes(words);
};

const gapBox = byId("finding-filters");
const filterGaps = () => {
  const weight = within(gapBox, "weight"), lot = within(gapBox, "lot"), marked = within(gapBox, "marked"), words = within(gapBox, "words").trim().toLowerCase();
  showWhere(cards, (card) => {
    const mark = (marks[card.id] || {}).state || "none";
    return (!weight || card.dataset.weight === weight) && (!lot || card.dataset.lots.split("\n").includes(lot)) && (!marked || mark === marked) && holds(card, words);
  }, byId("gap-count"), "findings");
};
onChange(gapBox, filterGaps);

const lotBox = byId("lot-filters"), lotCards = [...document.querySelectorAll("article.lot")];
const filterLots = () => {
  const standing = within(lotBox, "standing"), variety = within(lotBox, "variety"), buyer = within(lotBox, "buyer"), words = within(lotBox, "words").trim().toLowerCase();
  showWhere(lotCards, (card) => (!standing || card.dataset.standing === standing) && (!variety || card.dataset.variety === variety)
    && (!buyer || card.dataset.buyers.split("\n").includes(buyer)) && holds(card, words), byId("lot-count"), "lots");
};
fill(lotBox.querySelector(".variety"), varieties);
fill(lotBox.querySelector(".buyer"), sorted(lotCards.flatMap((card) => card.dataset.buyers.split("\n"))));
onChange(lotBox, filterLots);

const papers = [...document.querySelectorAll(".paper")];
const filterPapers = () => {
  const words = byId("paper-words").value.trim().toLowerCase();
  showWhere(papers, (paper) => holds(paper, words), byId("paper-count"), "files");
};
byId("paper-words").addEventListener("input", filterPapers);

const rowBox = byId("register-choice"), tableChoice = byId("table");
for (const [table, { register }] of registers) {
  const option = element("option", capital(nounOf(table, 2)));
  option.value = table;
  tableChoice.append(option);
  register.classList.add("off");
}
fill(rowBox.querySelector(".variety"), varieties);
fill(rowBox.querySelector(".buyer"), parties);
let fitting = [], first = 0, visible = [];
// Only what is on the screen is laid out; paper gets every row, whatever the filters say.
const pageRows = () => {
  for (const record of visible) record.row.classList.add("off");
  visible = fitting.slice(first, first + SHOWN);
  for (const record of visible) {
    record.row.classList.remove("off");
    const head = record.row.cells[0];
    if (record.place && !head.firstElementChild) head.replaceChildren(linkTo(record.place, head.textContent.trim()));
  }
  const { listed } = registers.get(tableChoice.value);
  byId("row-count").textContent = (fitting.length ? first + 1 : 0) + "–" + (first + visible.length) + " of " + fitting.length + (fitting.length === listed.length ? "" : " that fit, of " + listed.length) + ".";
  byId("earlier").disabled = first === 0;
  byId("later").disabled = first + SHOWN >= fitting.length;
};
const filterRows = () => {
  if (!registers.has(tableChoice.value)) return;
  const standing = within(rowBox, "standing"), variety = within(rowBox, "variety"), buyer = within(rowBox, "buyer"), words = within(rowBox, "words").trim().toLowerCase();
  const bySeed = standing || variety || buyer;
  const fitLots = new Set(Object.keys(data.lots).filter((lot) => (!standing || data.lots[lot][0] === standing) && (!variety || data.lots[lot][1] === variety) && (!buyer || buyersOf.get(lot).has(buyer))));
  fitting = registers.get(tableChoice.value).listed.filter((record) => (!bySeed || lotsOf(record.place).some((lot) => fitLots.has(lot))) && (!words || wordsOf(record).includes(words)));
  first = 0;
  pageRows();
};
const chooseTable = (table) => {
  for (const record of visible) record.row.classList.add("off");
  visible = [];
  tableChoice.value = table;
  for (const [name, { register, listed }] of registers) {
    register.classList.toggle("off", name !== table);
    if (name === table) for (const record of listed) record.row.classList.add("off");
  }
  filterRows();
};
rowBox.addEventListener("change", (event) => { if (event.target === tableChoice) location.hash = addressOf("registers/" + tableChoice.value); else filterRows(); });
rowBox.querySelector(".words").addEventListener("input", filterRows);
byId("later").addEventListener("click", () => { first += SHOWN; pageRows(); });
byId("earlier").addEventListener("click", () => { first = Math.max(0, first - SHOWN); pageRows(); });
