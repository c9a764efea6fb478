// The visit: its own particulars, what was marked, the spot check, and the file that an import takes.
const FIELDS = ["number", "kind", "from", "to", "inspector", "certifier", "present", "exit"];
for (const name of FIELDS) {
  const field = byId("visit-" + name);
  field.value = visit[name] || "";
  field.addEventListener("input", () => { visit[name] = field.value; changed(); });
}
const placeOfMark = (key) => {
  if (key.startsWith("gap/")) {
    const link = byId(key).querySelector("dd a");
    return link && link.hash ? decodeURIComponent(link.hash.slice(1)) : "";
  }
  return key.slice(key.indexOf("/") + 1);
};
const nameOfMark = (key) => {
  if (key.startsWith("gap/")) return "finding " + titleOf(key.slice(4))[0].replace(/\s+/g, " ") + " (" + byId(key).querySelector("dd").textContent.split(",")[0] + ")";
  const [table, ...id] = placeOfMark(key).split("/");
  return nounOf(table) + " " + id.join("/");
};
const isSpot = (key) => key.startsWith("spot/");
const isKnown = (key) => isSpot(key) ? data.spot.items.includes(key.slice(5)) : key.startsWith("gap/") ? Boolean(byId(key)) : rows.has(placeOfMark(key));
const listMarks = () => Object.keys(marks).filter((key) => isKnown(key));

// YAML: every text in quotes, on one line, without what a record may not hold.
const plain = (text) => String(text).replace(/[\u0000-\u001f\u007f-\u009f\u2028\u2029\ufeff\ufffe\uffff]+/g, " ").replace(/[\ud800-\udbff](?![\udc00-\udfff])|(?<![\ud800-\udbff])[\udc00-\udfff]/g, "\ufffd").trim();
const quoted = (text) => JSON.stringify(plain(text));
const isNumber = (text) => /^[A-Za-z0-9._/-]{1,40}$/.test(text);
const isDay = (text) => /^[0-9]{4}-[0-9]{2}-[0-9]{2}$/.test(text);
const entry = (fields) => fields.filter(([, value]) => value).map(([name, value], at) => (at ? "        " : "      - ") + name + ": " + value);
const aboutOf = (places) => {
  const named = places.filter((place) => data.about.includes(place.slice(0, place.indexOf("/")))).map((place) => place.slice(place.indexOf("/") + 1)).filter(isNumber);
  return named.length ? "[" + named.map(quoted).join(", ") + "]" : "";
};
const writeSpot = () => {
  const drawn = data.spot.items.filter((bag) => marks["spot/" + bag]);
  if (!drawn.length) return [];
  const exercise = (bags, outcome, figures) => bags.length ? entry([["kind", "tags"], ["about", aboutOf(bags.map((bag) => "bagging/" + bag))], ["draw", quoted(data.spot.draw)], ["outcome", outcome], ["figures", plain(figures) && quoted(figures)]]) : [];
  const marked = (outcome) => drawn.filter((bag) => marks["spot/" + bag].state === outcome);
  const notes = (bags) => bags.filter((bag) => marks["spot/" + bag] && plain(marks["spot/" + bag].note)).map((bag) => bag + ": " + marks["spot/" + bag].note).join("; ");
  const rest = data.spot.items.filter((bag) => !marks["spot/" + bag] || !marks["spot/" + bag].state);
  // Each bag that differs stands by itself: what an exercise is about is in doubt together.
  return [...exercise(marked("agrees"), "agrees", notes(marked("agrees"))), ...marked("differs").flatMap((bag) => exercise([bag], "differs", marks["spot/" + bag].note)), ...exercise(rest, "not done", notes(rest))];
};
const writeVisit = () => {
  const own = listMarks().filter((key) => !isSpot(key));
  const opened = own.filter((key) => marks[key].state === "open"), others = own.filter((key) => marks[key].state !== "open");
  const line = (name, value) => value ? ["    " + name + ": " + value] : [];
  const list = (name, items) => items.length ? ["    " + name + ":", ...items.map((item) => "      - " + quoted(item))] : [];
  const told = (key) => nameOfMark(key) + (marks[key].state ? ": " + marks[key].state : "") + (plain(marks[key].note) ? "; " + marks[key].note : "");
  const findings = opened.flatMap((key, at) => entry([
    ["finding", quoted(visit.number.slice(0, 30) + "-" + (at + 1))], ["kind", marks[key].kind], ["about", aboutOf([placeOfMark(key)])],
    ["found", quoted(nameOfMark(key) + (plain(marks[key].note) ? ": " + marks[key].note : ""))], ["deadline", isDay(marks[key].by) && marks[key].by]]));
  const spot = writeSpot();
  return [
    "# An inspection as it was marked in the binder of packet " + Object.values(data.prints)[0].slice(0, 20) + ", records as of " + data.visit.on + ".",
    "# certgen import SEASON FILE takes it in. The certifier's own forms and letters come first.",
    "visits:",
    "  - visit: " + quoted(visit.number), ...line("kind", visit.kind), ...line("from", visit.from), ...line("to", isDay(visit.to) && visit.to),
    ...line("inspector", plain(visit.inspector) && quoted(visit.inspector)), ...line("certifier", plain(visit.certifier) && quoted(visit.certifier)),
    ...list("present", visit.present.split(",").map(plain).filter(Boolean)), ...list("walked", others.map(told)),
    ...(spot.length ? ["    exercises:", ...spot] : []), ...(findings.length ? ["    findings:", ...findings] : []),
    ...line("exit", plain(visit.exit) && quoted(visit.exit)),
  ].join("\n") + "\n";
};
const faultOf = () => {
  if (!isNumber(visit.number)) return "The number of the visit may hold letters, digits, '.', '_', '-' and '/', at most 40 of them.";
  if (!isDay(visit.from)) return "Say the day of the visit.";
  if (visit.to && visit.to < visit.from) return "The last day lies before the first.";
  if (!plain(visit.inspector)) return "Say who inspected.";
  return "";
};
byId("save").addEventListener("click", () => {
  const fault = faultOf();
  byId("visit-fault").textContent = fault;
  if (fault) return;
  const text = writeVisit(), anchor = element("a");
  byId("file-text").textContent = text;
  byId("file").classList.remove("off");
  anchor.href = URL.createObjectURL(new Blob([text], { type: "application/yaml" }));
  anchor.download = "visit-" + visit.number.replace(/\//g, "-") + ".yaml";
  anchor.click();
  setTimeout(() => URL.revokeObjectURL(anchor.href), 60000);
  unsaved = false;
  keep();
  tellMarks();
});
byId("clear").addEventListener("click", () => {
  if (!confirm("All marks and notes of this page are lost if they aren't saved. Clear them?")) return;
  marks = {};
  for (const box of document.querySelectorAll("fieldset")) box.remove();
  for (const card of cards) if (seer) seer.observe(card); else dress(card);
  changed();
  drawSpot();
});
const tellMarks = () => {
  const kept = listMarks(), counts = STATES.map((state) => kept.filter((key) => marks[key].state === state).length + " " + state);
  byId("mark-count").textContent = kept.length ? kept.length + (kept.length === 1 ? " mark: " : " marks: ") + counts.join(", ") + (unsaved ? "; not saved as a file yet." : "; saved as a file.") : "Nothing is marked.";
  byId("mark-list").replaceChildren(...kept.filter((key) => !isSpot(key)).map((key) => {
    const item = element("li", "", linkTo(key.startsWith("gap/") ? key : placeOfMark(key), nameOfMark(key)), ": " + markLine(key));
    if (marks[key].note) item.append("; " + marks[key].note);
    return item;
  }));
  byId("kept").textContent = keeps ? "This browser keeps the marks for when the file is opened again." : "This browser keeps nothing for a file: save before you close the page.";
};
watchers.push(tellMarks);

const drawSpot = () => {
  const body = byId("spot-rows");
  if (!body) return;
  const size = Math.min(Math.max(Number(byId("spot-size").value) || 1, 1), data.spot.items.length);
  body.replaceChildren(...data.spot.items.slice(0, size).map((bag) => {
    const key = "spot/" + bag, mark = marks[key] || {}, outcome = element("select"), note = element("input");
    outcome.setAttribute("aria-label", "Outcome of bag " + bag);
    for (const one of ["", "agrees", "differs"]) { const option = element("option", one || "not done"); option.value = one; outcome.append(option); }
    outcome.value = mark.state || "";
    outcome.addEventListener("change", () => setMark(key, { state: outcome.value }));
    note.value = mark.note || "";
    note.maxLength = 500;
    note.setAttribute("aria-label", "Note on bag " + bag);
    note.addEventListener("input", () => setMark(key, { note: note.value }));
    const head = element("th", "", linkTo("bagging/" + bag, bag));
    head.scope = "row";
    return element("tr", "", head, element("td", "", outcome), element("td", "", note));
  }));
  tellSpot();
};
const tellSpot = () => {
  if (!byId("spot-count")) return;
  const seen = data.spot.items.filter((bag) => marks["spot/" + bag] && marks["spot/" + bag].state);
  const differ = seen.filter((bag) => marks["spot/" + bag].state === "differs");
  byId("spot-count").textContent = seen.length + " of " + data.spot.items.length + " seen, " + differ.length + (differ.length === 1 ? " differs." : " differ.");
};
watchers.push(tellSpot);
if (byId("spot-size")) byId("spot-size").addEventListener("input", drawSpot);
