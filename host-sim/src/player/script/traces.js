// Three strips of traces that scroll past the present moment.
const NOW_AT = 0.62; // share of the width at which the present stands
const strips = [
  { words: "acceleration, m/s²", scale: 1, lines: [["floorAccel", "floor"], ["passiveAccel", "passive"], ["lawAccel", "law"]], share: 0.44 },
  { words: "travel, mm", scale: 1000, lines: [["passiveTravel", "passive"], ["lawTravel", "law"]], share: 0.34, stops: true },
  { words: "force, N", scale: 1, lines: [["force", "law"]], share: 0.22 },
];
// The acceleration's scale is that of floor and law: the passive seat's blows at its stops would flatten all
// else. What goes beyond it is told in numbers at the edge.
for (const strip of strips) {
  const lines = strip.lines.map(([name]) => name).filter((name) => name !== "passiveAccel");
  strip.peak = Math.max(...lines.map(peakOf), strip.stops ? raw.travel_m : 0) * strip.scale || 1;
  strip.most = 1.08 * strip.peak;
  strip.beyond = strip.lines.length > lines.length;
}
const FONT = "12px system-ui, sans-serif";
const TITLE = 17; // height of the line above a strip that names it; nothing is drawn over what is traced
const BEYOND = 13; // height of the lines above and below a strip for what leaves it
const DASH = { floor: [], passive: [7, 3], law: [] };
const WEIGHT = { floor: 1, passive: 1.3, law: 1.9 };

// A round step so that about `count` fit into `size`.
function roundStep(size, count) {
  const wanted = size / count;
  const decade = 10 ** Math.floor(Math.log10(wanted));
  return [1, 2, 5, 10].map((d) => d * decade).find((s) => s >= wanted) || wanted;
}

function timeAxis(pen, box, from, to) {
  const step = roundStep(to - from, box.width / 110);
  const digits = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
  pen.textAlign = "center";
  for (let n = Math.ceil(Math.max(from, 0) / step); n * step <= Math.min(to, ride.end) + 1e-9; n += 1) {
    const x = box.left + ((n * step - from) / (to - from)) * box.width;
    pen.fillStyle = colours.rule;
    pen.fillRect(x, box.top, 1, box.height);
    pen.fillStyle = colours.soft;
    pen.fillText(`${(n * step).toFixed(digits)} s`, x, box.top + box.height + 15);
  }
}

// Numbers at the edge for what leaves a strip: the largest of each stretch of about 40 pixels.
function drawBeyond(pen, name, from, to, box, most) {
  const level = levelFor((to - from) / box.width);
  const width = level.width * ride.step;
  const unit = ride.resolution[name];
  const found = new Map();
  const last = Math.min(Math.ceil(to / width), level.count - 1);
  for (let i = Math.max(Math.floor(from / width), 0); i <= last; i += 1) {
    for (const value of [level.greatest[name][i] * unit, level.least[name][i] * unit]) {
      // Cells in the ride's own time, so that the numbers scroll with it.
      const cell = `${Math.floor((i * width * box.width) / (to - from) / 40)} ${value > 0}`;
      if (Math.abs(value) > most && Math.abs(value) > Math.abs(found.get(cell)?.value || 0)) found.set(cell, { value, time: i * width });
    }
  }
  pen.textAlign = "center";
  pen.fillStyle = colours.passive;
  const placed = [];
  const largest = [...found.values()].sort((a, b) => Math.abs(b.value) - Math.abs(a.value));
  for (const { value, time } of largest) {
    const x = box.left + ((time - from) / (to - from)) * box.width;
    // Where two would meet, the larger stands.
    if (placed.some((p) => p.up === value > 0 && Math.abs(p.x - x) < 34)) continue;
    placed.push({ x, up: value > 0 });
    const words = `${value > 0 ? "↑" : "↓"}${Math.abs(value).toFixed(0)}`;
    // Within the strip's width, however near to an end.
    const half = 0.5 * pen.measureText(words).width;
    const at = Math.min(Math.max(x, box.left + half), box.left + box.width - half);
    pen.fillText(words, at, value > 0 ? box.top - 3 : box.top + box.height + BEYOND - 2);
  }
}

// Round values at the strip's edge, with their words.
function ticks(strip) {
  const step = roundStep(strip.most, 2.5);
  const all = [];
  for (let value = -step; value <= step * 1.01; value += step) all.push([value, value === 0 ? "0" : signed(value, step < 1 ? 1 : 0)]);
  return all;
}

function drawStrip(pen, strip, box, from, to) {
  const y = (value) => box.top + 0.5 * box.height * (1 - (value * strip.scale) / strip.most);
  pen.textAlign = "right";
  for (const [value, words] of ticks(strip)) {
    const at = y(value / strip.scale);
    pen.fillStyle = colours.rule;
    pen.fillRect(box.left, at, box.width, 1);
    pen.fillStyle = colours.soft;
    pen.fillText(words, box.left - 6, at + 4);
  }
  pen.save();
  pen.beginPath();
  pen.rect(box.left, box.top, box.width, box.height);
  pen.clip();
  if (strip.stops) {
    pen.strokeStyle = colours.stop;
    pen.lineWidth = 1.5;
    pen.setLineDash([2, 4]);
    for (const end of [raw.travel_m, -raw.travel_m]) {
      pen.beginPath();
      pen.moveTo(box.left, y(end));
      pen.lineTo(box.left + box.width, y(end));
      pen.stroke();
    }
  }
  pen.lineJoin = "round";
  for (const [name, role] of strip.lines) {
    pen.strokeStyle = pen.fillStyle = colours[role];
    pen.lineWidth = WEIGHT[role];
    pen.setLineDash(DASH[role]);
    trace(pen, name, from, to, box, y, DASH[role].length > 0);
  }
  pen.restore();
  if (strip.beyond) drawBeyond(pen, "passiveAccel", from, to, box, strip.most);
  pen.textAlign = "left";
  pen.font = `600 ${FONT}`;
  pen.fillStyle = colours.ink;
  pen.fillText(strip.words, box.left, box.top - (strip.beyond ? BEYOND : 0) - 5);
  pen.font = FONT;
}

// The plot within the canvas: on its left the widest number has room.
let plot = { left: 52, width: 1 };

function drawTraces(time, span) {
  const { pen, width, height } = fit($("traces"));
  pen.font = FONT;
  const words = strips.flatMap((strip) => ticks(strip).map(([, word]) => pen.measureText(word).width));
  const left = Math.ceil(Math.max(...words)) + 8;
  const from = time - NOW_AT * span;
  const to = from + span;
  plot = { left, width: Math.max(width - left - 8, 1), top: 0, height: height - 20 };
  timeAxis(pen, plot, from, to);
  const x = (at) => plot.left + ((at - from) / span) * plot.width;
  for (const slow of ride.slow) {
    const [a, b] = [Math.max(x(slow.from), plot.left), Math.min(x(slow.to), plot.left + plot.width)];
    if (b > a) {
      pen.fillStyle = colours.tint;
      pen.fillRect(a, plot.top, b - a, plot.height);
    }
  }
  const lines = strips.map((strip) => [TITLE + (strip.beyond ? BEYOND : 0), strip.beyond ? BEYOND : 2]);
  const room = Math.max(plot.height - lines.flat().reduce((sum, line) => sum + line, 0), 30);
  let top = plot.top;
  strips.forEach((strip, n) => {
    const [above, below] = lines[n];
    const box = { left, width: plot.width, top: top + above, height: strip.share * room };
    drawStrip(pen, strip, box, from, to);
    top += above + box.height + below;
  });
  pen.fillStyle = colours.mark;
  pen.fillRect(x(time) - 1, plot.top, 2, plot.height);
}

// Seconds for one pixel, for the pointer.
const traceScale = (span) => span / plot.width;
