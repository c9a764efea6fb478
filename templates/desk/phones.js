// The page of phones shows itself anew when a device came in, a code was used up, or one was sent away.
const letting = document.querySelector("[data-revision]");
if (letting) {
  setInterval(async () => {
    if (document.visibilityState !== "visible") return;
    try {
      const answer = await fetch("/phones/state", { headers: { accept: "application/json" } });
      if (answer.ok && String((await answer.json()).revision) !== letting.dataset.revision) location.reload();
    } catch {
      // The desk is closed; the page stays as it is.
    }
  }, 2000);
}
