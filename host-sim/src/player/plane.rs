//! Travel rate against travel, with the stops, the arrest curve and the proven set, as SVG.

use super::recorder::Recorded;
use crate::rig::Rig;

/// Size of the picture and of the margins around the plot, in its own units.
const SIZE: [f64; 2] = [480.0, 250.0];
const LEFT: f64 = 62.0;
const RIGHT: f64 = 10.0;
const TOP: f64 = 10.0;
const BELOW: f64 = 48.0;
/// Points of a curve over the whole travel.
const POINTS: usize = 120;

/// How numbers are placed.
#[derive(Clone, Copy, Debug)]
pub(super) struct Plane {
    /// Travel at the right edge, mm; the left one is its mirror image.
    pub(super) travel_mm: f64,
    /// Travel rate at the upper edge, m/s; the lower one is its mirror image.
    pub(super) rate_mps: f64,
}

impl Plane {
    /// Wide enough for everything that both seats did.
    pub(super) fn of(ride: &Recorded) -> Self {
        let instants = ride.thinner.instants().iter();
        let peak = instants.fold([0.0_f64; 2], |peak, row| {
            [
                peak[0].max(row[1].abs()).max(row[2].abs()),
                peak[1].max(row[3].abs()).max(row[4].abs()),
            ]
        });
        let arrest = highest(&ride.rig, -ride.rig.seat.travel_m);
        let set = ride.standing.set.rate(-ride.rig.seat.travel_m);
        Self {
            travel_mm: 1.06 * (1000.0 * peak[0]).max(1100.0 * ride.rig.seat.travel_m),
            rate_mps: 1.06 * peak[1].max(arrest).max(set),
        }
    }

    fn x(&self, travel_mm: f64) -> f64 {
        let middle = 0.5 * (LEFT + SIZE[0] - RIGHT);
        middle + travel_mm / self.travel_mm * (middle - LEFT)
    }

    fn y(&self, rate_mps: f64) -> f64 {
        let middle = 0.5 * (TOP + SIZE[1] - BELOW);
        middle - rate_mps / self.rate_mps * (middle - TOP)
    }

    /// Where the script places a travel (m) and a rate (m/s): x and y at zero, and a unit's worth of each.
    pub(super) fn places(&self) -> [f64; 4] {
        [
            self.x(0.0),
            self.y(0.0),
            1000.0 * (self.x(1.0) - self.x(0.0)),
            self.y(1.0) - self.y(0.0),
        ]
    }

    fn path(&self, points: impl Iterator<Item = (f64, f64)>) -> String {
        let mut path = String::new();
        for (travel_m, rate) in points {
            path += if path.is_empty() { "M" } else { "L" };
            path += &format!("{:.1} {:.1}", self.x(1000.0 * travel_m), self.y(rate));
        }
        path
    }
}

/// Highest rate toward the upper end at a travel (m) by the arrest's profile, m/s: V(d) = sqrt((vc + u)^2 + 2 A d) - u.
fn highest(rig: &Rig, travel_m: f64) -> f64 {
    let arrest = &rig.firmware.arrest;
    let left = (f64::from(arrest.rest_m) - travel_m).max(0.0);
    let (touch, allowance) = (f64::from(arrest.touch_mps), f64::from(arrest.allowance_mps));
    let end = touch + allowance;
    (end * end + 2.0 * f64::from(arrest.braking_mps2) * left).sqrt() - allowance
}

/// Round steps so that about `count` fit on one side.
fn step(most: f64, count: f64) -> f64 {
    let wanted = most / count;
    let decade = 10.0_f64.powf(wanted.log10().floor());
    let round = [1.0, 2.0, 5.0, 10.0].map(|digit| digit * decade);
    round.into_iter().find(|s| *s >= wanted).unwrap_or(wanted)
}

/// The picture of one seat; `id` is `passive` or `law`, `words` what it is.
pub(super) fn svg(ride: &Recorded, plane: &Plane, id: &str, words: &str) -> String {
    let rig = &ride.rig;
    let travel = rig.seat.travel_m;
    let over = |n: usize| -travel + 2.0 * travel * n as f64 / POINTS as f64;
    let upper = |f: &dyn Fn(f64) -> f64| -> Vec<(f64, f64)> {
        (0..=POINTS).map(|n| (over(n), f(over(n)))).collect()
    };
    let mirrored = |points: &[(f64, f64)]| -> Vec<(f64, f64)> {
        points.iter().map(|p| (-p.0, -p.1)).collect()
    };
    let set = upper(&|x| ride.standing.set.rate(x));
    let whole = set.iter().copied().chain(mirrored(&set));
    let arrest = upper(&|x| highest(rig, x));
    let kind = if ride.standing.proved {
        "set"
    } else {
        "set unproved"
    };
    let mut svg = format!(
        "<svg id=\"plane-{id}\" class=\"plane {id}\" viewBox=\"0 0 {} {}\" role=\"img\" \
         aria-labelledby=\"plane-{id}-name\" aria-describedby=\"plane-words\">\n\
         <title id=\"plane-{id}-name\">{words}: travel rate against travel</title>\n{}",
        SIZE[0],
        SIZE[1],
        mesh(plane)
    );
    svg += &format!("<path class=\"{kind}\" d=\"{}Z\"/>\n", plane.path(whole));
    for half in [mirrored(&arrest), arrest] {
        svg += &format!(
            "<path class=\"arrest\" d=\"{}\"/>\n",
            plane.path(half.into_iter())
        );
    }
    for side in [-travel, travel] {
        let x = plane.x(1000.0 * side);
        svg += &format!(
            "<line class=\"stop\" x1=\"{x:.1}\" x2=\"{x:.1}\" y1=\"{TOP}\" y2=\"{:.1}\"/>\n",
            SIZE[1] - BELOW
        );
    }
    svg + "<path data-part=\"old\" class=\"trail old\"/>\n<path data-part=\"trail\" class=\"trail\"/>\n\
           <circle data-part=\"here\" class=\"here\" r=\"6\"/>\n</svg>\n"
}

fn mesh(plane: &Plane) -> String {
    let mut svg = String::new();
    let (right, bottom) = (SIZE[0] - RIGHT, SIZE[1] - BELOW);
    let ticks = |most: f64, count: f64| {
        let step = step(most, count);
        let last = (most / step).floor() as i32;
        (-last..=last).map(move |n| (f64::from(n) * step, step))
    };
    let name = |value: f64, step: f64| {
        let digits = (-step.log10().floor()).max(0.0) as usize;
        format!("{value:.digits$}")
            .replace("-0.0", "0.0")
            .replace('-', "−")
    };
    for (mm, step) in ticks(plane.travel_mm, 3.0) {
        let x = plane.x(mm);
        svg += &format!(
            "<line class=\"mesh\" x1=\"{x:.1}\" x2=\"{x:.1}\" y1=\"{TOP}\" y2=\"{bottom:.1}\"/>\
             <text class=\"middle\" x=\"{x:.1}\" y=\"{:.1}\">{}</text>\n",
            bottom + 19.0,
            name(mm, step)
        );
    }
    for (rate, step) in ticks(plane.rate_mps, 2.4) {
        let y = plane.y(rate);
        svg += &format!(
            "<line class=\"mesh\" x1=\"{LEFT}\" x2=\"{right:.1}\" y1=\"{y:.1}\" y2=\"{y:.1}\"/>\
             <text class=\"end\" x=\"{:.1}\" y=\"{:.1}\">{}</text>\n",
            LEFT - 6.0,
            y + 5.5,
            name(rate, step)
        );
    }
    svg + &format!(
        "<text class=\"middle\" x=\"{:.1}\" y=\"{:.1}\">travel, mm</text>\n\
         <text class=\"middle\" transform=\"translate(14 {:.1}) rotate(-90)\">travel rate, m/s</text>\n",
        plane.x(0.0),
        SIZE[1] - 8.0,
        plane.y(0.0)
    )
}
