// What a chart is drawn from: its colours, what lies under its lines, the lines with their forecasts, the lines of time.

export function colours(element) {
  const probe = document.createElement("span");
  element.append(probe);
  const found = {};
  for (const name of ["ink", "soft", "rule", "edge", "band", "lit", "dot", "dry", "wet", "water", "high", "medium", "low", "link", "paper"]) {
    probe.style.color = `var(--${name})`;
    found[name] = getComputedStyle(probe).color;
  }
  probe.remove();
  return found;
}

function faded(colour, share) {
  const [r, g, b] = colour.match(/[\d.]+/g);
  return `rgba(${r}, ${g}, ${b}, ${share})`;
}

// Light, the band and the set point lie under the lines; now and the pointer over them.
export function underlay(data, figure, tone) {
  return {
    id: "underlay",
    beforeDatasetsDraw({ ctx, chartArea: area, scales: { x, y } }) {
      ctx.save();
      ctx.beginPath();
      ctx.rect(area.left, area.top, area.width, area.height);
      ctx.clip();
      ctx.fillStyle = tone.lit;
      for (const [on, off] of data.lights) ctx.fillRect(x.getPixelForValue(on), area.top, x.getPixelForValue(off) - x.getPixelForValue(on), area.height);
      if (figure.band) {
        ctx.fillStyle = faded(tone.band, 0.8);
        const [wet, dry] = figure.band;
        ctx.fillRect(area.left, y.getPixelForValue(dry), area.width, y.getPixelForValue(wet) - y.getPixelForValue(dry));
      }
      ctx.lineWidth = 1;
      for (const tick of x.ticks) line(ctx, tick.major ? faded(tone.edge, 0.5) : tone.rule, x.getPixelForValue(tick.value), area.top, x.getPixelForValue(tick.value), area.bottom);
      for (const tick of y.ticks) line(ctx, tone.rule, area.left, y.getPixelForValue(tick.value), area.right, y.getPixelForValue(tick.value));
      if (figure.line !== null) {
        ctx.setLineDash([4, 4]);
        line(ctx, tone.edge, area.left, y.getPixelForValue(figure.line), area.right, y.getPixelForValue(figure.line));
        ctx.setLineDash([]);
      }
      if (data.until > data.end) line(ctx, tone.ink, x.getPixelForValue(data.end), area.top, x.getPixelForValue(data.end), area.bottom);
      ctx.restore();
    },
  };
}

function line(ctx, colour, x1, y1, x2, y2) {
  ctx.strokeStyle = colour;
  ctx.beginPath();
  ctx.moveTo(Math.round(x1) + 0.5, Math.round(y1) + 0.5);
  ctx.lineTo(Math.round(x2) + 0.5, Math.round(y2) + 0.5);
  ctx.stroke();
}

// Datasets of one figure: its lines, and of each forecast its line and the two ends of its interval.
export function datasets(data, figure, tone, alone) {
  const made = [];
  for (const one of figure.lines) {
    const mine = alone === "" || one.id === alone;
    const colour = { dry: tone.dry, wet: tone.wet }[one.tone] ?? tone[figure.colour];
    const strong = one.tone === "dry" || one.tone === "wet" || figure.lines.length === 1 || alone === one.id;
    made.push({
      id: one.id,
      label: one.name,
      data: one.values.flatMap((value, place) => (value === null ? [] : [{ x: data.times[place], y: value }])),
      borderColor: mine ? (strong ? colour : faded(colour, 0.55)) : faded(colour, 0.12),
      borderWidth: strong ? 2.25 : 1.25,
      borderDash: one.tone === "silent" ? [3, 3] : [],
      spanGaps: 3.5 * data.every,
      pointRadius: 0,
      order: strong ? 1 : 2,
    });
    const ahead = figure.aheads[one.id];
    if (!ahead || !mine || !(ahead.told || alone === one.id)) continue;
    const end = (place) => ahead.points.map((point) => ({ x: point[0], y: point[place] }));
    const plain = { pointRadius: 0, borderColor: "transparent", borderWidth: 0, order: 3 };
    made.push({ ...plain, data: end(2) }, { ...plain, data: end(3), fill: "-1", backgroundColor: faded(colour, 0.16) });
    made.push({ ...plain, data: end(1), borderColor: colour, borderWidth: 1.75, borderDash: [6, 4] });
  }
  return made;
}

// Lines of time as fine as the window asks, and no more labels than there is room for.
export function ticks(data, min, max, width) {
  const share = (max - min) / (data.until - data.start);
  const grid = data.grids[Math.min(Math.max(Math.floor(Math.log2(1 / share) + 0.01), 0), data.grids.length - 1)];
  const inside = grid.filter(([at]) => at >= min && at <= max);
  const every = Math.ceil((inside.length * 58) / width);
  const first = Math.max(inside.findIndex((tick) => tick[2]), 0);
  return inside.map(([value, label, major], place) => ({ value, major, label: (place - first) % every === 0 ? label : "" }));
}
