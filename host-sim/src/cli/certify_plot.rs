//! The picture of a certificate: the proven set in the plane of travel and travel rate, with rides over it.

use super::Failure;
use super::plot_style::{self, AXIS, BLUE, ORANGE, SMALL, legend_line};
use host_sim::floor::FloorSpec;
use host_sim::proof::certificate::Certificate;
use host_sim::ride::{self, RideSpec};
use host_sim::rig::Rig;
use plotters::prelude::*;

const SIZE: (u32, u32) = (900, 640);
const STOPS: RGBColor = RGBColor(0x55, 0x55, 0x55);
/// Rides within the floor's bound: floor, level, occupant, colour.
const RIDES: [(&str, f64, f64, RGBColor); 2] = [
    ("hauler", 1.5, 80.0, ORANGE),
    ("loader", 2.0, 130.0, RGBColor(0x2f, 0x7d, 0x32)),
];
/// Every so many periods a point is drawn.
const EVERY: usize = 4;

/// An SVG picture.
pub(super) fn svg(rig: &Rig, certificate: &Certificate) -> Result<String, Failure> {
    let mut rides = Vec::new();
    for (name, level, occupant_kg, colour) in RIDES {
        let spec = RideSpec {
            occupant_kg,
            seconds: 30.0,
            ..RideSpec::on(FloorSpec {
                level,
                ..FloorSpec::named(name)
            })
        };
        let mut points = Vec::new();
        let mut n = 0;
        ride::run(rig, &spec, |s| {
            n += 1;
            if s.time_s >= spec.skip_s && n % EVERY == 0 {
                points.push((s.travel * 1e3, s.travel_rate));
            }
            true
        })?;
        rides.push((format!("{name} x{level}, {occupant_kg} kg"), colour, points));
    }
    plot_style::svg("certificate.svg", |text| draw(certificate, &rides, text))
}

type Ride = (String, RGBColor, Vec<(f64, f64)>);

fn draw(
    certificate: &Certificate,
    rides: &[Ride],
    text: &mut String,
) -> Result<(), Box<dyn std::error::Error>> {
    let set = &certificate.set;
    let travel = set.travel_m * 1e3;
    let most = set.rate_mps.first().copied().unwrap_or(1.0) * 1.25;
    let upper: Vec<(f64, f64)> = set
        .rate_mps
        .iter()
        .enumerate()
        .map(|(n, &rate)| (-travel + n as f64 * set.cell_m * 1e3, rate))
        .collect();
    let whole: Vec<(f64, f64)> = upper
        .iter()
        .copied()
        .chain(upper.iter().map(|&(x, rate)| (-x, -rate)))
        .collect();

    let area = SVGBackend::with_string(text, SIZE).into_drawing_area();
    area.fill(&WHITE)?;
    let verdict = if certificate.holds {
        "proven set"
    } else {
        "set that could NOT be proved"
    };
    let mut chart = ChartBuilder::on(&area)
        .caption(
            format!(
                "Travel and travel rate: {verdict} for floors up to {} m/s²",
                certificate.floor_acceleration_bound_mps2
            ),
            ("sans-serif", 20),
        )
        .margin(16)
        .x_label_area_size(48)
        .y_label_area_size(64)
        .build_cartesian_2d(-1.1 * travel..1.1 * travel, -most..most)?;
    chart
        .configure_mesh()
        .x_desc("travel, mm")
        .y_desc("travel rate, m/s")
        .label_style(SMALL)
        .axis_desc_style(AXIS)
        .bold_line_style(RGBColor(0xd8, 0xd8, 0xd8))
        .light_line_style(WHITE)
        .draw()?;
    chart
        .draw_series([Polygon::new(whole.clone(), BLUE.mix(0.10).filled())])?
        .label(verdict)
        .legend(legend_line(BLUE.stroke_width(2)));
    let outline = whole.iter().copied().chain(whole.first().copied());
    chart.draw_series(LineSeries::new(outline, BLUE.stroke_width(2)))?;
    for side in [-travel, travel] {
        chart.draw_series(LineSeries::new(
            [(side, -most), (side, most)],
            STOPS.stroke_width(2),
        ))?;
    }
    for (name, colour, points) in rides {
        let colour = *colour;
        chart
            .draw_series(LineSeries::new(
                points.iter().copied(),
                colour.mix(0.7).stroke_width(1),
            ))?
            .label(name.clone())
            .legend(legend_line(colour.stroke_width(2)));
    }
    if let Some(place) = &certificate.counter_example {
        let sign = place.end.sign();
        let at = (sign * place.travel_m * 1e3, sign * place.rate_mps);
        chart
            .draw_series([Circle::new(at, 6, RED.filled())])?
            .label("cannot be proved here")
            .legend(|(x, y)| Circle::new((x + 12, y), 5, RED.filled()));
    }
    chart
        .configure_series_labels()
        .position(SeriesLabelPosition::UpperRight)
        .background_style(WHITE.mix(0.85))
        .border_style(RGBColor(0xb0, 0xb0, 0xb0))
        .label_font(SMALL)
        .draw()?;
    area.present()?;
    Ok(())
}
