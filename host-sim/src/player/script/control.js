// Buttons, keys, pointer; and what the page says at a moment.
const scrub = $("scrub");
const text = (id, value) => { const e = $(id); if (e.textContent !== value) e.textContent = value; };

function showValues(time) {
  for (const name of ["floorAccel", "passiveAccel", "lawAccel"]) text(`v-${name}`, signed(traced(name, time), 2));
  for (const seat of ["passive", "law"]) {
    text(`v-${seat}Travel`, signed(1000 * instant(`${seat}TravelAt`, time), 1));
    text(`v-${seat}Rate`, signed(instant(`${seat}RateAt`, time), 3));
    text(`v-${seat}Kg`, String(occupantAt(time)));
  }
  text("v-force", signed(traced("force", time), 0));
  const [, mode, faults] = modeAt(time);
  text("v-mode", mode);
  text("v-faults", faults.join(", ") || "none");
}

let marked = null;
function markEvent(time) {
  let found = null;
  for (const event of ride.events) if (event.at_s <= time + 1e-6) found = event;
  if (found === marked) return;
  marked = found;
  for (const row of document.querySelectorAll("#events tr[aria-current]")) row.removeAttribute("aria-current");
  const row = found && document.querySelector(`#events tr[data-event="${ride.events.indexOf(found)}"]`);
  if (row) row.setAttribute("aria-current", "true");
}

function show() {
  const { time } = clock;
  for (const scene of scenes) drawScene(scene, time);
  for (const plane of planes) drawPlane(plane, time);
  drawTraces(time, clock.span);
  drawHead(time);
  showValues(time);
  markEvent(time);
  text("now", clockText(time));
  text("pace", paceWords());
  text("play", clock.playing ? "Stop" : "Play");
  scrub.value = time;
  scrub.setAttribute("aria-valuetext", `${time.toFixed(2)} seconds, ${modeWords(time)}`);
  document.body.dataset.playing = clock.playing;
}

function say() {
  const { time } = clock;
  const at = ride.events.filter((e) => Math.abs(e.at_s - time) < 0.5 * ride.kept + 1e-4).map((e) => `${e.name}: ${e.words}`);
  const value = (id) => $(id).textContent;
  text("said", `${time.toFixed(3)} seconds. ${at.join(". ")}${at.length ? ". " : ""}Law: ${modeWords(time)}, travel ${value("v-lawTravel")} millimetres, `
    + `acceleration ${value("v-lawAccel")}. Passive seat: travel ${value("v-passiveTravel")}, acceleration ${value("v-passiveAccel")}. `
    + `Floor: ${value("v-floorAccel")} metres per second squared.`);
}

function jump(direction) {
  const kind = $("kind").value;
  const all = ride.events.filter((e) => !kind || e.kind === kind);
  const after = (e) => direction * (e.at_s - clock.time) > 0.0005;
  const found = direction > 0 ? all.find(after) : all.reverse().find(after);
  if (found) seek(found.at_s);
}

function choose(select, direction) {
  const next = select.selectedIndex + direction;
  if (next >= 0 && next < select.options.length) select.selectedIndex = next;
  select.dispatchEvent(new Event("change"));
}

const KEYS = {
  " ": () => (clock.playing ? stop() : play()),
  ArrowLeft: (e) => seek(e.shiftKey ? Math.round(clock.time / ride.kept - 1) * ride.kept : clock.time - 0.1),
  ArrowRight: (e) => seek(e.shiftKey ? Math.round(clock.time / ride.kept + 1) * ride.kept : clock.time + 0.1),
  PageUp: () => seek(clock.time - 10),
  PageDown: () => seek(clock.time + 10),
  Home: () => seek(0),
  End: () => seek(ride.end),
  ArrowUp: () => choose($("speed"), 1),
  ArrowDown: () => choose($("speed"), -1),
};
const LETTERS = {
  k: () => KEYS[" "](),
  n: () => jump(1),
  p: () => jump(-1),
  s: () => choose($("slow"), $("slow").selectedIndex + 1 < $("slow").options.length ? 1 : -$("slow").selectedIndex),
  r: () => say(),
  "+": () => choose($("span"), -1),
  "-": () => choose($("span"), 1),
};

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.altKey || event.metaKey) return;
  const target = event.target;
  const own = target.matches("select, .list") || (target.matches("button, summary, a, input[type=checkbox]") && [" ", "Enter"].includes(event.key));
  const act = KEYS[event.key] || ($("letters").checked && LETTERS[event.key.toLowerCase()]);
  if (!act || own) return;
  event.preventDefault();
  act(event);
});

$("play").addEventListener("click", KEYS[" "]);
$("previous").addEventListener("click", () => jump(-1));
$("next").addEventListener("click", () => jump(1));
$("slow").addEventListener("change", (e) => { ride.slow = stretches(e.target.value); show(); });
$("speed").addEventListener("change", (e) => { clock.speed = Number(e.target.value); show(); });
$("span").addEventListener("change", (e) => { clock.span = Number(e.target.value); show(); });
$("motion").addEventListener("change", (e) => { stop(); clock.moving = e.target.checked; show(); });
$("kind").addEventListener("change", (e) => {
  for (const row of document.querySelectorAll("#events tbody tr")) row.hidden = Boolean(e.target.value) && row.dataset.kind !== e.target.value;
});
scrub.addEventListener("input", () => seek(Number(scrub.value), false));
scrub.addEventListener("change", () => { if (!clock.playing) say(); });
$("events").addEventListener("click", (e) => { if (e.target.dataset.at) seek(Number(e.target.dataset.at)); });

// Pointer: pull the traces; press the overview.
function drag(element, begin, move) {
  element.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    element.setPointerCapture(event.pointerId);
    const state = begin(event);
    const on = (e) => move(e, state);
    const off = () => { element.removeEventListener("pointermove", on); if (!clock.playing) say(); };
    element.addEventListener("pointermove", on);
    element.addEventListener("pointerup", off, { once: true });
    element.addEventListener("pointercancel", off, { once: true });
  });
}
drag($("traces"), (e) => ({ x: e.clientX, time: clock.time }),
  (e, from) => seek(from.time - (e.clientX - from.x) * traceScale(clock.span), false));
const overview = $("overview");
const overviewTime = (e) => {
  const box = overview.getBoundingClientRect();
  return { x: e.clientX - box.left, width: box.width };
};
drag(overview, (e) => {
  const { x, width } = overviewTime(e);
  const event = eventNear(x, width);
  seek(event ? event.at_s : (x / width) * ride.end, false);
}, (e) => { const { x, width } = overviewTime(e); seek((x / width) * ride.end, false); });
overview.addEventListener("pointermove", (e) => {
  const { x, width } = overviewTime(e);
  const event = eventNear(x, width);
  text("hint", event ? `${event.at_s.toFixed(3)} s, ${event.name}: ${event.words}` : `${((x / width) * ride.end).toFixed(2)} s`);
});
overview.addEventListener("pointerleave", () => text("hint", MARK_WORDS));
text("hint", MARK_WORDS);
$("traces").addEventListener("wheel", (e) => {
  if (!e.ctrlKey) return;
  e.preventDefault();
  choose($("span"), e.deltaY < 0 ? -1 : 1);
}, { passive: false });

// Size, colours, print, reduced motion.
function redraw() {
  readColours();
  drawOverview();
  show();
}
window.addEventListener("resize", redraw);
window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", redraw);
window.matchMedia("print").addEventListener("change", redraw);
window.addEventListener("beforeprint", redraw);
window.addEventListener("afterprint", redraw);
function motionAsked() {
  stop();
  $("motion-label").hidden = !calm.matches;
  $("motion").checked = !calm.matches;
  clock.moving = !calm.matches;
  show();
}
calm.addEventListener("change", motionAsked);
const linked = () => {
  const found = /^#t=([0-9.]+)$/.exec(location.hash);
  return found ? Number(found[1]) : null;
};
window.addEventListener("hashchange", () => { if (linked() !== null) seek(linked()); });

clock.time = clamp(linked() ?? raw.skipped_s);
redraw();
motionAsked();
window.becalmRide = Object.assign(ride, { plot: () => plot }); // for whoever wants to look at the data
document.body.dataset.ready = "yes";
