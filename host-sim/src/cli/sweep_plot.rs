//! The picture of a sweep: transmissibility over frequency, both axes logarithmic.

use super::Failure;
use super::plot_style::{self, AXIS, BLUE, ORANGE, SMALL, legend_line};
use host_sim::sweep::SweepPoint;
use plotters::prelude::*;

const SIZE: (u32, u32) = (900, 560);

/// An SVG picture of the points (at least two).
pub(super) fn svg(points: &[SweepPoint]) -> Result<String, Failure> {
    plot_style::svg("sweep.svg", |text| draw(points, text))
}

fn draw(points: &[SweepPoint], text: &mut String) -> Result<(), Box<dyn std::error::Error>> {
    type Pick = fn(&SweepPoint) -> f64;
    let curves: [(&str, RGBColor, u32, Pick); 3] = [
        ("with the law", BLUE, 3, |p| p.seat.transmissibility),
        ("with the law, all frequencies (r.m.s.)", BLUE, 1, |p| {
            p.seat.total_rms_ratio
        }),
        ("passive seat", ORANGE, 3, |p| p.passive.transmissibility),
    ];
    let values = || {
        curves
            .iter()
            .flat_map(|curve| points.iter().map(curve.3))
            .filter(|v| v.is_finite() && *v > 0.0)
    };
    let decade = |x: f64| 10_f64.powf(x);
    let low = decade(values().fold(0.1, f64::min).max(1.0e-4).log10().floor());
    let high = decade(values().fold(1.0, f64::max).log10().ceil()).max(2.0);
    let frequencies = || points.iter().map(|p| p.frequency_hz);
    let (from, to) = (
        frequencies().fold(f64::MAX, f64::min),
        frequencies().fold(f64::MIN, f64::max),
    );

    let area = SVGBackend::with_string(text, SIZE).into_drawing_area();
    area.fill(&WHITE)?;
    let mut chart = ChartBuilder::on(&area)
        .caption("Seat over floor, stepped sine", ("sans-serif", 22))
        .margin(16)
        .x_label_area_size(48)
        .y_label_area_size(64)
        .build_cartesian_2d(
            (0.97 * from..1.03 * to).log_scale(),
            (low..high).log_scale(),
        )?;
    let plain = |x: &f64| {
        // Ticks carry the rounding of their steps.
        let rounded = format!("{x:.4}");
        rounded
            .trim_end_matches('0')
            .trim_end_matches('.')
            .to_owned()
    };
    chart
        .configure_mesh()
        .x_desc("frequency, Hz")
        .y_desc("transmissibility")
        .x_label_formatter(&plain)
        .y_label_formatter(&plain)
        .label_style(SMALL)
        .axis_desc_style(AXIS)
        .bold_line_style(RGBColor(0xc8, 0xc8, 0xc8))
        .light_line_style(RGBColor(0xec, 0xec, 0xec))
        .draw()?;
    let one = [(0.97 * from, 1.0), (1.03 * to, 1.0)];
    chart.draw_series(LineSeries::new(one, BLACK.stroke_width(1)))?;
    for (name, colour, width, pick) in curves {
        let line = points
            .iter()
            .map(|p| (p.frequency_hz, pick(p)))
            .filter(|p| p.1.is_finite() && p.1 > 0.0);
        let style = colour.stroke_width(width);
        chart
            .draw_series(LineSeries::new(line, style))?
            .label(name)
            .legend(legend_line(style));
    }
    chart
        .configure_series_labels()
        .position(SeriesLabelPosition::LowerLeft)
        .background_style(WHITE.mix(0.9))
        .border_style(RGBColor(0xc8, 0xc8, 0xc8))
        .label_font(SMALL)
        .draw()?;
    area.present()?;
    drop(chart);
    Ok(())
}
