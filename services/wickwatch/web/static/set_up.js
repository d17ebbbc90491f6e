// Works out what a reservoir holds while its measures are typed, by the server's own code. A button does it without this.
"use strict";

const WAIT_MS = 250;

function keepChecked(form) {
  let waiting = 0;
  let asked = null;

  async function check(withMeasures) {
    asked?.abort();
    asked = new AbortController();
    const sent = new FormData(form);
    sent.set("do", "check");
    try {
      const answer = await fetch(form.dataset.check, { method: "POST", body: new URLSearchParams(sent), credentials: "same-origin", signal: asked.signal });
      if (!answer.ok) return;
      const made = new DOMParser().parseFromString(await answer.text(), "text/html");
      for (const id of withMeasures ? ["measures", "volume"] : ["volume"]) {
        const fresh = made.getElementById(id);
        if (fresh) document.getElementById(id).replaceWith(document.adoptNode(fresh));
      }
      hideButtons();
      if (withMeasures) document.getElementById("f-shape")?.focus();
    } catch (error) {
      // The next key tries again, and the button is there.
    }
  }

  function hideButtons() {
    form.querySelectorAll(".js-less").forEach((each) => { each.hidden = true; });
  }

  form.addEventListener("input", (event) => {
    clearTimeout(waiting);
    const shape = event.target.name === "shape";
    waiting = setTimeout(() => check(shape), shape ? 0 : WAIT_MS);
  });
  hideButtons();
}

document.querySelectorAll("form[data-check]").forEach(keepChecked);
