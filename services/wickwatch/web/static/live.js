// Keeps the part of a page that changes up to date, and says so when it can't. Reading works without this.
"use strict";

const SHOWN_AS_STALE_MS = 45000;

function keepLive(page) {
  const every = Number(page.dataset.every) * 1000;
  const stale = document.getElementById("stale");
  let tag = null;
  let fetched = Date.now();

  function sayStale() {
    const age = Date.now() - fetched;
    stale.hidden = age < Math.max(SHOWN_AS_STALE_MS, 3 * every);
    const text = "This page is not live: what you see is " + Math.round(age / 60000) + " min old or more.";
    if (!stale.hidden && stale.textContent !== text) stale.textContent = text;
  }

  // What a person has in hand stays as it is: a list that is open, a pointer in a chart, keys in a field.
  function busy() {
    return document.activeElement?.matches("input, select, textarea, [data-reading]");
  }

  function replace(html) {
    const focused = document.activeElement?.getAttribute("href");
    const made = document.createElement("template");
    made.innerHTML = html;
    for (const part of [...made.content.children]) {
      const old = document.getElementById(part.id);
      const open = [...old.querySelectorAll("details")].map((each) => each.open);
      part.querySelectorAll("details").forEach((each, number) => { each.open = open[number] ?? false; });
      old.replaceWith(part);
    }
    if (focused && document.activeElement === document.body) page.querySelector('a[href="' + CSS.escape(focused) + '"]')?.focus({ preventScroll: true });
    page.dispatchEvent(new CustomEvent("replaced", { bubbles: true }));
  }

  async function refresh() {
    if (!document.hidden && !busy()) {
      try {
        const headers = tag ? { "If-None-Match": tag } : {};
        const answer = await fetch(page.dataset.live, { headers, cache: "no-store", credentials: "same-origin", signal: AbortSignal.timeout(every * 2) });
        if (answer.redirected || answer.status === 401) { location.reload(); return; }
        if (answer.ok) { replace(await answer.text()); tag = answer.headers.get("ETag"); }
        if (answer.ok || answer.status === 304) fetched = Date.now();
      } catch (error) {
        // Told below once it lasts.
      }
    }
    sayStale();
    setTimeout(refresh, every);
  }

  setTimeout(refresh, every);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) sayStale(); });
}

document.querySelectorAll("[data-live]").forEach(keepLive);
