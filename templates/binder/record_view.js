// An opened record: what it is worth and what stands against it first, then its fields, its line, its papers.
const MOST = 60;
const groupsOf = (reached) => {
  const groups = new Map();
  for (const at of reached) {
    const node = nodes[at], key = node.table + "\u0001" + node.season;
    if (!groups.has(key)) groups.set(key, []);
    groups.get(key).push(node);
  }
  return groups.values();
};
const moreButton = (count, show) => {
  const more = element("button", count + " more"), item = element("li", "", more);
  more.addEventListener("click", () => { item.remove(); show(); });
  return item;
};
const listNodes = (reached) => {
  const box = element("div");
  for (const group of groupsOf(reached)) {
    const { table, season } = group[0];
    box.append(element("h4", group.length + " " + nounOf(table, group.length) + (season ? ", season " + season : "")));
    const list = element("ul");
    list.className = "plain";
    const show = (items) => {
      for (const { id } of items) {
        const place = table + "/" + id;
        const lot = !season && table === "lots" ? data.lots[id] : undefined;
        const item = element("li", "", ...(lot ? [shape(lot[0]), " "] : []), !season && rows.has(place) ? linkTo(place, id) : element("span", id));
        if (lot) item.append(", " + lot[0]);
        list.append(item);
      }
    };
    show(group.slice(0, MOST));
    if (group.length > MOST) list.append(moreButton(group.length - MOST, () => show(group.slice(MOST))));
    box.append(list);
  }
  if (!box.firstChild) box.append(element("p", "Nothing is recorded on this side."));
  return box;
};
const sayGrams = ([traced, unproven, rejected, unaccounted]) => {
  const told = [[traced, "traced"], [unproven, "unproven"], [rejected, "rejected"], [unaccounted, "unaccounted"]].filter(([mg]) => mg);
  return told.map(([mg, word]) => grams(mg) + " " + word).join(", ") || "no seed";
};
const lotItem = (lot, own) => {
  const [standing, variety, weights] = data.lots[lot];
  const item = element("li", "", shape(standing), " ");
  item.append(own ? "Lot " + lot : linkTo("lots/" + lot, "Lot " + lot), ", " + (variety || "variety not recorded") + ": ", element("b", standing), "; " + sayGrams(weights));
  return item;
};
const tellStanding = (place) => {
  const [table] = place.split("/"), box = element("div"), id = place.slice(table.length + 1);
  box.className = "told standing";
  const lots = lotsOf(place);
  if (table === "trees") {
    const verdict = data.trees[id] || "negative";
    box.append(element("p", "", "Screening: ", element("b", verdict)));
  }
  if (lots.length) {
    if (table !== "lots") box.append(element("p", lots.length === 1 ? "Reaches one lot:" : "Reaches " + lots.length + " lots:"));
    const list = element("ul");
    list.className = "verdict";
    for (const lot of lots.slice(0, MOST)) list.append(lotItem(lot, table === "lots"));
    if (lots.length > MOST) list.append(moreButton(lots.length - MOST, () => { for (const lot of lots.slice(MOST)) list.append(lotItem(lot)); }));
    box.append(list);
  } else box.append(element("p", "It reaches no lot of this season."));
  return box;
};
const titleOf = (number) => {
  const card = byId("gap/" + number);
  return [card.querySelector("h3").textContent.trim(), card.dataset.weight];
};
const tellFindings = (place) => {
  const table = place.slice(0, place.indexOf("/"));
  const own = data.findings[place] || [];
  const reaching = table === "lots" && data.lots[place.slice(5)] ? data.lots[place.slice(5)][3].filter((number) => !own.includes(number)) : [];
  const box = element("div");
  box.className = "told";
  if (!own.length && !reaching.length) box.append(element("p", table === "lots" ? "No finding stands at it or reaches it." : "No finding stands at this record."));
  for (const [words, listed] of [["Findings at this record", own], ["Findings that reach it", reaching]]) {
    if (!listed.length) continue;
    const list = element("ul");
    const show = (items) => { for (const number of items) { const [title, weight] = titleOf(number); list.append(element("li", "", linkTo("gap/" + number, title), ", " + weight)); } };
    show(listed.slice(0, MOST));
    if (listed.length > MOST) list.append(moreButton(listed.length - MOST, () => show(listed.slice(MOST))));
    box.append(element("p", words + ":"), list);
  }
  return box;
};
const papersOf = new Map();
for (const paper of document.querySelectorAll(".paper")) {
  for (const link of paper.querySelectorAll("a")) {
    const place = decodeURIComponent(link.getAttribute("href").slice(1));
    if (!papersOf.has(place)) papersOf.set(place, []);
    papersOf.get(place).push(paper);
  }
}
const tellPapers = (place) => {
  const box = element("div", "", element("h3", "Evidence"));
  const papers = papersOf.get(place) || [];
  if (!papers.length) box.append(element("p", "It names no file."));
  for (const paper of papers) {
    const copy = element("article", "", element("p", "", linkTo(paper.id, paper.querySelector("h4").textContent)));
    const shown = paper.querySelector("pre, img");
    if (shown) copy.append(shown.cloneNode(true));
    box.append(copy);
  }
  return box;
};
const showRecord = (place) => {
  const { table, id, row } = rows.get(place);
  const lot = table === "lots" ? data.lots[id] : undefined;
  byId("record-title").textContent = capital(nounOf(table)) + " " + id + (lot ? ": " + lot[0] : "");
  const facts = element("dl");
  const heads = registers.get(table).register.querySelectorAll("thead th");
  [...row.cells].forEach((cell, at) => {
    const words = cell.textContent.trim();
    if (words && at) facts.append(element("dt", heads[at].textContent), element("dd", words));
  });
  const at = numbers.get(place);
  const line = element("div", "",
    element("div", "", element("h3", "Back, nearest first"), listNodes(at === undefined ? [] : walk(at, back))),
    element("div", "", element("h3", "Forward, nearest first"), listNodes(at === undefined ? [] : walk(at, onward))));
  line.className = "line";
  byId("record-body").replaceChildren(
    tellStanding(place), tellFindings(place),
    ...(table === "trees" && byId("map/" + id) ? [element("p", "", linkTo("map/" + id, "Show it in the orchard, and suppose it positive"))] : []),
    ...(lot ? [element("p", "", linkTo("registers/movements", "Its movements stand in the register"), "; its line as a drawing and what screening leaves open stand under ", linkTo("lots", "Lots"), ".")] : []),
    element("h3", "As it was recorded"), facts, markForm("record/" + place, nounOf(table) + " " + id), line, tellPapers(place));
};
