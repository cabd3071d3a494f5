// Moves floor, seat, stops and occupant, all in millimetres.
const measures = raw.scene;

function seatScene(id) {
  const svg = $(`scene-${id}`);
  const part = (name) => svg.querySelector(`[data-part="${name}"]`);
  const parts = {};
  for (const name of ["floor", "seat", "leg", "occupant", "upper-stop", "lower-stop", "bar-a", "bar-b", "spring", "bar", "pointer"]) {
    parts[name] = part(name);
  }
  return { id, svg, parts };
}
const scenes = [seatScene("passive"), seatScene("law")];

function set(element, attributes) {
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
}

// The knee lies in front of the line from hip to ankle: two bars of known length.
function leg(travel) {
  const [hx, hy] = [measures.hip_mm[0], measures.hip_mm[1] + travel];
  const [ax, ay] = measures.ankle_mm;
  const [thigh, shank] = measures.leg_mm;
  const [dx, dy] = [ax - hx, ay - hy];
  const far = Math.hypot(dx, dy);
  const along = (thigh * thigh - shank * shank + far * far) / (2 * far);
  const aside = Math.sqrt(Math.max(thigh * thigh - along * along, 0));
  const kx = hx + (along * dx - aside * dy) / far;
  const ky = hy + (along * dy + aside * dx) / far;
  const f = (n) => n.toFixed(1);
  return `M${f(hx)} ${f(-hy)}L${f(kx)} ${f(-ky)}L${f(ax)} ${f(-ay)}L${f(ax + 115)} -42`;
}

// A coil between base and frame.
function coil(height) {
  const turns = 7;
  let path = `M440 ${-measures.base_mm}`;
  for (let n = 0; n < turns; n += 1) {
    const y = measures.base_mm + (height * (n + 0.5)) / turns;
    path += `L${n % 2 ? 415 : 465} ${(-y).toFixed(1)}`;
  }
  return `${path}L440 ${(-measures.base_mm - height).toFixed(1)}`;
}

// How far a bumper is pressed together, mm, shown and returned.
function bumper(element, pressed, upper) {
  const reach = measures.tongue_half_mm + measures.travel_mm;
  const height = Math.max(measures.bumper_mm - Math.max(pressed, 0), 4);
  const face = measures.tongue_mm + (upper ? reach + Math.max(pressed, 0) : -reach - Math.max(pressed, 0));
  set(element, { y: (upper ? -face - height : -face).toFixed(1), height: height.toFixed(1) });
  element.classList.toggle("met", pressed >= 0);
}

function drawScene(scene, time) {
  const { parts, id } = scene;
  const travel = 1000 * instant(`${id}TravelAt`, time);
  const floor = Math.max(-measures.room_mm, Math.min(measures.room_mm, 1000 * instant("floorHeight", time)));
  const people = occupantAt(time) > 0;
  set(parts.floor, { transform: `translate(0 ${(-floor).toFixed(2)})` });
  set(parts.seat, { transform: `translate(0 ${(-travel).toFixed(2)})` });
  parts.occupant.style.display = people ? "" : "none";
  parts.leg.style.display = people ? "" : "none";
  set(parts.leg, { d: leg(travel) });
  const rise = measures.frame_mm - measures.base_mm + travel;
  const spread = Math.sqrt(Math.max(measures.bar_mm ** 2 - rise ** 2, 0));
  const [x, low, high] = [measures.bars_from_mm, -measures.base_mm, -measures.base_mm - rise];
  set(parts["bar-a"], { x1: x, y1: low, x2: x + spread, y2: high });
  set(parts["bar-b"], { x1: x, y1: high, x2: x + spread, y2: low });
  set(parts.spring, { d: coil(rise) });
  bumper(parts["upper-stop"], travel - measures.travel_mm, true);
  bumper(parts["lower-stop"], -travel - measures.travel_mm, false);
  const shift = -measures.gauge_scale * travel;
  set(parts.pointer, { transform: `translate(0 ${shift.toFixed(1)})` });
  const middle = -measures.gauge_mm;
  set(parts.bar, { y: Math.min(middle, middle + shift).toFixed(1), height: Math.abs(shift).toFixed(1) });
  const met = Math.abs(travel) >= measures.travel_mm;
  scene.svg.classList.toggle("met", met);
  const state = $(`state-${id}`);
  const stop = met ? `${travel > 0 ? "upper" : "lower"} stop met` : "";
  const words = id === "law" ? [modeWords(time), stop] : ["no law", stop];
  const text = words.filter((w) => w).join(" · ");
  if (state.textContent !== text) state.textContent = text;
  state.classList.toggle("met", met);
}

function modeWords(time) {
  const [, mode, faults] = modeAt(time);
  return faults.length ? `mode ${mode}: ${faults.join(", ")}` : `mode ${mode}`;
}
