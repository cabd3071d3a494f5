//! Spectra and transmissibility.

use super::collector::{Collected, Spectra};
use super::palette::Role;
use super::panel::{Axis, Figure, Layer, Panel};
use super::response::{BANDS_PER_OCTAVE, Band, ERROR_MAX};
use crate::spectrum::{density_bounds_95, independent_averages};

/// Least density of the floor, as a share of its greatest, at which a ratio to it is drawn.
const FLOOR_SHARE: f64 = 1.0e-4;
/// Decades of density below the greatest that are shown.
const DECADES: i32 = 7;

/// One-sided density of acceleration of floor, passive seat and law.
pub(super) fn density(ride: &Collected) -> Figure {
    let mut caption = "Mean square acceleration in each hertz.".to_owned();
    if let Ok(s) = &ride.spectra {
        let (low, high) = density_bounds_95(independent_averages(s.segments));
        caption = format!(
            "Mean square acceleration in each hertz. {} segments of {:.2} s, half overlapping, Hann \
             window, then averaged over 1/{BANDS_PER_OCTAVE} octave. At low frequency the true \
             density lies within {low:.2} to {high:.2} times the drawn one with 95 % confidence; \
             higher up more bins share a band and the scatter is less.",
            s.segments, s.segment_s
        );
    }
    Figure {
        id: "density",
        title: "Spectra of floor and seat",
        caption,
        alternative: ride.spectra.as_ref().map_or_else(
            |_| "No spectrum.".to_owned(),
            |s| {
                format!(
                    "Density of acceleration from 0.1 to 100 Hz on logarithmic axes. Greatest \
                     density: floor at {:.1} Hz, passive seat at {:.1} Hz, law at {:.1} Hz.",
                    greatest(&s.law, |b| b.input_density),
                    greatest(&s.passive, |b| b.output_density),
                    greatest(&s.law, |b| b.output_density),
                )
            },
        ),
        panels: ride
            .spectra
            .as_ref()
            .map_err(Clone::clone)
            .and_then(density_panel),
    }
}

fn greatest(bands: &[Band], value: impl Fn(&Band) -> f64) -> f64 {
    bands
        .iter()
        .max_by(|a, b| value(a).total_cmp(&value(b)))
        .map_or(f64::NAN, |b| b.frequency_hz)
}

fn density_panel(s: &Spectra) -> Result<Vec<Panel>, String> {
    let line = |bands: &[Band], value: fn(&Band) -> f64| -> Vec<(f64, f64)> {
        bands.iter().map(|b| (b.frequency_hz, value(b))).collect()
    };
    let floor = line(&s.law, |b| b.input_density);
    let passive = line(&s.passive, |b| b.output_density);
    let law = line(&s.law, |b| b.output_density);
    let top = super::figures_time::peak_of([&floor, &passive, &law]);
    if top <= 0.0 {
        return Err("The floor is still: there is no vibration to analyse.".to_owned());
    }
    let high = top.log10().ceil() as i32;
    let least = 10_f64.powi(high - DECADES);
    let y = Axis::logarithmic("density, (m/s²)²/Hz", least, 10_f64.powi(high));
    // Below the axis the line breaks; along its edge it would tell a density that is not there.
    let shown = |line: Vec<(f64, f64)>| -> Vec<(f64, f64)> {
        line.into_iter()
            .map(|p| (p.0, if p.1 >= least { p.1 } else { f64::NAN }))
            .collect()
    };
    let x = Axis::logarithmic("frequency, Hz", 0.1, 100.0);
    Ok(vec![
        Panel::new("", 330, x, y)
            .line("floor", Role::Floor, 1.0, shown(floor))
            .line("passive seat", Role::Passive, 1.6, shown(passive))
            .line("seat under the law", Role::Law, 2.2, shown(law)),
    ])
}

/// |H1| from floor to seat, with its confidence.
pub(super) fn transmissibility(ride: &Collected) -> Figure {
    Figure {
        id: "transmissibility",
        title: "Transmissibility from floor to seat",
        caption: format!(
            "Magnitude of H1, the part of the seat's motion that follows the floor's, and the range \
             that holds it with 95 % confidence, from the coherence. Below 1 the seat moves less \
             than the floor. Drawn where the standard error is at most {:.0} % and the floor's \
             density at least {FLOOR_SHARE} of its greatest: elsewhere the floor has too little \
             motion, or the seat's motion is not the floor's. The confidence is that of a steady \
             random floor; a single event gives less.",
            100.0 * ERROR_MAX
        ),
        alternative: ride.spectra.as_ref().map_or_else(
            |_| "No transmissibility.".to_owned(),
            |s| {
                format!(
                    "Transmissibility from 0.1 to 50 Hz on logarithmic axes with a line at 1. {} {}",
                    extent("Passive seat", &s.passive),
                    extent("Law", &s.law)
                )
            },
        ),
        panels: ride
            .spectra
            .as_ref()
            .map_err(Clone::clone)
            .and_then(transmissibility_panel),
    }
}

fn extent(name: &str, bands: &[Band]) -> String {
    let sure = sure(bands).into_iter().filter(|p| p.1.is_finite());
    let (low, high) = sure.fold((f64::INFINITY, 0.0), |(low, high): (f64, f64), p| {
        (low.min(p.1), high.max(p.1))
    });
    if high == 0.0 {
        format!("{name}: nowhere sure enough to draw.")
    } else {
        format!("{name}: {low:.3} to {high:.3}.")
    }
}

/// Frequency, magnitude and its bounds in every band up to 50 Hz; NaN where it is not drawn.
fn sure(bands: &[Band]) -> Vec<(f64, f64, f64, f64)> {
    let floor = bands
        .iter()
        .fold(0.0, |top: f64, b| top.max(b.input_density));
    bands
        .iter()
        .filter(|b| b.frequency_hz <= 50.0)
        .map(|b| {
            let drawn = b.input_density >= FLOOR_SHARE * floor;
            match b.bounds_95().filter(|_| drawn) {
                Some((low, high)) => (b.frequency_hz, b.transmissibility, low, high),
                None => (b.frequency_hz, f64::NAN, f64::NAN, f64::NAN),
            }
        })
        .collect()
}

fn transmissibility_panel(s: &Spectra) -> Result<Vec<Panel>, String> {
    let (law, passive) = (sure(&s.law), sure(&s.passive));
    let middles = || {
        law.iter()
            .chain(&passive)
            .map(|p| p.1)
            .filter(|m| m.is_finite())
    };
    if middles().next().is_none() {
        return Err(
            "Nowhere does the seat follow the floor surely enough to draw a transmissibility."
                .to_owned(),
        );
    }
    let low = middles().fold(0.1, f64::min).max(1.0e-4);
    let high = middles().fold(1.0, f64::max) * 1.5;
    let y = Axis::logarithmic(
        "seat over floor",
        10_f64.powf((low.log10() * 2.0).floor() / 2.0),
        10_f64.powf((high.log10() * 4.0).ceil() / 4.0),
    );
    let band = |p: &[(f64, f64, f64, f64)]| p.iter().map(|p| (p.0, p.2, p.3)).collect();
    let line = |p: &[(f64, f64, f64, f64)]| p.iter().map(|p| (p.0, p.1)).collect();
    Ok(vec![
        Panel::new("", 330, Axis::logarithmic("frequency, Hz", 0.1, 50.0), y)
            .with_named(
                "95 % confidence",
                Layer::Band {
                    role: Role::Passive,
                    opacity: 0.22,
                    points: band(&passive),
                },
            )
            .with(Layer::Band {
                role: Role::Law,
                opacity: 0.22,
                points: band(&law),
            })
            .with_named(
                "1: the seat moves like the floor",
                Layer::Level {
                    role: Role::Axis,
                    y: 1.0,
                },
            )
            .line("passive seat", Role::Passive, 1.6, line(&passive))
            .line("seat under the law", Role::Law, 2.2, line(&law)),
    ])
}
