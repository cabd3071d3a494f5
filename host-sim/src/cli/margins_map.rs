//! The picture of the margins: worst disk margin over mass and extra delay.

use super::Failure;
use super::plot_style::{self, AXIS, ORANGE, SMALL};
use super::words::number;
use host_sim::margins::limits::Limits;
use host_sim::margins::map::MarginMap;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

const SIZE: (u32, u32) = (980, 620);
const LINE: RGBColor = RGBColor(0x1c, 0x25, 0x30);

/// An SVG picture of the map.
pub(super) fn svg(map: &MarginMap, limits: &Limits) -> Result<String, Failure> {
    plot_style::svg("margins.svg", |text| draw(map, limits, text))
}

/// Pale orange below the limit, the paler the nearer; blue above it, the deeper the farther.
fn colour(disk: f64, limit: f64) -> RGBColor {
    let mix = |from: (f64, f64, f64), to: (f64, f64, f64), share: f64| {
        let part = |a: f64, b: f64| (a + (b - a) * share.clamp(0.0, 1.0)).round() as u8;
        RGBColor(part(from.0, to.0), part(from.1, to.1), part(from.2, to.2))
    };
    if disk <= 0.0 {
        RGBColor(0x5b, 0x67, 0x74)
    } else if disk < limit {
        mix((226.0, 150.0, 98.0), (250.0, 226.0, 205.0), disk / limit)
    } else {
        mix(
            (222.0, 236.0, 244.0),
            (86.0, 152.0, 190.0),
            (disk - limit) / 0.7,
        )
    }
}

fn draw(
    map: &MarginMap,
    limits: &Limits,
    text: &mut String,
) -> Result<(), Box<dyn std::error::Error>> {
    let step = |values: &[f64]| match values {
        [first, second, ..] => second - first,
        _ => 1.0,
    };
    let delays: Vec<f64> = map.delays_s.iter().map(|s| 1.0e3 * s).collect();
    let (dx, dy) = (step(&delays), step(&map.masses_kg));
    let ends = |values: &[f64], d: f64| {
        let first = values.first().copied().unwrap_or(0.0);
        let last = values.last().copied().unwrap_or(1.0);
        (first - 0.5 * d, last + 0.5 * d)
    };
    let ((left, right), (bottom, top)) = (ends(&delays, dx), ends(&map.masses_kg, dy));

    let area = SVGBackend::with_string(text, SIZE).into_drawing_area();
    area.fill(&WHITE)?;
    let area = area.margin(12, 0, 0, 0).titled(
        "Worst disk margin over occupant and extra delay",
        ("sans-serif", 22),
    )?;
    let note = format!(
        "worst over bodies and places where the loop is broken; blue: at least {}; orange: less; dark: unstable; \
         rule: the delay that must be borne",
        number(limits.disk_margin)
    );
    let area = area.titled(&note, ("sans-serif", 14))?;
    let mut chart = ChartBuilder::on(&area)
        .margin(16)
        .x_label_area_size(48)
        .y_label_area_size(64)
        .build_cartesian_2d(left..right, bottom..top)?;
    chart
        .configure_mesh()
        .disable_mesh()
        .x_desc("extra delay between law and motor, ms")
        .y_desc("occupant, kg")
        .x_label_formatter(&|x| format!("{x:.0}"))
        .y_label_formatter(&|y| format!("{y:.0}"))
        .label_style(SMALL)
        .axis_desc_style(AXIS)
        .draw()?;
    for (row, &mass) in map.disk.iter().zip(&map.masses_kg) {
        for (&disk, &delay) in row.iter().zip(&delays) {
            let corner = [
                (delay - 0.5 * dx, mass - 0.5 * dy),
                (delay + 0.5 * dx, mass + 0.5 * dy),
            ];
            let fill = colour(disk, limits.disk_margin).filled();
            chart.draw_series([Rectangle::new(corner, fill)])?;
            let words = if disk > 0.0 {
                format!("{disk:.2}")
            } else {
                "-".to_owned()
            };
            let ink = if disk > 0.0 { LINE } else { WHITE };
            let style = ("sans-serif", 13)
                .into_text_style(&area)
                .color(&ink)
                .pos(Pos::new(HPos::Center, VPos::Center));
            chart.draw_series([Text::new(words, (delay, mass), style)])?;
        }
    }
    // Between the numbers, so that they can be read.
    let must = 1.0e3 * limits.delay_margin_s;
    for &mass in &map.masses_kg {
        for side in [-0.5, 0.25] {
            let ends = [(must, mass + side * dy), (must, mass + (side + 0.25) * dy)];
            chart.draw_series(LineSeries::new(ends, ORANGE.stroke_width(3)))?;
        }
    }
    area.present()?;
    drop(chart);
    Ok(())
}
