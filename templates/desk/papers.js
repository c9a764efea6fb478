// A paper is sent as it is; its name and records go with the address.
const paper = document.querySelector("form.paper");
if (paper) {
  const file = paper.querySelector("input[type=file]"), name = paper.elements.name, said = document.getElementById("paper-says");
  let own = "";
  file.addEventListener("change", () => {
    if (file.files.length && (!name.value || name.value === own)) { own = "letters/" + file.files[0].name; name.value = own; }
  });
  paper.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (!file.files.length) { said.textContent = "Choose a file first."; file.focus(); return; }
    const told = new URLSearchParams({ name: name.value, table: paper.elements.table.value, records: paper.elements.records.value });
    document.body.dataset.waiting = "yes";
    said.textContent = "Taking it in …";
    try {
      const answer = await fetch("/papers?" + told, { method: "POST", headers: { "content-type": "application/octet-stream" }, body: file.files[0] });
      if (answer.headers.get("content-type") !== "application/json") said.textContent = "Not taken in: the file is too large, or the desk is closed.";
      else {
        const { faults, done, change } = await answer.json();
        if (faults.length) said.textContent = faults.join(" ");
        else { location.href = "/papers?" + new URLSearchParams({ saved: done.slice(0, 3).join(", ") + (done.length > 3 ? " and " + (done.length - 3) + " more" : ""), ...(change ? { change } : {}) }); return; }
      }
    } catch { said.textContent = "Not taken in: the desk is closed."; }
    delete document.body.dataset.waiting;
  });
}
