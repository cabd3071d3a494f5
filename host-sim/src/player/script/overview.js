// The whole ride on one line: what the floor and the law's seat did, modes, events.
const MODE_LOOK = {
  active: ["law", 0.85], beyond: ["mark", 0.85], derated: ["mark", 0.5], rise: ["law", 0.35], settle: ["law", 0.35],
  fault: ["care", 1], damped: ["care", 0.7], limp: ["care", 0.5], release: ["care", 0.5],
};
const MARK_ROWS = { fault: 0, answer: 0, contact: 1, arrest: 1, "passive-contact": 2, extreme: 2, mode: 3 };
const MARK_WORDS = "band: mode · ◆ fault, ◇ answered · ▼ arrest · ▮ stop met: by the law's seat beside the arrests, by the passive seat below · ○ largest value";
const overviewX = (time, width) => (time / ride.end) * width;

function mark(pen, kind, x, y) {
  pen.beginPath();
  if (kind === "fault") {
    // A filled rhomb; an empty one for the answer.
    pen.moveTo(x, y - 6); pen.lineTo(x + 6, y); pen.lineTo(x, y + 6); pen.lineTo(x - 6, y); pen.closePath();
    pen.fillStyle = colours.care;
    pen.fill();
  } else if (kind === "answer") {
    pen.moveTo(x, y - 5); pen.lineTo(x + 5, y); pen.lineTo(x, y + 5); pen.lineTo(x - 5, y); pen.closePath();
    pen.strokeStyle = colours.care;
    pen.stroke();
  } else if (kind === "arrest") {
    pen.moveTo(x - 4, y - 4); pen.lineTo(x + 4, y - 4); pen.lineTo(x, y + 4); pen.closePath();
    pen.fillStyle = colours.law;
    pen.fill();
  } else if (kind === "contact" || kind === "passive-contact") {
    pen.fillStyle = kind === "contact" ? colours.care : colours.passive;
    pen.fillRect(x - 1.5, y - 5, 3, 10);
  } else if (kind === "extreme") {
    pen.arc(x, y, 3.5, 0, 7);
    pen.strokeStyle = colours.ink;
    pen.stroke();
  }
}

function drawOverview() {
  const { pen, width, height } = fit($("overview"));
  const band = 6;
  const marks = 36;
  const box = { left: 0, width, top: 2, height: height - band - marks - 4 };
  const most = 1.05 * Math.max(peakOf("floorAccel"), peakOf("lawAccel")) || 1;
  const y = (value) => box.top + 0.5 * box.height * (1 - value / most);
  pen.fillStyle = colours.tint;
  pen.fillRect(0, 0, overviewX(raw.skipped_s, width), box.top + box.height);
  for (const role of ["floor", "law"]) {
    pen.strokeStyle = pen.fillStyle = colours[role];
    pen.lineWidth = 1;
    trace(pen, `${role}Accel`, 0, ride.end, box, y);
  }
  const top = box.top + box.height + 2;
  ride.modes.forEach(([from, mode], n) => {
    const to = n + 1 < ride.modes.length ? ride.modes[n + 1][0] : ride.end;
    const [role, strength] = MODE_LOOK[mode] || ["soft", 0.3];
    pen.globalAlpha = strength;
    pen.fillStyle = colours[role];
    pen.fillRect(overviewX(from, width), top, Math.max(overviewX(to - from, width), 1), band);
  });
  pen.globalAlpha = 1;
  pen.lineWidth = 1.4;
  // Faults last, so that nothing lies on them.
  for (const event of [...ride.events].reverse()) {
    if (event.kind !== "mode") mark(pen, event.kind, overviewX(event.at_s, width), top + band + 7 + 11 * MARK_ROWS[event.kind]);
  }
}

// The event whose mark is nearest to a place, if one is near enough.
function eventNear(x, width) {
  let best = null;
  for (const event of ride.events) {
    const away = Math.abs(overviewX(event.at_s, width) - x);
    if (event.kind !== "mode" && away < 5 && (!best || away < best.away)) best = { away, event };
  }
  return best && best.event;
}

function drawHead(time) {
  $("head").style.transform = `translateX(${overviewX(time, $("overview").clientWidth) - 1}px)`;
}
