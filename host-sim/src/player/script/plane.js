// The point in the plane of travel and rate, and its last two seconds.
const places = JSON.parse($("plane-data").textContent);
const TRAIL_S = 2;
const FRESH_S = 0.3;
const TRAIL_POINTS = 500;

function seatPlane(id) {
  const svg = $(`plane-${id}`);
  const part = (name) => svg.querySelector(`[data-part="${name}"]`);
  return { id, old: part("old"), trail: part("trail"), here: part("here") };
}
const planes = [seatPlane("passive"), seatPlane("law")];

function planePoint(id, time) {
  const [x0, y0, perMetre, perRate] = places;
  return [x0 + perMetre * instant(`${id}TravelAt`, time), y0 + perRate * instant(`${id}RateAt`, time)];
}

function planePath(id, from, to) {
  // On kept instants where they are not too many: the same points in every frame, no shimmer.
  const stride = ride.kept * Math.max(1, Math.ceil(TRAIL_S / ride.kept / TRAIL_POINTS));
  let path = "";
  const add = (time) => {
    const [x, y] = planePoint(id, time);
    path += `${path ? "L" : "M"}${x.toFixed(1)} ${y.toFixed(1)}`;
  };
  add(from);
  for (let n = Math.floor(from / stride) + 1; n * stride < to; n += 1) add(n * stride);
  add(to);
  return path;
}

function drawPlane(plane, time) {
  const fresh = Math.max(time - FRESH_S, 0);
  plane.old.setAttribute("d", planePath(plane.id, Math.max(time - TRAIL_S, 0), fresh));
  plane.trail.setAttribute("d", planePath(plane.id, fresh, time));
  const [x, y] = planePoint(plane.id, time);
  set(plane.here, { cx: x.toFixed(1), cy: y.toFixed(1) });
}
