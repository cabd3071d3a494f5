//! The quarter car of the International Roughness Index, discretised exactly.
//!
//! Parameters after Sayers (World Bank Technical Paper 46; ASTM E1926), per unit of body mass:
//! tyre stiffness 653 /s2, suspension stiffness 63.3 /s2, suspension damping 6 /s, axle mass 0.15.

use nalgebra::{Matrix4, SMatrix, Vector4};

/// Quarter car in `[zs, zs', zu, zu']`: body and axle displacement and velocity, driven by the
/// road's displacement. The system is linear, so the same matrices drive the derivatives: with the
/// road's *velocity* as input, the state is body velocity, body acceleration, axle velocity,
/// axle acceleration. With the road's slope they are the slope form of the published tables.
#[derive(Debug, Clone, PartialEq)]
pub struct QuarterCar {
    /// Continuous-time system matrix.
    pub system: Matrix4<f64>,
    /// Continuous-time input vector.
    pub input: Vector4<f64>,
}

/// The quarter car over one step with the input held: `x' = transition x + hold u`.
#[derive(Debug, Clone, PartialEq)]
pub struct QuarterCarStep {
    /// State transition matrix (published as ST).
    pub transition: Matrix4<f64>,
    /// Input vector (published as PR).
    pub hold: Vector4<f64>,
}

impl QuarterCar {
    /// The quarter car with the parameters of the roughness index.
    #[must_use]
    pub fn iri() -> Self {
        let (tyre, spring, axle, damper) = (653.0, 63.3, 0.15, 6.0);
        Self {
            system: Matrix4::new(
                0.0,
                1.0,
                0.0,
                0.0,
                -spring,
                -damper,
                spring,
                damper,
                0.0,
                0.0,
                0.0,
                1.0,
                spring / axle,
                damper / axle,
                -(tyre + spring) / axle,
                -damper / axle,
            ),
            input: Vector4::new(0.0, 0.0, 0.0, tyre / axle),
        }
    }

    /// Exact discretisation by the matrix exponential, the input held over `step_s`.
    #[must_use]
    pub fn discretise(&self, step_s: f64) -> QuarterCarStep {
        let mut joined = SMatrix::<f64, 5, 5>::zeros();
        joined
            .fixed_view_mut::<4, 4>(0, 0)
            .copy_from(&(self.system * step_s));
        joined
            .fixed_view_mut::<4, 1>(0, 4)
            .copy_from(&(self.input * step_s));
        let exponential = joined.exp();
        QuarterCarStep {
            transition: exponential.fixed_view::<4, 4>(0, 0).into_owned(),
            hold: exponential.fixed_view::<4, 1>(0, 4).into_owned(),
        }
    }
}
