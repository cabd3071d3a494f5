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
}
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
  const placed = [];
  const largest = [...found.values()].sort((a, b) => Math.abs(b.value) - Math.abs(a.value));
  for (const { value, time } of largest) {
    const x = box.left + ((time - from) / (to - from)) * box.width;
    // Where two would meet, the larger stands.
    if (placed.some((p) => p.up === value > 0 && Math.abs(p.x - x) < 34)) continue;
    placed.push({ x, up: value > 0 });
    const words = `${value > 0 ? "↑" : "↓"}${Math.abs(value).toFixed(0)}`;
    const top = value > 0 ? box.top : box.top + box.height - 14;
    const wide = pen.measureText(words).width + 4;
    pen.fillStyle = colours.paper;
    pen.fillRect(x - 0.5 * wide, top, wide, 14);
    pen.fillStyle = colours.passive;
    pen.fillText(words, x, top + 11);
  }
}

function drawStrip(pen, strip, box, from, to) {
  const most = 1.08 * strip.peak;
  const y = (value) => box.top + 0.5 * box.height * (1 - (value * strip.scale) / most);
  const step = roundStep(most, 2.5);
  pen.textAlign = "right";
  for (let value = -step; value <= step * 1.01; value += step) {
    const at = y(value / strip.scale);
    pen.fillStyle = colours.rule;
    pen.fillRect(box.left, at, box.width, 1);
    pen.fillStyle = colours.soft;
    pen.fillText(value === 0 ? "0" : signed(value, step < 1 ? 1 : 0), box.left - 6, at + 4);
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
    pen.strokeStyle = colours[role];
    pen.lineWidth = WEIGHT[role];
    pen.setLineDash(DASH[role]);
    trace(pen, name, from, to, box, y);
  }
  if (strip.lines.some(([name]) => name === "passiveAccel")) drawBeyond(pen, "passiveAccel", from, to, box, most);
  pen.restore();
  pen.textAlign = "left";
  pen.font = "600 12px system-ui, sans-serif";
  const wide = pen.measureText(strip.words).width;
  pen.fillStyle = colours.paper;
  pen.fillRect(box.left + 4, box.top + 3, wide + 8, 17);
  pen.fillStyle = colours.ink;
  pen.fillText(strip.words, box.left + 8, box.top + 16);
  pen.font = "12px system-ui, sans-serif";
}

function drawTraces(time, span) {
  const { pen, width, height } = fit($("traces"));
  const [left, gap, below] = [width < 500 ? 40 : 52, 10, 22];
  const from = time - NOW_AT * span;
  const to = from + span;
  const whole = { left, width: width - left - 8, top: 2, height: height - below - 2 };
  pen.font = "12px system-ui, sans-serif";
  timeAxis(pen, whole, from, to);
  const x = (at) => whole.left + ((at - from) / span) * whole.width;
  for (const slow of ride.slow) {
    const [a, b] = [Math.max(x(slow.from), whole.left), Math.min(x(slow.to), whole.left + whole.width)];
    if (b > a) {
      pen.fillStyle = colours.tint;
      pen.fillRect(a, whole.top, b - a, whole.height);
    }
  }
  let top = whole.top;
  const room = whole.height - gap * (strips.length - 1);
  for (const strip of strips) {
    const box = { left, width: whole.width, top, height: strip.share * room };
    drawStrip(pen, strip, box, from, to);
    top += box.height + gap;
  }
  pen.fillStyle = colours.mark;
  pen.fillRect(x(time) - 1, whole.top, 2, whole.height);
}

// Seconds for one pixel, for the pointer.
const traceScale = (span) => span / Math.max($("traces").clientWidth - 60, 1);
