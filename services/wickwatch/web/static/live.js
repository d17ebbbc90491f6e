// Keeps the part of a page that changes up to date, and says so when it can't. Reading works without this.
//
// The server says that something changed; what changed is then fetched as any page is. Where no stream can be had, the
// page asks by itself.
"use strict";

const SHOWN_AS_STALE_MS = 45000;
const LOOK_MS = 5000;
const READING_MS = 30000;

function keepLive(page) {
  const every = Number(page.dataset.every) * 1000;
  const stale = document.getElementById("stale");
  let tag = null;
  let heard = Date.now(); // from the stream, or by asking
  let waiting = null; // since when something is to be fetched
  let asked = Date.now();
  let streaming = false;
  let fetching = false;
  let touched = 0;
  for (const kind of ["keydown", "pointermove"]) page.addEventListener(kind, () => { touched = Date.now(); }, { passive: true });

  function sayStale() {
    const now = Date.now();
    const age = now - Math.min(heard, waiting ?? now);
    const hidden = age < Math.max(SHOWN_AS_STALE_MS, streaming ? 0 : 3 * every);
    const text = stale.dataset.said.replace("{minutes}", Math.max(Math.round(age / 60000), 1));
    if (!hidden && stale.textContent !== text) stale.textContent = text;
    stale.hidden = hidden;
  }

  // What a person has in hand stays as it is: keys in a field, a chart that is being read. Forms beside the part that
  // changes are not in its way, and a chart that was left is not being read.
  function busy() {
    const active = document.activeElement;
    if (!active?.closest("#live, #rooms, #wall")) return false;
    return active.matches("input:not([type=checkbox]), select, textarea") || (active.matches("[data-reading]") && Date.now() - touched < READING_MS);
  }

  // How a link or a box that was replaced is found again.
  function same(element) {
    const name = element?.matches("a[href]") ? "href" : element?.matches("input[type=checkbox]") ? "value" : "";
    return name && `${element.localName}[${name}="${CSS.escape(element.getAttribute(name))}"]`;
  }

  function replace(html) {
    const focused = same(document.activeElement);
    const made = document.createElement("template");
    made.innerHTML = html;
    for (const part of [...made.content.children]) {
      const old = document.getElementById(part.id);
      if (!old || old.outerHTML === part.outerHTML) continue;
      const open = [...old.querySelectorAll("details")].map((each) => each.open);
      part.querySelectorAll("details").forEach((each, number) => { each.open = open[number] ?? false; });
      for (const box of old.querySelectorAll("input[type=checkbox]:checked")) {
        const found = part.querySelector(same(box));
        if (found) found.checked = true;
      }
      old.replaceWith(part);
    }
    if (focused && document.activeElement === document.body) page.querySelector(focused)?.focus({ preventScroll: true });
    page.dispatchEvent(new CustomEvent("replaced", { bubbles: true }));
  }

  async function refresh() {
    if (fetching || document.hidden || busy()) return;
    fetching = true;
    const since = waiting;
    try {
      const headers = tag ? { "If-None-Match": tag } : {};
      const answer = await fetch(page.dataset.live, { headers, cache: "no-store", credentials: "same-origin", signal: AbortSignal.timeout(Math.max(every * 2, 20000)) });
      if (answer.redirected || answer.status === 401) { location.reload(); return; }
      if (answer.ok && !busy()) { replace(await answer.text()); tag = answer.headers.get("ETag"); }
      if (answer.ok || answer.status === 304) {
        asked = Date.now();
        if (!streaming) heard = asked;
        if (waiting === since) waiting = null;
      }
    } catch (error) {
      // Told by `sayStale` once it lasts.
    }
    fetching = false;
    sayStale();
  }

  function listen() {
    if (!page.dataset.events || !("EventSource" in window)) return;
    const source = new EventSource(page.dataset.events);
    const alive = () => { streaming = true; heard = Date.now(); };
    source.addEventListener("open", alive);
    source.addEventListener("beat", alive);
    source.addEventListener("changed", () => {
      alive();
      waiting ??= Date.now();
      setTimeout(refresh, Math.random() * 500); // not all viewers at once
    });
    source.addEventListener("error", () => { streaming = source.readyState === EventSource.OPEN; });
  }

  setInterval(() => {
    if (waiting !== null || (Date.now() - asked >= every && (!streaming || page.dataset.also !== undefined))) refresh();
    sayStale();
  }, Math.min(LOOK_MS, every));
  document.addEventListener("visibilitychange", () => { if (!document.hidden) refresh(); });
  listen();
}

document.querySelectorAll("[data-live]").forEach(keepLive);
