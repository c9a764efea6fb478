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
    if (touched || document.body.dataset.pending || document.querySelector(".told.broken")) noticed.classList.remove("off");
    else location.reload();
  } catch {
    // The desk is closed; the page stays as it is.
  }
};
setInterval(lookAgain, 2000);
document.addEventListener("visibilitychange", lookAgain);
// What stands in a page from the start isn't read out; what comes into it later is: what was saved is said so.
const shown = document.getElementById("saved"), heard = document.getElementById("heard");
if (shown && heard) setTimeout(() => { heard.textContent = shown.querySelector("p").textContent; }, 150);
