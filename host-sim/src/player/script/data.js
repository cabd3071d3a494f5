// Data of the ride: counts of 16 bits (low byte first) become values on demand.
const raw = JSON.parse(document.getElementById("ride-data").textContent);
const MISSING = -32768;

function counts(text) {
  const bytes = Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
  const view = new DataView(bytes.buffer);
  const all = new Int16Array(bytes.length / 2);
  for (let i = 0; i < all.length; i += 1) all[i] = view.getInt16(2 * i, true);
  return all;
}

const decoded = (map) => Object.fromEntries(Object.entries(map).map(([name, text]) => [name, counts(text)]));

const ride = {
  step: raw.step_s,
  end: raw.periods * raw.step_s,
  levels: raw.levels.map((level) => {
    const least = decoded(level.least);
    return { width: level.width, count: level.count, least, greatest: level.greatest ? decoded(level.greatest) : least };
  }),
  instants: decoded(raw.instants),
  resolution: raw.resolution,
  modes: raw.modes,
  events: raw.events,
};
// Where every control period is kept, the instants of the travel are its trace.
for (const name of Object.keys(ride.levels[0].least)) {
  if (!ride.instants[`${name}At`] && ride.resolution[`${name}At`]) ride.instants[`${name}At`] = ride.levels[0].least[name];
}
ride.kept = ride.levels[0].width * ride.step; // time between kept samples, s

// The stretches shown slowly: around "foremost" events, around "every" one that has a stretch, or around none.
function stretches(which) {
  const events = ride.events.filter((e) => e.slow_s && (which === "every" || (which === "foremost" && e.foremost)));
  return events.map((e) => ({ from: e.slow_s[0], to: e.slow_s[1], event: e }));
}
ride.slow = stretches("foremost");

// A value between the two instants around a time; the last one after the end.
function instant(name, time) {
  const all = ride.instants[name];
  const place = Math.min(Math.max(time / ride.kept, 0), all.length - 1);
  const i = Math.floor(place + 1e-6);
  const a = all[i];
  const b = all[Math.min(i + 1, all.length - 1)];
  return (a + (place - i) * (b - a)) * ride.resolution[name];
}

// Of a trace at a time: what is largest in size there, so that a short peak is told.
function traced(name, time) {
  const level = ride.levels[0];
  const i = Math.min(Math.max(Math.floor(time / ride.kept + 1e-6), 0), level.count - 1);
  const [a, b] = [level.least[name][i], level.greatest[name][i]];
  return (Math.abs(a) > Math.abs(b) ? a : b) * ride.resolution[name];
}

// The coarsest level that still has a bucket for every `seconds`.
function levelFor(seconds) {
  let found = ride.levels[0];
  for (const level of ride.levels) if (level.width * ride.step <= seconds) found = level;
  return found;
}

// Largest size of a trace over the whole ride.
function peakOf(name) {
  const level = ride.levels[ride.levels.length - 1];
  let peak = 0;
  for (let i = 0; i < level.count; i += 1) {
    if (level.least[name][i] !== MISSING) peak = Math.max(peak, -level.least[name][i], level.greatest[name][i]);
  }
  return peak * ride.resolution[name];
}

// The last row of a list of [time, ...] at or before a time.
function lastBefore(rows, time) {
  let [low, high] = [0, rows.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if (rows[middle][0] <= time + 1e-9) low = middle + 1;
    else high = middle;
  }
  return rows[Math.max(low - 1, 0)];
}
// After the last change that was kept the mode is known only if no later one was left out.
function modeAt(time) {
  const row = lastBefore(ride.modes, time);
  const known = raw.modes_whole || row !== ride.modes[ride.modes.length - 1] || time <= row[0];
  return known ? row : [row[0], "not kept", []];
}
const occupantAt = (time) => lastBefore(raw.occupants, time)[1];
