// Tells the exact value of the line nearest to the pointer, or step by step with the arrow keys. The charts themselves
// are drawn by the server.
"use strict";

let values = null;

async function load(charts) {
  if (values === null) {
    values = fetch(charts.dataset.values, { credentials: "same-origin" }).then((answer) => (answer.ok ? answer.json() : null)).catch(() => null);
  }
  return values;
}

function nearest(found, ids, bucket, wanted) {
  let best = null;
  for (const id of ids) {
    const value = found.lines[id]?.[bucket];
    if (value !== null && value !== undefined && (best === null || Math.abs(value - wanted) < Math.abs(best.value - wanted))) best = { id, value };
  }
  return best;
}

function read(figure, charts) {
  const plot = figure.querySelector(".plot");
  if (!plot) return;
  const told = figure.querySelector(".told");
  const pointer = plot.querySelector(".pointer");
  const curves = [...plot.querySelectorAll(".curve")];
  const names = new Map(curves.map((curve) => [curve.dataset.id, curve.dataset.name]));
  const height = Number(figure.dataset.height);
  const low = Number(figure.dataset.low);
  const high = Number(figure.dataset.high);
  let bucket = null;
  let chosen = null;

  function show(found, place, best) {
    curves.forEach((curve) => curve.classList.toggle("near", best !== null && curve.dataset.id === best.id));
    const x = ((place + 0.5) / found.times.length) * 100 + "%";
    pointer.setAttribute("x1", x);
    pointer.setAttribute("x2", x);
    pointer.setAttribute("visibility", "visible");
    told.textContent = found.times[place] + "  " + (best ? names.get(best.id) + "  " + best.value.toFixed(1) + " " + figure.dataset.unit : "nothing read");
  }

  function hide() {
    curves.forEach((curve) => curve.classList.remove("near"));
    pointer.setAttribute("visibility", "hidden");
    told.textContent = "";
  }

  plot.addEventListener("pointermove", async (event) => {
    const found = await load(charts);
    if (!found) return;
    const box = plot.getBoundingClientRect();
    const place = Math.min(Math.max(Math.floor(((event.clientX - box.left) / box.width) * found.times.length), 0), found.times.length - 1);
    const wanted = high - ((event.clientY - box.top) / height) * (high - low);
    const best = nearest(found, names.keys(), place, wanted);
    bucket = place;
    if (best) chosen = best.id;
    show(found, place, best);
  });
  plot.addEventListener("pointerleave", hide);
  plot.addEventListener("blur", hide);

  plot.setAttribute("tabindex", "0");
  plot.dataset.reading = "";
  plot.addEventListener("keydown", async (event) => {
    if (!["ArrowLeft", "ArrowRight", "ArrowUp", "ArrowDown"].includes(event.key)) return;
    event.preventDefault();
    const found = await load(charts);
    if (!found) return;
    const ids = [...names.keys()];
    const along = { ArrowLeft: -1, ArrowRight: 1 }[event.key] ?? 0;
    const across = { ArrowUp: -1, ArrowDown: 1 }[event.key] ?? 0;
    bucket = Math.min(Math.max((bucket ?? found.times.length) + along, 0), found.times.length - 1);
    chosen = ids[(Math.max(ids.indexOf(chosen), 0) + across + ids.length) % ids.length];
    const value = found.lines[chosen]?.[bucket];
    show(found, bucket, value === null || value === undefined ? null : { id: chosen, value });
  });
}

function start() {
  values = null;
  document.querySelectorAll("[data-values]").forEach((charts) => charts.querySelectorAll(".chart").forEach((figure) => read(figure, charts)));
}

document.addEventListener("replaced", start);
start();
