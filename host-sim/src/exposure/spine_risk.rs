//! Compressive stress and injury probability of ISO 2631-5:2018, Annex C.
//!
//! Annex C is informative; it sets no limit. Constants as transcribed by the
//! open-source library phonometry.

use super::error::{ExposureError, check_not_negative, check_positive};

/// Acceleration of gravity in the static stress, m/s2 (Annex C).
pub const GRAVITY_MPS2: f64 = 9.81;
/// Strength of the spine at age 0 in the linear law, MPa (Formula C.4).
pub const STRENGTH_AT_AGE_0_MPA: f64 = 6.75;

/// Person model of Annex C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpineRiskModel {
    /// Stress per acceleration `m_z`, MPa/(m/s2) (Formula C.2).
    pub stress_per_acceleration_mpa_per_mps2: f64,
    /// Loss of strength per year of age, MPa (Formula C.4).
    pub strength_loss_mpa_per_year: f64,
    /// Scale of the Weibull law (Table C.1).
    pub weibull_scale: f64,
    /// Shape of the Weibull law (Table C.1).
    pub weibull_shape: f64,
}

impl SpineRiskModel {
    /// Male, 82 kg.
    pub const MALE_82_KG: Self = Self {
        stress_per_acceleration_mpa_per_mps2: 0.029,
        strength_loss_mpa_per_year: 0.052,
        weibull_scale: 1.613,
        weibull_shape: 2.799,
    };

    /// Female, 64 kg.
    pub const FEMALE_64_KG: Self = Self {
        stress_per_acceleration_mpa_per_mps2: 0.025,
        strength_loss_mpa_per_year: 0.039,
        weibull_scale: 0.959,
        weibull_shape: 3.709,
    };

    /// Daily compressive stress `S_d = m_z D_zd` (Formula C.1), MPa.
    #[must_use]
    pub fn daily_stress_mpa(&self, daily_dose_mps2: f64) -> f64 {
        self.stress_per_acceleration_mpa_per_mps2 * daily_dose_mps2
    }

    /// Stress of the body's own weight, MPa.
    #[must_use]
    pub fn static_stress_mpa(&self) -> f64 {
        self.stress_per_acceleration_mpa_per_mps2 * GRAVITY_MPS2
    }

    /// Strength of the spine at an age in years, MPa (Formula C.4).
    #[must_use]
    pub fn strength_mpa(&self, age_years: f64) -> f64 {
        STRENGTH_AT_AGE_0_MPA - self.strength_loss_mpa_per_year * age_years
    }

    /// Stress variable R (Formula C.3), no unit.
    ///
    /// `years` years of exposure from `start_age_years` on, with
    /// `days_per_year` exposed days. Year `i` counts from 0, as the worked
    /// example of Annex C needs it.
    ///
    /// # Errors
    /// [`ExposureError::Field`] when an argument is out of range, or the
    /// strength is used up within the years asked for.
    pub fn stress_variable(
        &self,
        daily_stress_mpa: f64,
        start_age_years: f64,
        years: u32,
        days_per_year: f64,
    ) -> Result<f64, ExposureError> {
        check_not_negative("daily_stress_mpa", daily_stress_mpa)?;
        check_not_negative("start_age_years", start_age_years)?;
        check_positive("days_per_year", days_per_year)?;
        check_positive("years", f64::from(years))?;
        let last_age_years = start_age_years + f64::from(years - 1);
        let reserve_at_end = self.strength_mpa(last_age_years) - self.static_stress_mpa();
        if reserve_at_end <= 0.0 {
            return Err(ExposureError::Field {
                field: "years",
                value: f64::from(years),
                expected: "an end of exposure at which the spine still carries the body",
            });
        }
        let sum: f64 = (0..years)
            .map(|year| {
                let age_years = start_age_years + f64::from(year);
                let reserve = self.strength_mpa(age_years) - self.static_stress_mpa();
                (daily_stress_mpa / reserve).powi(6) * days_per_year
            })
            .sum();
        Ok(sum.powf(1.0 / 6.0))
    }

    /// Probability of a lumbar injury, 0 to 1 (Formula C.5).
    ///
    /// 0 for a stress variable of 0 or below, NaN for NaN.
    #[must_use]
    pub fn injury_probability(&self, stress_variable: f64) -> f64 {
        if stress_variable <= 0.0 {
            return 0.0;
        }
        let scaled = stress_variable / self.weibull_scale;
        -(-scaled.powf(self.weibull_shape)).exp_m1()
    }
}
