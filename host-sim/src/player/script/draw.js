// What all drawings share: colours of the page, canvases as fine as the screen.
const $ = (id) => document.getElementById(id);
const NAMES = ["paper", "ink", "soft", "rule", "tint", "floor", "passive", "law", "stop", "care", "mark"];
let colours = {};

function readColours() {
  const style = getComputedStyle(document.documentElement);
  for (const name of NAMES) colours[name] = style.getPropertyValue(`--${name}`).trim();
}

// Makes a canvas fit its place; the drawing is then in CSS pixels.
function fit(canvas) {
  const scale = Math.max(window.devicePixelRatio || 1, 1);
  const [width, height] = [canvas.clientWidth, canvas.clientHeight];
  const [w, h] = [Math.round(width * scale), Math.round(height * scale)];
  if (canvas.width !== w || canvas.height !== h) [canvas.width, canvas.height] = [w, h];
  const pen = canvas.getContext("2d");
  pen.setTransform(scale, 0, 0, scale, 0, 0);
  pen.clearRect(0, 0, width, height);
  return { pen, width, height };
}

// Least and greatest counts of `size` buckets at a time, from the ride's start on, so that a group does not change
// as the traces scroll: worked out once. `height`: how far apart they are, in the mean.
const kept = new Map();
const KEPT_GROUPS = 60;
function grouped(level, name, size) {
  const key = `${level.width} ${name} ${size}`;
  if (kept.has(key)) return kept.get(key);
  if (kept.size >= KEPT_GROUPS) kept.clear();
  const count = Math.ceil(level.count / size);
  const found = { count, size, least: new Int16Array(count).fill(MISSING), greatest: new Int16Array(count).fill(MISSING), height: 0 };
  const [least, greatest] = [level.least[name], level.greatest[name]];
  for (let i = 0; i < level.count; i += 1) {
    if (least[i] === MISSING) continue;
    const n = Math.floor(i / size);
    if (found.least[n] === MISSING || least[i] < found.least[n]) found.least[n] = least[i];
    if (greatest[i] > found.greatest[n]) found.greatest[n] = greatest[i];
  }
  for (let n = 0; n < count; n += 1) found.height += (found.greatest[n] - found.least[n]) / count;
  kept.set(key, found);
  return found;
}

// So many pixels a group: one in a line, more in stripes, of which a share is drawn.
const STRIPE = 3;
const DRAWN = 0.67;
// A line whose groups are higher than this in the mean, in pixels, is drawn as the area that it fills.
const DENSE = 20;

// Draws one trace from `from` to `to` (s) into a box; `y` places a value. Striped traces are dashed as long as they
// are lines.
function trace(pen, name, from, to, box, y, striped = false) {
  const perPixel = (to - from) / box.width;
  const level = levelFor(perPixel);
  const unit = ride.resolution[name];
  const bucket = level.width * ride.step;
  const groupOf = (pixels) => grouped(level, name, Math.max(1, Math.ceil((pixels * perPixel) / bucket - 1e-9)));
  let group = groupOf(1);
  const dense = group.height * Math.abs(y(unit) - y(0)) > DENSE;
  if (dense && striped) group = groupOf(STRIPE);
  const { least, greatest, size } = group;
  const width = size * bucket;
  const first = Math.max(Math.floor(from / width), 0);
  const last = Math.min(Math.ceil(to / width), group.count - 1);
  const single = level.width === 1 && size === 1;
  const x = (i) => box.left + ((i + (single ? 0 : 0.5)) * width - from) / perPixel;
  const half = 0.5 * pen.lineWidth;
  pen.beginPath();
  if (dense && striped) {
    const wide = DRAWN * (width / perPixel);
    for (let i = first; i <= last; i += 1) {
      if (least[i] === MISSING) continue;
      const top = y(greatest[i] * unit) - half;
      pen.rect(x(i) - 0.5 * wide, top, wide, y(least[i] * unit) + half - top);
    }
    pen.fill();
  } else if (dense) {
    // Along the upper edge and back along the lower one.
    for (let i = first; i <= last; i += 1) if (least[i] !== MISSING) pen.lineTo(x(i), y(greatest[i] * unit) - half);
    for (let i = last; i >= first; i -= 1) if (least[i] !== MISSING) pen.lineTo(x(i), y(least[i] * unit) + half);
    pen.fill();
  } else {
    let falling = false;
    for (let i = first; i <= last; i += 1) {
      if (least[i] === MISSING) continue;
      const [a, b] = [y(least[i] * unit), y(greatest[i] * unit)];
      if (single) {
        pen.lineTo(x(i), a);
      } else {
        // In turn upward and downward, so that the line passes both ends of every group.
        pen.lineTo(x(i), falling ? b : a);
        pen.lineTo(x(i), falling ? a : b);
        falling = !falling;
      }
    }
    pen.stroke();
  }
}

const signed = (value, digits) => {
  const text = Math.abs(value).toFixed(digits);
  return (Number(text) === 0 ? "" : value < 0 ? "−" : "+") + text;
};
const clockText = (time) => `${time.toFixed(3)} s`;
