// Whether the records changed meanwhile: a page that nobody types in shows them anew, another says so.
const noticed = document.getElementById("meanwhile");
let touched = false;
document.addEventListener("input", () => { touched = true; });
const lookAgain = async () => {
  if (document.visibilityState !== "visible" || document.body.dataset.waiting) return;
  try {
    const answer = await fetch("/version", { headers: { accept: "application/json" } });
    if (!answer.ok) return;
    const { version } = await answer.json();
    if (version === document.body.dataset.version) return;
    if (touched || document.querySelector(".told.broken")) noticed.classList.remove("off");
    else location.reload();
  } catch {
    // The desk is closed; the page stays as it is.
  }
};
setInterval(lookAgain, 2000);
document.addEventListener("visibilitychange", lookAgain);
// A page that comes with what was saved says it once more, for those who hear it: only what changes is read out.
const told = document.getElementById("saved");
if (told) { const words = [...told.childNodes]; told.replaceChildren(); setTimeout(() => told.replaceChildren(...words), 150); }
