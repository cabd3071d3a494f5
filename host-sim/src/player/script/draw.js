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

// Draws one trace from `from` to `to` (s) into a box; `y` places a value.
function trace(pen, name, from, to, box, y) {
  const perPixel = (to - from) / box.width;
  const level = levelFor(perPixel);
  const [least, greatest] = [level.least[name], level.greatest[name]];
  const width = level.width * ride.step;
  const unit = ride.resolution[name];
  const first = Math.max(Math.floor(from / width), 0);
  const last = Math.min(Math.ceil(to / width), level.count - 1);
  const single = level.width === 1;
  pen.beginPath();
  let falling = false;
  for (let i = first; i <= last; i += 1) {
    if (least[i] === MISSING) continue;
    const x = box.left + ((i + (single ? 0 : 0.5)) * width - from) / perPixel;
    const [a, b] = [y(least[i] * unit), y(greatest[i] * unit)];
    if (single) {
      pen.lineTo(x, a);
    } else {
      // In turn upward and downward, so that the line passes both ends of every bucket.
      pen.lineTo(x, falling ? b : a);
      pen.lineTo(x, falling ? a : b);
      falling = !falling;
    }
  }
  pen.stroke();
}

const signed = (value, digits) => {
  const text = Math.abs(value).toFixed(digits);
  return (Number(text) === 0 ? "" : value < 0 ? "−" : "+") + text;
};
const clockText = (time) => `${time.toFixed(3)} s`;
