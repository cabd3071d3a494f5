// Time and speed. Reduced motion: playing shows a still every second of the reader's time.
const SLOW = 0.1; // speed within an event's stretch
const LEAD_S = 0.15; // the speed falls this long before it, s of the ride
const STILL_MS = 1000;
const calm = window.matchMedia("(prefers-reduced-motion: reduce)");
const clock = { time: 0, playing: false, speed: 1, pace: 1, span: 10, moving: !calm.matches, last: 0, timer: 0 };

// The event whose slow stretch holds a time.
function slowAt(time) {
  return ride.slow.find((s) => time >= s.from && time <= s.to) || null;
}
// Speed that is wanted at a time.
function wanted(time) {
  if (clock.speed <= SLOW) return clock.speed;
  const near = ride.slow.some((s) => time >= s.from - LEAD_S * Math.max(clock.speed, 1) && time <= s.to);
  return near ? SLOW : clock.speed;
}

const clamp = (time) => Math.min(Math.max(time, 0), ride.end);
const fraction = (speed) => (speed >= 1 ? String(Math.round(10 * speed) / 10) : `1/${Math.round(1 / speed)}`);

function paceWords() {
  if (!clock.playing) return "stopped";
  if (!clock.moving) return `stills, ${fraction(clock.speed)} s of the ride apart`;
  const slow = slowAt(clock.time);
  const words = `speed ${fraction(clock.pace)}`;
  return slow && clock.speed > SLOW ? `${words}, slow motion: ${slow.event.name}` : words;
}

function frame(stamp) {
  if (!clock.playing || !clock.moving) return;
  // A page that was hidden goes on from where it was.
  const passed = Math.min((stamp - clock.last) / 1000, 0.1);
  clock.last = stamp;
  const target = wanted(clock.time);
  clock.pace = target < clock.pace ? Math.max(target, clock.pace * Math.exp(-passed / 0.06))
    : clock.pace + (target - clock.pace) * (1 - Math.exp(-passed / 0.2));
  if (Math.abs(clock.pace - target) < 0.02 * target) clock.pace = target;
  let next = clock.time + passed * clock.pace;
  if (clock.speed > SLOW) {
    // However fast: no stretch is jumped over.
    for (const s of ride.slow) if (clock.time < s.from && next > s.from) [next, clock.pace] = [s.from, SLOW];
  }
  clock.time = clamp(next);
  show();
  if (clock.time >= ride.end) stop();
  else requestAnimationFrame(frame);
}

function still() {
  clock.time = clamp(clock.time + clock.speed);
  show();
  if (clock.time >= ride.end) stop();
}

function play() {
  if (clock.time >= ride.end) clock.time = 0;
  clock.playing = true;
  clock.pace = wanted(clock.time);
  clock.last = performance.now();
  if (clock.moving) requestAnimationFrame(frame);
  else clock.timer = setInterval(still, STILL_MS);
  show();
}

function stop() {
  clock.playing = false;
  clearInterval(clock.timer);
  show();
  say();
}

function seek(time, spoken = true) {
  clock.time = clamp(time);
  show();
  if (spoken && !clock.playing) say();
}
