// Find: what begins with the words first, what merely holds them after. A code's text says what it is of.
const query = byId("query");
const FINGERPRINT = /(?:[0-9a-f]{4} ?){4}[0-9a-f]{4}/i;
// Whether a fingerprint is that of the packet of these very records.
const tellPrint = (digits) => {
  const short = digits.toLowerCase().replace(/ /g, "").slice(0, 20);
  const paper = Object.keys(data.prints).find((one) => data.prints[one].startsWith(short));
  return paper ? "Its fingerprint is that of this binder’s own packet (" + paper + ")."
    : "Its fingerprint is not that of this binder’s packet: it was made from other records, as of another day, for somebody else, by another version or with other choices.";
};
const readCode = (text) => {
  const card = /^Seed lot card: lot ([A-Za-z0-9._/-]{1,40})/.exec(text);
  if (card) {
    const print = /Packet ((?:[0-9a-f]{4} ){4}[0-9a-f]{4})/.exec(text), known = rows.has("lots/" + card[1]);
    return { says: "The card of lot " + card[1] + ". " + (known ? "" : "This binder has no such lot. ") + (print ? tellPrint(print[1]) : "Its fingerprint wasn’t read yet."), place: known ? "lots/" + card[1] : "lots", label: known ? "Lot " + card[1] : "Lots" };
  }
  const packet = /^certgen packet /.test(text) ? FINGERPRINT.exec(text.slice(15)) : null;
  const bare = /^(?:[0-9a-f]{20}|[0-9a-f]{64}|(?:[0-9a-f]{4} ){4}[0-9a-f]{4})$/i.test(text) && !rows.has(text) ? [text] : null;
  const print = packet || bare;
  return print ? { says: "The code of a packet. " + tellPrint(print[0]), place: "verdict", label: "Verdict" } : null;
};
const search = () => {
  const typed = query.value.trim(), asked = typed.toLowerCase(), hits = byId("hits");
  hits.replaceChildren();
  byId("found").textContent = "";
  if (!asked) return;
  const code = readCode(typed);
  if (code) {
    byId("found").textContent = code.says;
    hits.append(element("li", "", linkTo(code.place, code.label)));
    return;
  }
  const found = [[], [], [], []];
  for (const record of rows.values()) {
    const id = record.lower;
    const rank = id === asked ? 0 : id.startsWith(asked) ? 1 : id.includes(asked) ? 2 : wordsOf(record).includes(asked) ? 3 : 4;
    if (rank < 4) found[rank].push(record);
  }
  const all = found.flat();
  byId("found").textContent = all.length + (all.length === 1 ? " record" : " records") + (all.length > MOST ? ", the first " + MOST + " shown" : "");
  for (const { table, id, place } of all.slice(0, MOST)) hits.append(element("li", "", linkTo(place, nounOf(table) + " " + id)));
};
query.addEventListener("input", search);
// The words of all records are taken while nothing else is asked, a few at a time.
const waiting = rows.values();
const takeWords = (rest) => {
  for (let next = waiting.next(); !next.done; next = waiting.next()) {
    wordsOf(next.value);
    if (rest.timeRemaining() < 2) { requestIdleCallback(takeWords); return; }
  }
};
if ("requestIdleCallback" in window) requestIdleCallback(takeWords);
// A field of one line drops line breaks: a code's lines are kept apart by a bar.
query.addEventListener("paste", (event) => {
  const text = event.clipboardData ? event.clipboardData.getData("text/plain") : "";
  if (!/[\r\n]/.test(text.trim())) return;
  event.preventDefault();
  query.value = text.trim().replace(/\s*[\r\n]+\s*/g, " | ");
  search();
});
query.addEventListener("keydown", (event) => {
  if (event.key !== "Enter") return;
  event.preventDefault();
  // A scanner types a card's code line by line, with Enter after each.
  if (/^(Seed lot card:|certgen packet )/.test(query.value) && !/(Card|SHA-256) [0-9a-f ]{24}/.test(query.value)) {
    query.value += " | ";
    search();
    return;
  }
  const first = byId("hits").querySelector("a");
  if (first) first.click();
});
