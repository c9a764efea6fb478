document.documentElement.classList.add("js");
// A form: faults beside the field while it is typed in, one more row, one key to send.
for (const form of document.querySelectorAll("form.entry")) {
  const named = (name) => document.getElementById(name);
  const show = (meant) => {
    for (const hint of form.querySelectorAll(".hint")) {
      const name = hint.id.replace(/-hint$/, ""), said = meant[name];
      if (said && hint.dataset.own === undefined) hint.dataset.own = hint.textContent;
      if (said) hint.textContent = "Taken for " + said;
      else if (hint.dataset.own !== undefined) { hint.textContent = hint.dataset.own; delete hint.dataset.own; }
    }
  };
  const say = (faults) => {
    for (const note of form.querySelectorAll(".fault")) {
      const name = note.id.replace(/-fault$/, ""), said = faults[name] || "";
      if (note.textContent !== said) note.textContent = said;
      const field = named(name);
      if (field) { if (said) field.setAttribute("aria-invalid", "true"); else field.removeAttribute("aria-invalid"); }
    }
  };
  let waiting = 0, asked = 0;
  const tryOut = async () => {
    const turn = ++asked;
    try {
      const answer = await fetch(form.dataset.try, { method: "POST", body: new URLSearchParams(new FormData(form)) });
      // What was asked since is the newer truth.
      if (answer.ok && turn === asked) { const told = await answer.json(); say(told.faults); show(told.meant); }
    } catch {
      // The desk is closed: saving will say so.
    }
  };
  if (form.dataset.try) form.addEventListener("input", () => { clearTimeout(waiting); waiting = setTimeout(tryOut, 350); });
  form.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) { event.preventDefault(); form.requestSubmit(); }
    const again = form.querySelector("button[name=again]");
    if (event.key === "F8" && again) { event.preventDefault(); form.requestSubmit(again); }
  });
  form.addEventListener("submit", () => {
    document.body.dataset.waiting = "yes";
    // Not at once: what a button that was pressed says is sent with the form.
    setTimeout(() => { for (const button of form.querySelectorAll(".send button")) button.disabled = true; });
  });
  for (const button of form.querySelectorAll(".add-row")) {
    button.addEventListener("click", () => {
      const spare = button.parentElement.querySelector(".row.spare");
      if (spare) { spare.classList.remove("spare"); spare.querySelector("input, select").focus(); return; }
      const rows = [...button.parentElement.querySelectorAll(".row")], last = rows[rows.length - 1];
      const added = last.cloneNode(true), from = "." + (rows.length - 1) + ".", to = "." + rows.length + ".";
      for (const one of [added, ...added.querySelectorAll("*")]) {
        for (const attribute of ["id", "name", "for", "aria-describedby"]) {
          if (one.hasAttribute(attribute)) one.setAttribute(attribute, one.getAttribute(attribute).replaceAll(from, to));
        }
        if (one.matches("input:not([type=radio]):not([type=hidden]), textarea")) one.value = "";
        if (one.matches("input[type=radio]")) one.checked = one.value === "";
        if (one.matches(".fault")) one.textContent = "";
      }
      last.after(added);
      added.querySelector("input, select").focus();
    });
  }
  const first = form.querySelector("[aria-invalid]") || (form.dataset.first && (named(form.dataset.first) || form.elements[form.dataset.first]));
  const into = first && (first.matches && first.matches("fieldset") ? first.querySelector("input") : first);
  if (into && into.focus && !location.hash) into.focus();
}
for (const form of document.querySelectorAll("form.mend")) {
  form.addEventListener("submit", () => { document.body.dataset.waiting = "yes"; });
}
// The orchard: one stop for the Tab key, arrows go from tree to tree.
const mapTrees = [...document.querySelectorAll(".map a")];
const stopAt = (tree) => { for (const one of mapTrees) one.setAttribute("tabindex", one === tree ? "0" : "-1"); };
if (mapTrees.length) stopAt(mapTrees[0]);
for (const tree of mapTrees) {
  tree.addEventListener("keydown", (event) => {
    const where = (one) => one.getBoundingClientRect(), from = where(tree), same = (one) => Math.abs(where(one).top - from.top) < 4;
    const turn = { ArrowRight: [1, true], ArrowLeft: [-1, true], ArrowDown: [1, false], ArrowUp: [-1, false] }[event.key];
    if (!turn) return;
    event.preventDefault();
    const [step, sideways] = turn;
    const ahead = mapTrees.filter((one) => sideways ? same(one) && step * (where(one).left - from.left) > 0 : step * (where(one).top - from.top) > 4);
    const far = (one) => Math.abs(where(one).top - from.top) * (sideways ? 1 : 1000) + Math.abs(where(one).left - from.left);
    const next = ahead.sort((one, other) => far(one) - far(other))[0];
    if (next) { stopAt(next); next.focus(); }
  });
}
