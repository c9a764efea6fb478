// Addresses: each part, record, finding, file and tree has its own, so that Back, Forward and links work.
const parts = [...document.querySelectorAll("main > section")];
const partLinks = [...document.querySelectorAll("nav a")];
const showPart = (id) => {
  for (const part of parts) part.classList.toggle("shown", part.id === id);
  for (const link of partLinks) {
    if (link.hash === "#" + id) link.setAttribute("aria-current", "page"); else link.removeAttribute("aria-current");
  }
};
const reveal = (item, box, filter) => {
  // What was looked for is shown, whatever the filters hid.
  if (item.classList.contains("off")) {
    for (const field of box.querySelectorAll("select, input")) field.value = "";
    filter();
  }
};
// Shows what an address names, and gives the heading that is to be read first.
const showPlace = (place) => {
  const part = parts.find((one) => one.id === place);
  if (part && place !== "record") {
    showPart(place);
    return part.querySelector("h2");
  }
  if (/^gap\/[0-9]+$/.test(place) && byId(place)) {
    showPart("findings");
    reveal(byId(place), gapBox, filterGaps);
    dress(byId(place));
    return byId(place).querySelector("h3");
  }
  if (place.startsWith("registers/") && registers.has(place.slice(10))) {
    showPart("registers");
    chooseTable(place.slice(10));
    return byId("t-registers");
  }
  if (place.startsWith("map/") && treeKnown.has(place.slice(4))) {
    showPart("orchard");
    showTree(place.slice(4));
    // Beside the map there is room for what it tells; below it, the telling is what one wants to see.
    return window.matchMedia("(min-width: 75rem)").matches ? treeKnown.get(place.slice(4)) : byId("chosen").querySelector("h3");
  }
  const paper = papers.find((one) => one.id === place);
  if (paper) {
    showPart("evidence");
    reveal(paper, byId("evidence"), filterPapers);
    return paper.querySelector("h4");
  }
  if (rows.has(place)) {
    showPart("record");
    showRecord(place);
    return byId("record-title");
  }
  return null;
};
const placeNow = () => { try { return decodeURIComponent(location.hash.slice(1)); } catch (fault) { return ""; } };
// Where each address was left, so that Back comes to the same spot.
const left = new Map();
let clicked = false;
if ("scrollRestoration" in history) history.scrollRestoration = "manual";
document.addEventListener("click", (event) => {
  const link = event.target.closest ? event.target.closest("a[href^='#']") : null;
  if (!link) return;
  clicked = true;
  const to = link.getAttribute("href");
  // The same address once more changes nothing that a browser tells of.
  if (to === location.hash) { event.preventDefault(); go(true); }
});
document.addEventListener("scroll", () => { left.set(location.hash, window.scrollY); }, { passive: true });
// A browser that looks for the address in the page itself may take the focus away once more, some frames later.
const holdFocus = (head, until) => {
  if (document.activeElement !== document.body && document.activeElement !== head) return;
  head.focus({ preventScroll: true });
  if (performance.now() < until) requestAnimationFrame(() => holdFocus(head, until));
};
const go = (focus) => {
  const place = placeNow();
  if (place === "main") { byId("main").focus(); clicked = false; return; }
  let head = showPlace(place || "verdict");
  if (!head) {
    head = showPlace("verdict");
    byId("found").textContent = "Nothing in this binder is called " + place + ".";
  }
  document.title = (head.getAttribute("aria-label") || head.textContent).trim() + " · " + document.querySelector("h1").textContent;
  if (focus) {
    head.focus({ preventScroll: true });
    // The field to search in stays whole above a part's own heading, unless it has found much.
    const top = head.tagName === "H2" && !byId("hits").firstChild ? document.querySelector("[role=search]") : head;
    top.scrollIntoView({ block: head.closest(".map") ? "nearest" : "start" });
    holdFocus(head, performance.now() + 400);
  }
};
window.addEventListener("hashchange", () => {
  const there = clicked ? undefined : left.get(location.hash);
  go(true);
  if (there !== undefined) window.scrollTo(0, there);
  clicked = false;
});

// Nothing hides under the bar, however many lines it takes.
const makeRoom = () => {
  const bar = document.querySelector("nav"), sticky = getComputedStyle(bar).position === "sticky";
  document.documentElement.style.scrollPaddingTop = (sticky ? bar.getBoundingClientRect().height : 0) + 12 + "px";
};
window.addEventListener("resize", makeRoom);

makeRoom();
tableChoice.value = registers.has("bagging") ? "bagging" : tableChoice.value;
if (tableChoice.value) chooseTable(tableChoice.value);
filterGaps();
filterLots();
filterPapers();
tellMarks();
drawSpot();
go(location.hash !== "");
