// What is being made: its stage and seconds as they are told, and the page anew once one of them is over.
const going = document.querySelectorAll(".prints [data-going]");
if (going.length) {
  const look = async () => {
    try {
      const answer = await fetch("/prints", { headers: { accept: "application/json" } });
      const told = new Map((await answer.json()).map((one) => [String(one.number), one]));
      for (const line of going) {
        const now = told.get(line.dataset.going), stage = line.querySelector(".stage");
        if (!now || !now.going) {
          location.replace(location.pathname + "?ended=" + line.dataset.going + "#" + line.id);
          return;
        }
        if (stage.textContent !== now.stage) stage.textContent = now.stage;
        line.querySelector(".seconds").textContent = now.seconds + " s";
      }
    } catch {
      // The desk is closed, and what it made is gone with it.
      for (const line of going) line.querySelector(".stage").textContent = "The desk is closed.";
      return;
    }
    setTimeout(look, 1000);
  };
  setTimeout(look, 500);
}
