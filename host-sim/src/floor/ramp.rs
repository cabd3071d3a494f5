//! A smooth ramp from 0 to 1, and the second derivatives of products with it.

/// Values of a function of time and its first two derivatives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Jet {
    pub(crate) value: f64,
    pub(crate) rate: f64,
    pub(crate) curvature: f64,
}

impl Jet {
    /// A function that does not change with time.
    pub(crate) const fn constant(value: f64) -> Self {
        Self {
            value,
            rate: 0.0,
            curvature: 0.0,
        }
    }

    /// `g(self)`, given the value and two derivatives of `g` there.
    pub(crate) fn compose(self, g: f64, g1: f64, g2: f64) -> Self {
        Self {
            value: g,
            rate: g1 * self.rate,
            curvature: g2 * self.rate * self.rate + g1 * self.curvature,
        }
    }

    /// Sine.
    pub(crate) fn sin(self) -> Self {
        let (s, c) = self.value.sin_cos();
        self.compose(s, c, -s)
    }

    /// Real power of a positive value.
    pub(crate) fn powf(self, power: f64) -> Self {
        let g = self.value.powf(power);
        let g1 = power * g / self.value;
        self.compose(g, g1, (power - 1.0) * g1 / self.value)
    }

    /// Sum with a constant.
    pub(crate) fn plus(self, offset: f64) -> Self {
        Self {
            value: self.value + offset,
            ..self
        }
    }

    /// Product with a constant.
    pub(crate) fn times(self, factor: f64) -> Self {
        Self {
            value: self.value * factor,
            rate: self.rate * factor,
            curvature: self.curvature * factor,
        }
    }

    /// Product of two functions.
    pub(crate) fn product(self, other: Self) -> Self {
        Self {
            value: self.value * other.value,
            rate: self.rate * other.value + self.value * other.rate,
            curvature: self.curvature * other.value
                + 2.0 * self.rate * other.rate
                + self.value * other.curvature,
        }
    }
}

/// Rises from 0 at time 0 to 1 at `length_s` by 35 s^4 - 84 s^5 + 70 s^6 - 20 s^7; the first three
/// derivatives are continuous, so acceleration and jerk of a ramped displacement do not jump.
pub(crate) fn ramp(time_s: f64, length_s: f64) -> Jet {
    if time_s >= length_s {
        return Jet::constant(1.0);
    }
    if time_s <= 0.0 {
        return Jet::constant(0.0);
    }
    let s = time_s / length_s;
    let r = 1.0 - s;
    Jet {
        value: s * s * s * s * (35.0 + s * (-84.0 + s * (70.0 - 20.0 * s))),
        rate: 140.0 * (s * r) * (s * r) * (s * r) / length_s,
        curvature: 420.0 * (s * r) * (s * r) * (1.0 - 2.0 * s) / (length_s * length_s),
    }
}

/// 0 at 0, 1 inside, 0 at `length_s`; each flank is a [`ramp`] of `flank_s`.
pub(crate) fn window(time_s: f64, length_s: f64, flank_s: f64) -> Jet {
    if time_s <= 0.5 * length_s {
        ramp(time_s, flank_s)
    } else {
        let mut jet = ramp(length_s - time_s, flank_s);
        jet.rate = -jet.rate;
        jet
    }
}
