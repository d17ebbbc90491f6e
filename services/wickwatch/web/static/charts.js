// Draws the server's charts again with Chart.js, so that they can be read to the digit under the pointer and by keyboard,
// zoomed, and one line looked at alone. Without this script the server's own drawing stays.

import { colours, datasets, ticks, underlay } from "./chart-drawing.js";

const kept = new Map(); // "window": the time that was zoomed to; "": the line that is alone
const drawn = [];

// A finger's width: flags stand so far from one another, in so many rows.
const FLAG_PX = 24;
const FLAG_ROWS = 4;

function tell(flag, text) {
  flag.title = flag.title ? `${flag.title}\n${text}` : text;
  flag.lastChild.textContent = flag.title;
}

class Figure {
  constructor(element, data, charts) {
    this.element = element;
    this.data = data;
    this.figure = data.figures[element.id];
    this.charts = charts;
    this.told = element.querySelector(".told");
    this.place = null;
    this.chosen = null;
    const field = element.querySelector(".field");
    this.area = document.createElement("div");
    this.area.className = "canvas";
    this.area.style.height = `${Number(element.dataset.height) + 24}px`;
    this.area.tabIndex = 0;
    this.area.dataset.reading = "";
    this.area.setAttribute("role", "application");
    this.area.setAttribute("aria-label", `${field.querySelector(".plot").getAttribute("aria-label")}. ${data.texts.keys}`);
    this.canvas = document.createElement("canvas");
    this.marks = document.createElement("div");
    this.marks.className = "marks";
    this.rubber = document.createElement("div");
    this.rubber.className = "rubber";
    this.pointer = document.createElement("div");
    this.pointer.className = "cross";
    this.area.append(this.canvas, this.rubber, this.pointer, this.marks);
    field.replaceChildren(this.area);
    element.classList.add("drawn");
    this.draw();
    this.listen();
  }

  // The line looked at alone, "" where that is none of this chart's.
  get alone() {
    const id = kept.get("") ?? "";
    return this.figure.lines.some((one) => one.id === id) ? id : "";
  }

  get window() { return kept.get("window") ?? [this.data.start, this.data.until]; }

  draw() {
    const { data, figure } = this;
    const tone = colours(this.element);
    const [min, max] = this.window;
    this.chart?.destroy();
    const font = { size: 12, family: getComputedStyle(this.element).fontFamily };
    this.chart = new Chart(this.canvas, {
      type: "line",
      data: { datasets: datasets(data, figure, tone, this.alone) },
      plugins: [underlay(data, figure, tone)],
      options: {
        animation: false, parsing: false, normalized: true, responsive: true, maintainAspectRatio: false, events: [],
        layout: { padding: { right: 1 } },
        plugins: { legend: { display: false }, tooltip: { enabled: false } },
        scales: {
          x: {
            type: "linear", min, max, grid: { display: false }, border: { color: tone.rule },
            afterBuildTicks: (axis) => { axis.ticks = ticks(data, min, max, this.area.clientWidth); },
            ticks: { color: tone.soft, font, maxRotation: 0, autoSkip: false, callback: (value, place, all) => all[place].label },
          },
          y: {
            min: figure.low, max: figure.high, grid: { display: false }, border: { display: false },
            afterBuildTicks: (axis) => { axis.ticks = figure.down.map(([value, label]) => ({ value, label })); },
            ticks: { color: tone.soft, font, autoSkip: false, callback: (value, place, all) => all[place].label },
            afterFit: (axis) => { axis.width = 44; },
          },
        },
        onResize: () => requestAnimationFrame(() => { this.putMarks(); this.putPointer(); }),
      },
    });
    this.putMarks();
  }

  putMarks() {
    const { x } = this.chart.scales;
    const { top, bottom } = this.chart.chartArea;
    const [min, max] = this.window;
    const { alone } = this;
    const shown = this.figure.marks.filter((mark) => mark.at >= min && mark.at <= max && (alone === "" || mark.subject === "" || mark.subject === alone));
    const rows = [];
    const made = [];
    for (const mark of shown) {
      const left = x.getPixelForValue(mark.at);
      const free = rows.findIndex((taken) => left - taken.left >= FLAG_PX);
      const place = free === -1 ? rows.length : free;
      if (place === FLAG_ROWS) { // told by the lowest one there: what lies on another can't be pressed
        tell(rows[FLAG_ROWS - 1].flag, mark.text);
        continue;
      }
      const flag = document.createElement(mark.href ? "a" : "span");
      rows[place] = { left, flag };
      if (mark.href) flag.href = mark.href;
      flag.className = mark.kind === "alarm" ? `flag p-${mark.priority}` : "flag work";
      flag.style.left = `${left}px`;
      flag.style.top = `${mark.kind === "alarm" ? top + place * FLAG_PX : bottom - 18 - place * 14}px`;
      flag.innerHTML = `<svg viewBox="0 0 ${mark.kind === "alarm" ? "16 16" : "12 12"}" aria-hidden="true"><use href="#i-${mark.kind === "alarm" ? mark.priority || "high" : "work"}"/></svg><span class="hidden"></span>`;
      tell(flag, mark.text);
      made.push(flag);
    }
    this.marks.replaceChildren(...made);
  }

  listen() {
    let from = null;
    const at = (event) => this.chart.scales.x.getValueForPixel(event.clientX - this.canvas.getBoundingClientRect().left);
    this.area.addEventListener("pointerdown", (event) => {
      if (event.button !== 0 || event.pointerType === "touch" || event.target.closest(".flag")) return;
      from = event.clientX;
      this.area.setPointerCapture(event.pointerId);
      this.from = at(event);
    });
    this.area.addEventListener("pointermove", (event) => {
      const box = this.canvas.getBoundingClientRect();
      if (from !== null) {
        const [left, right] = [Math.min(from, event.clientX), Math.max(from, event.clientX)];
        this.rubber.style.left = `${left - box.left}px`;
        this.rubber.style.width = `${right - left}px`;
        this.rubber.classList.toggle("shown", right - left > 6);
      }
      this.readAt(at(event), this.chart.scales.y.getValueForPixel(event.clientY - box.top));
    });
    this.area.addEventListener("pointerup", (event) => {
      if (from !== null && Math.abs(event.clientX - from) > 12) zoom([Math.min(this.from, at(event)), Math.max(this.from, at(event))]);
      from = null;
      this.rubber.classList.remove("shown");
    });
    this.area.addEventListener("dblclick", () => zoom(null));
    this.area.addEventListener("pointerleave", () => this.forget());
    this.area.addEventListener("blur", () => this.forget());
    this.area.addEventListener("keydown", (event) => this.key(event));
  }

  key(event) {
    const along = { ArrowLeft: -1, ArrowRight: 1, PageUp: -12, PageDown: 12 }[event.key];
    const across = { ArrowUp: -1, ArrowDown: 1 }[event.key];
    const [min, max] = this.window;
    const middle = this.place === null ? (min + max) / 2 : this.data.times[this.place];
    if (event.key === "+" || event.key === "=") zoom([middle - (max - min) / 4, middle + (max - min) / 4]);
    else if (event.key === "-") zoom([middle - (max - min), middle + (max - min)]);
    else if (event.key === "Escape" || event.key === "0") zoom(null);
    else if (event.key === "Home" || event.key === "End") this.place = event.key === "Home" ? 0 : this.data.times.length - 1;
    else if (along !== undefined) this.place = Math.min(Math.max((this.place ?? this.data.times.length) + along, 0), this.data.times.length - 1);
    else if (across === undefined) return;
    event.preventDefault();
    const lines = this.lines();
    this.place ??= this.data.times.length - 1;
    const before = lines.findIndex((one) => one.id === this.chosen);
    this.chosen = lines[(Math.max(before, 0) + (before < 0 ? 0 : across ?? 0) + lines.length) % lines.length].id;
    this.say(lines.find((one) => one.id === this.chosen));
  }

  lines() {
    const { alone } = this;
    return alone === "" ? this.figure.lines : this.figure.lines.filter((one) => one.id === alone);
  }

  readAt(time, wanted) {
    const { times, every } = this.data;
    this.place = Math.min(Math.max(Math.round((time - times[0]) / every), 0), times.length - 1);
    const near = this.lines().filter((one) => one.values[this.place] !== null);
    near.sort((a, b) => Math.abs(a.values[this.place] - wanted) - Math.abs(b.values[this.place] - wanted));
    this.chosen = near[0]?.id ?? this.chosen;
    this.say(near[0]);
  }

  say(one) {
    const value = one?.values[this.place];
    const known = value !== null && value !== undefined;
    this.told.textContent = `${this.data.labels[this.place]}  ${one ? one.name : ""}  ${known ? `${value.toFixed(this.figure.digits).replace(".", this.data.point)} ${this.figure.unit}` : this.data.texts.nothing}`;
    const { y } = this.chart.scales;
    this.putPointer();
    this.pointer.style.setProperty("--y", known ? `${y.getPixelForValue(value)}px` : "-100px");
    this.pointer.classList.add("shown");
  }

  // Also when its screen was turned, where it would else lie outside and widen the page.
  putPointer() {
    if (this.place !== null) this.pointer.style.left = `${this.chart.scales.x.getPixelForValue(this.data.times[this.place])}px`;
  }

  forget() {
    this.pointer.classList.remove("shown");
    this.told.textContent = "";
  }
}

function zoom(window) {
  const { data } = drawn[0];
  const wanted = window && [Math.max(window[0], data.start), Math.min(window[1], data.until)];
  const whole = !wanted || wanted[1] - wanted[0] >= (data.until - data.start) * 0.999;
  if (!whole && wanted[1] - wanted[0] < data.every * 4) return;
  if (whole) kept.delete("window"); else kept.set("window", wanted);
  drawn.forEach((each) => each.draw());
  document.querySelectorAll(".whole-time").forEach((button) => { button.hidden = whole; });
}

function alone(id) {
  if (id) kept.set("", id); else kept.delete("");
  drawn.forEach((each) => each.draw());
  document.querySelectorAll(".legend a").forEach((link) => {
    if (link.dataset.line === id) link.setAttribute("aria-current", "true"); else link.removeAttribute("aria-current");
  });
  const said = drawn.map((each) => each.figure.aheads[id]?.said).find(Boolean);
  const words = document.querySelector("#tension .alone-words");
  if (words) words.textContent = said ? drawn[0].data.texts.forecast.replace("{said}", said) : "";
}

async function start() {
  drawn.splice(0).forEach((each) => each.chart.destroy());
  for (const charts of document.querySelectorAll("[data-values]")) {
    const answer = await fetch(charts.dataset.values, { credentials: "same-origin" }).catch(() => null);
    if (!answer?.ok || !charts.isConnected) continue;
    const data = await answer.json();
    if (charts.dataset.only && !kept.has("")) kept.set("", charts.dataset.only);
    for (const element of charts.querySelectorAll(".chart")) {
      if (!element.querySelector(".field") || !data.figures[element.id]) continue;
      drawn.push(new Figure(element, data, charts));
    }
    const caption = charts.querySelector("figcaption");
    if (!caption || !drawn.length) continue;
    const button = document.createElement("button");
    button.type = "button";
    button.className = "plain whole-time";
    button.textContent = data.texts.whole;
    button.hidden = !kept.has("window");
    button.addEventListener("click", () => zoom(null));
    caption.querySelector(".told").before(button);
    const words = document.createElement("p");
    words.className = "coming-words alone-words";
    words.setAttribute("aria-live", "polite");
    charts.querySelector(".chart").append(words);
    charts.querySelectorAll(".legend a").forEach((link) => link.addEventListener("click", (event) => {
      event.preventDefault();
      alone(link.dataset.line === (kept.get("") ?? "") ? "" : link.dataset.line);
    }));
    if (kept.has("")) alone(kept.get(""));
  }
  performance.mark("charts-drawn");
}

document.addEventListener("replaced", start);
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => drawn.forEach((each) => each.draw()));
start();
