// An inspector's marks: kept in the page, in the browser where it lets a file keep anything, and saved as a file.
const STATES = ["seen", "accepted", "open"];
const KINDS = ["paper", "label", "plan", "origin", "other seed", "quantity", "substance"];
let marks = {};
let visit = { number: data.visit.visit, kind: "yearly", from: "", to: "", inspector: "", certifier: data.visit.certifier, present: data.visit.present, exit: "" };
let unsaved = false, keeps = true;
try {
  const kept = JSON.parse(localStorage.getItem(data.spot.key) || "null");
  if (kept && kept.marks && kept.visit) {
    marks = kept.marks;
    visit = Object.assign(visit, kept.visit);
    unsaved = Boolean(kept.unsaved);
  }
} catch (fault) { keeps = false; }
const keep = () => {
  try { localStorage.setItem(data.spot.key, JSON.stringify({ marks, visit, unsaved })); } catch (fault) { keeps = false; }
};
const watchers = [];
const changed = () => {
  unsaved = true;
  keep();
  for (const watcher of watchers) watcher();
};
window.addEventListener("beforeunload", (event) => {
  if (unsaved && Object.keys(marks).length) { event.preventDefault(); event.returnValue = ""; }
});
const setMark = (key, change) => {
  const mark = Object.assign({ state: "", by: "", kind: "paper", note: "" }, marks[key], change);
  if (mark.state || mark.note) marks[key] = mark; else delete marks[key];
  changed();
};
let forms = 0;
// The boxes of one mark: seen, accepted or open, by when, what it puts in question, and a note.
const markForm = (key, subject) => {
  const box = element("fieldset", "", element("legend", "Inspector’s mark on " + subject));
  const name = "mark-" + ++forms, mark = marks[key] || {};
  const opened = element("span");
  for (const state of ["", ...STATES]) {
    const radio = element("input");
    radio.type = "radio";
    radio.name = name;
    radio.checked = (mark.state || "") === state;
    radio.addEventListener("change", () => { opened.className = state === "open" ? "" : "off"; setMark(key, { state }); });
    box.append(element("label", "", radio, " " + (state || "no mark")));
  }
  const by = element("input");
  by.type = "date";
  by.value = mark.by || "";
  by.addEventListener("change", () => setMark(key, { by: by.value }));
  const kind = element("select");
  for (const one of KINDS) kind.append(element("option", one));
  kind.value = mark.kind || "paper";
  kind.addEventListener("change", () => setMark(key, { kind: kind.value }));
  opened.className = mark.state === "open" ? "" : "off";
  opened.append(element("label", "By when ", by), element("label", "Puts in question ", kind));
  const note = element("textarea");
  note.rows = 2;
  note.maxLength = 2000;
  note.value = mark.note || "";
  note.addEventListener("input", () => setMark(key, { note: note.value }));
  const label = element("label", "Note", note);
  label.className = "wide";
  box.append(opened, label);
  return box;
};
const markLine = (key) => {
  const mark = marks[key];
  return (mark.state || "noted") + (mark.state === "open" && mark.by ? ", by " + mark.by : "");
};
// Each finding has its boxes; they are made when the finding is first looked at, for there may be thousands.
const cards = [...document.querySelectorAll("article.gap")];
const dress = (card) => {
  if (card.querySelector("fieldset")) return;
  const number = card.id.slice(4);
  card.append(markForm(card.id, "finding " + number));
};
const seer = "IntersectionObserver" in window
  ? new IntersectionObserver((seen) => { for (const one of seen) if (one.isIntersecting) { dress(one.target); seer.unobserve(one.target); } }, { rootMargin: "600px" })
  : null;
for (const card of cards) if (seer) seer.observe(card); else dress(card);
