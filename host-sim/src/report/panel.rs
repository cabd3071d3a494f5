//! What a figure shows: panels with two axes and layers, free of any drawing.

use super::palette::Role;

/// One axis. A logarithmic axis holds decimal logarithms of its limits and ticks.
#[derive(Clone, Debug)]
pub(super) struct Axis {
    pub(super) label: String,
    pub(super) low: f64,
    pub(super) high: f64,
    pub(super) logarithmic: bool,
    pub(super) ticks: Vec<f64>,
    pub(super) fine_ticks: Vec<f64>,
    /// Text of each tick.
    pub(super) names: Vec<String>,
}

impl Axis {
    /// Even axis from `low` to `high` with about `count` ticks at round values.
    pub(super) fn even(label: &str, low: f64, high: f64, count: usize) -> Self {
        let (low, high) = if (high - low).is_normal() && high > low {
            (low, high)
        } else {
            let start = if low.is_finite() { low } else { 0.0 };
            (start, start + 1.0)
        };
        let span = high - low;
        let step = round_step(span / count.max(1) as f64);
        let decimals = (-(step.log10() + 1.0e-9).floor()).clamp(0.0, 12.0) as usize;
        let first = (low / step - 1.0e-6).ceil() as i64;
        let last = (high / step + 1.0e-6).floor() as i64;
        let ticks: Vec<f64> = (first..=last).map(|i| i as f64 * step).collect();
        Self {
            label: label.to_owned(),
            low,
            high,
            logarithmic: false,
            names: ticks.iter().map(|t| format!("{t:.decimals$}")).collect(),
            ticks,
            fine_ticks: Vec::new(),
        }
    }

    /// Even axis with zero in the middle that holds values up to `peak` either way.
    pub(super) fn symmetric(label: &str, peak: f64, count: usize) -> Self {
        let reach = if peak > 0.0 && peak.is_finite() {
            1.06 * peak
        } else {
            1.0
        };
        Self::even(label, -reach, reach, count)
    }

    /// Logarithmic axis with a tick at each decade, and at twice and five times it when there are few.
    pub(super) fn logarithmic(label: &str, low: f64, high: f64) -> Self {
        let (low, high) = (low.log10(), high.log10());
        let span = low.floor() as i32..=high.floor() as i32;
        let named: &[i32] = if high - low <= 3.0 { &[1, 2, 5] } else { &[1] };
        let inside = |t: &f64| (low - 1.0e-9..=high + 1.0e-9).contains(t);
        let at = |decade: i32, lead: i32| f64::from(decade) + f64::from(lead).log10();
        let (ticks, names) = span
            .clone()
            .flat_map(|d| named.iter().map(move |&m| (d, m)))
            .filter(|&(d, m)| inside(&at(d, m)))
            .map(|(d, m)| (at(d, m), power_name(d, m)))
            .unzip();
        Self {
            label: label.to_owned(),
            low,
            high,
            logarithmic: true,
            fine_ticks: span
                .flat_map(|d| (2..10).map(move |m| at(d, m)))
                .filter(inside)
                .collect(),
            ticks,
            names,
        }
    }

    /// One place for each name, the first on top.
    pub(super) fn rows(names: Vec<String>) -> Self {
        let count = names.len();
        Self {
            label: String::new(),
            low: 0.5 - count as f64,
            high: 0.5,
            logarithmic: false,
            ticks: (0..count).map(|i| -(i as f64)).collect(),
            fine_ticks: Vec::new(),
            names,
        }
    }

    /// Where a value lies on the axis, kept within its ends.
    pub(super) fn place(&self, value: f64) -> f64 {
        let place = if self.logarithmic {
            value.max(f64::MIN_POSITIVE).log10()
        } else {
            value
        };
        place.clamp(self.low, self.high)
    }

    /// Whether a value lies between the ends.
    pub(super) fn holds(&self, value: f64) -> bool {
        let place = if self.logarithmic {
            value.log10()
        } else {
            value
        };
        (self.low..=self.high).contains(&place)
    }
}

/// The next of 1, 2, 5 times a power of ten above `step`, or a little below it.
fn round_step(step: f64) -> f64 {
    let power = 10_f64.powf(step.log10().floor());
    let lead = step / power;
    let round = [1.0, 2.0, 5.0]
        .into_iter()
        .find(|r| lead <= r * 1.2)
        .unwrap_or(10.0);
    round * power
}

/// `lead` times ten to the `decade`, as it stands at a tick.
fn power_name(decade: i32, lead: i32) -> String {
    if (-2..=3).contains(&decade) {
        let decimals = usize::try_from(-decade).unwrap_or(0);
        return format!("{:.decimals$}", f64::from(lead) * 10_f64.powi(decade));
    }
    let exponent: String = decade
        .to_string()
        .chars()
        .map(|c| match c {
            '-' => '⁻',
            '1' => '¹',
            '2' => '²',
            '3' => '³',
            '0' | '4'..='9' => char::from_u32('⁰' as u32 + (c as u32 - '0' as u32)).unwrap_or(c),
            other => other,
        })
        .collect();
    if lead == 1 {
        format!("10{exponent}")
    } else {
        format!("{lead}·10{exponent}")
    }
}

/// Something drawn in a panel. Coordinates are values, not places.
#[derive(Clone, Debug)]
pub(super) enum Layer {
    /// A line of `width` pixels; it breaks where a value is NaN.
    Line {
        role: Role,
        width: f64,
        points: Vec<(f64, f64)>,
    },
    /// The area between two lines over the same abscissae: (x, low, high). It breaks at NaN.
    Band {
        role: Role,
        opacity: f64,
        points: Vec<(f64, f64, f64)>,
    },
    /// Dots, or rings.
    Dots {
        role: Role,
        ring: bool,
        points: Vec<(f64, f64)>,
    },
    /// A line at one ordinate.
    Level { role: Role, y: f64 },
    /// A line at one abscissa with words beside it.
    Moment { role: Role, x: f64, words: String },
    /// A rectangle.
    Block {
        role: Role,
        opacity: f64,
        x: (f64, f64),
        y: (f64, f64),
    },
    /// Short upright strokes at one ordinate.
    Strokes { role: Role, y: f64, x: Vec<f64> },
}

/// One panel of a figure.
#[derive(Clone, Debug)]
pub(super) struct Panel {
    /// Heading, left above the axes.
    pub(super) heading: String,
    /// Height of the plotting area, pixels.
    pub(super) height: u32,
    pub(super) x: Axis,
    pub(super) y: Axis,
    /// Layers in order of drawing, with the words in the legend (empty for none).
    pub(super) layers: Vec<(Layer, &'static str)>,
}

impl Panel {
    pub(super) fn new(heading: &str, height: u32, x: Axis, y: Axis) -> Self {
        Self {
            heading: heading.to_owned(),
            height,
            x,
            y,
            layers: Vec::new(),
        }
    }

    /// Adds a layer that stays out of the legend.
    pub(super) fn with(mut self, layer: Layer) -> Self {
        self.layers.push((layer, ""));
        self
    }

    /// Adds a layer with its words in the legend.
    pub(super) fn with_named(mut self, name: &'static str, layer: Layer) -> Self {
        self.layers.push((layer, name));
        self
    }

    /// Adds a named line.
    pub(super) fn line(
        self,
        name: &'static str,
        role: Role,
        width: f64,
        points: Vec<(f64, f64)>,
    ) -> Self {
        self.with_named(
            name,
            Layer::Line {
                role,
                width,
                points,
            },
        )
    }

    /// Adds two levels at `y` and `-y`, named in the legend.
    pub(super) fn named_levels(self, name: &'static str, role: Role, y: f64) -> Self {
        self.with_named(name, Layer::Level { role, y })
            .with(Layer::Level { role, y: -y })
    }
}

/// A figure with everything that goes around it.
pub(super) struct Figure {
    /// Unique name for links and identifiers.
    pub(super) id: &'static str,
    /// What it shows, a few words.
    pub(super) title: &'static str,
    /// How to read it, plain text.
    pub(super) caption: String,
    /// Text alternative: what one would see.
    pub(super) alternative: String,
    /// Panels, or why there are none.
    pub(super) panels: Result<Vec<Panel>, String>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_inside() {
        let axis = Axis::symmetric("x", 14.2, 6);
        assert_eq!(axis.names, ["-15", "-10", "-5", "0", "5", "10", "15"]);
        let axis = Axis::even("x", 0.0, 0.93, 5);
        assert_eq!(axis.names, ["0.0", "0.2", "0.4", "0.6", "0.8"]);
        let axis = Axis::logarithmic("x", 1.0e-5, 100.0);
        assert_eq!(
            axis.names,
            ["10⁻⁵", "10⁻⁴", "10⁻³", "0.01", "0.1", "1", "10", "100"]
        );
        let axis = Axis::logarithmic("x", 0.1, 50.0);
        assert_eq!(
            axis.names,
            ["0.1", "0.2", "0.5", "1", "2", "5", "10", "20", "50"]
        );
    }
}
