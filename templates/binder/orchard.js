// The orchard: a tree chosen on the map shows what became of its seed; supposed positive, what would fall.
const treeLinks = [...document.querySelectorAll(".map a")];
const treeOf = (link) => link.id.slice(4);
const treeKnown = new Map(treeLinks.map((link) => [treeOf(link), link]));
// One stop for the Tab key; arrows go from tree to tree.
const stop = (link) => {
  for (const one of treeLinks) one.setAttribute("tabindex", one === link ? "0" : "-1");
};
if (treeLinks.length) stop(treeLinks[0]);
const placeOf = (link) => {
  return link.getAttribute("transform").match(/[0-9]+/g).map(Number);
};
const beside = (link, key) => {
  const at = treeLinks.indexOf(link), [x, y] = placeOf(link);
  if (key === "ArrowRight") return treeLinks[at + 1];
  if (key === "ArrowLeft") return treeLinks[at - 1];
  const down = key === "ArrowDown", same = treeLinks.filter((one) => one.ownerSVGElement === link.ownerSVGElement && (down ? placeOf(one)[1] > y : placeOf(one)[1] < y));
  const near = (one) => Math.abs(placeOf(one)[1] - y) * 1000 + Math.abs(placeOf(one)[0] - x);
  return same.sort((one, other) => near(one) - near(other))[0] || treeLinks[at + (down ? 1 : -1)];
};
for (const link of treeLinks) {
  link.addEventListener("keydown", (event) => {
    if (!["ArrowRight", "ArrowLeft", "ArrowDown", "ArrowUp"].includes(event.key)) return;
    event.preventDefault();
    const next = beside(link, event.key);
    if (next) { stop(next); next.focus(); next.scrollIntoView({ block: "nearest", inline: "nearest" }); }
  });
}
for (const tree of treeKnown.keys()) {
  const option = element("option");
  option.value = tree;
  byId("tree-names").append(option);
}
byId("tree").addEventListener("change", () => {
  const tree = byId("tree").value.trim();
  if (treeKnown.has(tree)) location.hash = addressOf("map/" + tree);
  else byId("chosen").textContent = tree ? "No tree of this season is called " + tree + "." : "";
});

const STEPS = ["bagging", "harvests", "batches", "lots"];
const lineOf = (tree) => {
  const at = numbers.get("trees/" + tree);
  const reached = at === undefined ? [] : walk(at, onward, (node) => STEPS.includes(node.table));
  return new Map(STEPS.map((table) => [table, reached.map((to) => nodes[to]).filter((node) => node.table === table)]));
};
const leavingOf = (lots) => Object.entries(data.left).filter(([, [lot]]) => lots.has(lot));
const sayCount = (count, table) => count + " " + nounOf(table, count);
// All of a kind, with what lies on the tree's line lit; of many only those.
const litGroup = (title, all, lit, itemOf) => {
  const box = element("div", "", element("h4", title)), list = element("ul");
  list.className = "plain";
  for (const name of all.length > 40 ? all.filter((one) => lit.has(one)) : all) {
    const item = itemOf(name);
    if (lit.has(name)) { item.className = "lit"; item.prepend("● "); } else item.className = "quiet";
    list.append(item);
  }
  if (!list.firstChild) list.append(element("li", "none"));
  box.append(list);
  return box;
};
const ownNodes = (table) => nodes.filter((node) => node.table === table && !node.season).map((node) => node.id);
const showTree = (tree) => {
  const link = treeKnown.get(tree), line = lineOf(tree), box = byId("tree-line");
  const lots = new Set(line.get("lots").map((node) => node.id));
  for (const one of treeLinks) {
    one.classList.toggle("chosen", one === link);
    one.removeAttribute("aria-current");
    one.classList.toggle("kin", one !== link && lots.size > 0 && lotsOf("trees/" + treeOf(one)).some((lot) => lots.has(lot)));
  }
  link.setAttribute("aria-current", "true");
  stop(link);
  byId("tree").value = tree;
  const left = leavingOf(lots), buyers = new Set(left.map(([, one]) => one[3] || "nobody named"));
  const told = [...STEPS.map((table) => sayCount(line.get(table).length, table)), buyers.size + (buyers.size === 1 ? " buyer" : " buyers")];
  const title = element("h3", link.getAttribute("aria-label"));
  title.tabIndex = -1;
  byId("chosen").replaceChildren(title,
    element("p", told.slice(0, -1).join(", ") + " and " + told.at(-1) + ". Dashed boxes are trees that gave to the same lots."));
  const suppose = element("button", "Suppose it positive"), outcome = element("div");
  outcome.setAttribute("role", "status");
  suppose.setAttribute("aria-expanded", "false");
  suppose.addEventListener("click", () => {
    const open = suppose.getAttribute("aria-expanded") !== "true";
    suppose.setAttribute("aria-expanded", String(open));
    outcome.replaceChildren(...(open ? supposePositive(tree) : []));
  });
  box.replaceChildren(element("p", "", linkTo("trees/" + tree, "Open its record"), " "), suppose, outcome);
  box.append(litGroup("Bags", line.get("bagging").map((node) => node.id), new Set(line.get("bagging").map((node) => node.id)), (id) => element("li", "", rows.has("bagging/" + id) ? linkTo("bagging/" + id, id) : id)));
  for (const table of ["harvests", "batches", "lots"]) {
    const lit = new Set(line.get(table).filter((node) => !node.season).map((node) => node.id));
    box.append(litGroup(capital(nounOf(table, 2)), ownNodes(table), lit, (id) => {
      const item = element("li", "", rows.has(table + "/" + id) ? linkTo(table + "/" + id, id) : element("span", id));
      if (table === "lots" && data.lots[id]) item.append(", " + data.lots[id][0]);
      return item;
    }));
  }
  box.append(litGroup("Buyers", sorted([...parties, ...buyers]), buyers, (name) => element("li", name)));
};
const tableOf = (caption, heads, cells) => {
  const head = element("tr", "", ...heads.map((title) => { const th = element("th", title); th.scope = "col"; return th; }));
  const body = cells.map((row) => element("tr", "", ...row.map((cell, at) => {
    const made = element(at ? "td" : "th");
    if (!at) made.scope = "row";
    made.append(cell);
    return made;
  })));
  const made = element("table", "", element("caption", caption), element("thead", "", head), element("tbody", "", ...body));
  const box = element("div", "", made);
  box.className = "scroll";
  box.tabIndex = 0;
  box.setAttribute("role", "group");
  box.setAttribute("aria-label", caption);
  return box;
};
// What `certgen trace --suppose tree:NUMBER=positive` works out, laid in when the binder was made.
const supposePositive = (tree) => {
  if (!data.supposed.told) return [element("p", "Records that could not be read keep this from being told; certgen trace with --suppose asks the records themselves.")];
  const at = data.supposed.trees[tree];
  if (at === undefined) return [element("p", "No lot’s standing would change if tree " + tree + " were positive.")];
  const all = at.map((one) => data.supposed.outcomes[one]);
  const lots = all.filter((one) => one.length > 2), deliveries = all.flatMap((one) => one[1]);
  const fallen = (lot, weights) => data.lots[lot][2][0] - weights[0];
  const sum = lots.reduce((total, [lot, , , weights]) => total + fallen(lot, weights), 0);
  const parts = [element("p", "Supposing tree " + tree + " positive: " + grams(sum) + " would no longer be traced, in " + sayCount(lots.length, "lots") + ". The records themselves are not changed.")];
  if (lots.length) parts.push(tableOf("What each lot would be worth", ["Lot", "Is now", "Would be", "Traced grams that fall"], lots.map(([lot, , standing, weights]) => [
    linkTo("lots/" + lot, lot), data.lots[lot][0] + ": " + sayGrams(data.lots[lot][2]), standing + ": " + sayGrams(weights), grams(fallen(lot, weights))])));
  if (deliveries.length) parts.push(tableOf("Whom to call: seed that has left and would be in doubt, or more than it is", ["To", "Seed", "Paper", "Day"], deliveries.map((movement) => {
    const [lot, kind, mass, party, paper, day] = data.left[movement];
    return [party || "nobody named", mass + " of lot " + lot + ", " + kind, rows.has("movements/" + movement) ? linkTo("movements/" + movement, paper || movement) : element("span", paper || movement), day || "no day"];
  })));
  else parts.push(element("p", "No seed that has left would become more doubtful: nobody is to be called."));
  return parts;
};
