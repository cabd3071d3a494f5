//! Panels to SVG. The only file that knows the drawing library.
//!
//! Everything is drawn four times as large as it is shown, because the library
//! places in whole pixels. Size and name space are taken off afterwards: the SVG
//! is part of the page and takes its width.

use super::ReportError;
use super::palette::Role;
use super::panel::{Axis, Figure, Layer, Panel};
use plotters::coord::Shift;
use plotters::coord::ranged1d::{KeyPointHint, NoDefaultFormatting, ValueFormatter};
use plotters::prelude::{
    Cartesian2d, ChartBuilder, ChartContext, Circle, Color, DrawingArea, DrawingAreaErrorKind,
    FontStyle, IntoDrawingArea, IntoFont, PathElement, Polygon, Ranged, Rectangle, SVGBackend,
    ShapeStyle, TextStyle,
};
use plotters::style::text_anchor::{HPos, Pos, VPos};

/// Places in a pixel.
const FINE: f64 = 4.0;
/// Width of all figures, pixels.
const WIDTH: u32 = 960;
/// Room on the left for tick labels and the axis label.
const LEFT: u32 = 92;
/// Room on the right.
const RIGHT: u32 = 14;
/// Room above the plotting area for heading and legend.
const ABOVE: u32 = 30;
/// Room below a panel with tick labels and an axis label.
const BELOW: u32 = 46;
/// Room below a panel whose abscissa is that of the next.
const BELOW_SHARED: u32 = 10;
/// Font sizes, pixels.
const TICK_TEXT: f64 = 12.5;
const LABEL_TEXT: f64 = 13.0;
const NOTE_TEXT: f64 = 12.0;

type Area<'a> = DrawingArea<SVGBackend<'a>, Shift>;
type Chart<'a, 'b> = ChartContext<'a, SVGBackend<'b>, Cartesian2d<Axis, Axis>>;

/// Our axes carry their own ticks and names.
impl Ranged for Axis {
    type FormatOption = NoDefaultFormatting;
    type ValueType = f64;

    fn map(&self, value: &f64, limit: (i32, i32)) -> i32 {
        let share = (value - self.low) / (self.high - self.low);
        let span = f64::from(limit.1) - f64::from(limit.0);
        limit.0 + (share * span).round() as i32
    }

    fn key_points<Hint: KeyPointHint>(&self, hint: Hint) -> Vec<f64> {
        if hint.weight().allow_light_points() {
            self.fine_ticks.clone()
        } else {
            self.ticks.clone()
        }
    }

    fn range(&self) -> std::ops::Range<f64> {
        self.low..self.high
    }
}

impl ValueFormatter<f64> for Axis {
    fn format_ext(&self, value: &f64) -> String {
        self.ticks
            .iter()
            .position(|tick| tick == value)
            .and_then(|i| self.names.get(i).cloned())
            .unwrap_or_default()
    }
}

fn fine(pixels: f64) -> i32 {
    (pixels * FINE).round() as i32
}

fn fine_u(pixels: u32) -> u32 {
    pixels * FINE as u32
}

/// Draws the panels of a figure below each other.
pub(super) fn svg(figure: &Figure, panels: &[Panel]) -> Result<String, ReportError> {
    let below: Vec<u32> = (0..panels.len())
        .map(|i| {
            let shared = panels
                .get(i + 1)
                .is_some_and(|next| next.x.label == panels[i].x.label);
            if shared { BELOW_SHARED } else { BELOW }
        })
        .collect();
    let heights = panels
        .iter()
        .zip(&below)
        .map(|(panel, below)| panel.height + ABOVE + below);
    let total: u32 = heights.clone().sum();
    let mut text = String::new();
    let drawn = (|| {
        let root =
            SVGBackend::with_string(&mut text, (fine_u(WIDTH), fine_u(total))).into_drawing_area();
        let mut top = 0;
        for ((panel, height), below) in panels.iter().zip(heights).zip(&below) {
            let area = root
                .clone()
                .shrink((0, fine_u(top)), (fine_u(WIDTH), fine_u(height)));
            draw_panel(&area, panel, *below)?;
            top += height;
        }
        root.present()
    })();
    drawn.map_err(|e| ReportError::Draw {
        figure: figure.id,
        message: e.to_string(),
    })?;
    Ok(inline(figure, &text, total))
}

/// The drawing as a part of the page: named, described, as wide as the page.
fn inline(figure: &Figure, text: &str, total: u32) -> String {
    let (id, escape) = (figure.id, super::page::escape);
    let body = text.split_once(">\n").map_or("", |(_, body)| body);
    format!(
        "<svg viewBox=\"0 0 {} {}\" role=\"img\" aria-labelledby=\"{id}-t {id}-d\">\n\
         <title id=\"{id}-t\">{}</title>\n<desc id=\"{id}-d\">{}</desc>\n{body}",
        fine_u(WIDTH),
        fine_u(total),
        escape(figure.title),
        escape(&figure.alternative),
    )
    .replace(" opacity=\"1\"", "")
    .replace(" stroke=\"none\"", "")
    .replace(" stroke-width=\"1\"/>", "/>")
}

type Drawn = Result<(), DrawingAreaErrorKind<std::io::Error>>;

fn draw_panel(area: &Area<'_>, panel: &Panel, below: u32) -> Drawn {
    let mut chart = ChartBuilder::on(area)
        .margin_top(fine_u(ABOVE))
        .margin_right(fine_u(RIGHT))
        .margin_bottom(0)
        .margin_left(0)
        .x_label_area_size(fine_u(below))
        .y_label_area_size(fine_u(LEFT))
        .build_cartesian_2d(panel.x.clone(), panel.y.clone())?;
    for (layer, _) in panel.layers.iter().filter(|l| is_ground(&l.0)) {
        draw_layer(area, &mut chart, panel, layer)?;
    }
    draw_mesh(&mut chart, panel, below == BELOW)?;
    for (layer, _) in panel.layers.iter().filter(|l| !is_ground(&l.0)) {
        draw_layer(area, &mut chart, panel, layer)?;
    }
    draw_heading(area, panel)
}

/// Ground lies below the grid.
fn is_ground(layer: &Layer) -> bool {
    matches!(
        layer,
        Layer::Block {
            role: Role::Shade,
            ..
        }
    )
}

fn font(size: f64, role: Role) -> TextStyle<'static> {
    // The backend divides by 1.24.
    ("sans-serif", size * FINE * 1.24)
        .into_font()
        .color(&role.colour())
}

fn draw_mesh(chart: &mut Chart<'_, '_>, panel: &Panel, with_x_labels: bool) -> Drawn {
    let hidden = |_: &f64| String::new();
    let mut mesh = chart.configure_mesh();
    mesh.x_labels(100)
        .y_labels(100)
        .max_light_lines(100)
        .bold_line_style(Role::Grid.colour().stroke_width(fine_u(1)))
        .light_line_style(Role::FineGrid.colour().stroke_width(fine_u(1)))
        .axis_style(Role::Axis.colour().stroke_width(fine_u(1)))
        .label_style(font(TICK_TEXT, Role::Text))
        .axis_desc_style(font(LABEL_TEXT, Role::Text))
        .set_all_tick_mark_size(fine(4.0))
        .y_desc(panel.y.label.clone());
    if with_x_labels {
        mesh.x_desc(panel.x.label.clone());
    } else {
        mesh.x_label_formatter(&hidden);
    }
    mesh.draw()
}

fn stroke(role: Role, width: f64) -> ShapeStyle {
    role.colour()
        .stroke_width((width * FINE).round().max(1.0) as u32)
}

fn draw_layer(area: &Area<'_>, chart: &mut Chart<'_, '_>, panel: &Panel, layer: &Layer) -> Drawn {
    let place = |x: f64, y: f64| (panel.x.place(x), panel.y.place(y));
    let (left, right) = (panel.x.low, panel.x.high);
    match layer {
        Layer::Line {
            role,
            width,
            points,
        } => {
            for run in points.split(|p| !p.1.is_finite() || !panel.x.holds(p.0)) {
                let line = run.iter().map(|p| place(p.0, p.1)).collect::<Vec<_>>();
                match line[..] {
                    [] => {}
                    // A lone value between gaps.
                    [point] => {
                        let dot = role.colour().filled();
                        chart.draw_series([Circle::new(point, fine(width.max(1.5)), dot)])?;
                    }
                    _ => {
                        chart.draw_series([PathElement::new(line, stroke(*role, *width))])?;
                    }
                }
            }
        }
        Layer::Band {
            role,
            opacity,
            points,
        } => {
            for run in points.split(|p| !(p.1 + p.2).is_finite() || !panel.x.holds(p.0)) {
                let there = run.iter().map(|p| place(p.0, p.2));
                let back = run.iter().rev().map(|p| place(p.0, p.1));
                let outline = there.chain(back).collect::<Vec<_>>();
                if outline.len() > 2 {
                    let style = role.colour().mix(*opacity).filled();
                    chart.draw_series([Polygon::new(outline, style)])?;
                }
            }
        }
        Layer::Dots { role, ring, points } => {
            let style = if *ring {
                stroke(*role, 0.5)
            } else {
                role.colour().mix(0.55).filled()
            };
            let radius = fine(if *ring { 1.9 } else { 1.5 });
            let inside = points
                .iter()
                .filter(|p| panel.x.holds(p.0) && panel.y.holds(p.1));
            chart.draw_series(inside.map(|p| Circle::new(place(p.0, p.1), radius, style)))?;
        }
        Layer::Level { role, y } => {
            let y = panel.y.place(*y);
            chart.draw_series([PathElement::new(
                vec![(left, y), (right, y)],
                stroke(*role, 1.5),
            )])?;
        }
        Layer::Moment { role, x, words } => {
            let x = panel.x.place(*x);
            chart.draw_series([PathElement::new(
                vec![(x, panel.y.low), (x, panel.y.high)],
                stroke(*role, 1.2),
            )])?;
            let (px, py) = chart.backend_coord(&(x, panel.y.high));
            let on_left = x > 0.5 * (left + right);
            let (dx, h) = if on_left {
                (-fine(4.0), HPos::Right)
            } else {
                (fine(4.0), HPos::Left)
            };
            let style = font(NOTE_TEXT, *role).pos(Pos::new(h, VPos::Top));
            area.draw_text(words, &style, (px + dx, py - panel_top(area) + fine(3.0)))?;
        }
        Layer::Block {
            role,
            opacity,
            x,
            y,
        } => {
            let style = role.colour().mix(*opacity).filled();
            chart.draw_series([Rectangle::new([place(x.0, y.0), place(x.1, y.1)], style)])?;
        }
        Layer::Strokes { role, y, x } => {
            let half = 0.3;
            for &x in x.iter().filter(|x| panel.x.holds(**x)) {
                let line = vec![place(x, y - half), place(x, y + half)];
                chart.draw_series([PathElement::new(line, stroke(*role, 1.2))])?;
            }
        }
    }
    Ok(())
}

fn panel_top(area: &Area<'_>) -> i32 {
    area.get_base_pixel().1
}

/// Heading on the left, legend after it.
fn draw_heading(area: &Area<'_>, panel: &Panel) -> Drawn {
    let middle = fine(0.5 * f64::from(ABOVE));
    let mut x = fine(f64::from(LEFT));
    let put = |x: i32, words: &str, style: TextStyle<'_>| -> Result<i32, _> {
        let style = style.pos(Pos::new(HPos::Left, VPos::Center));
        area.draw_text(words, &style, (x, middle))?;
        // Sans-serif letters are about 0.54 of the size wide.
        Ok(x + fine(0.54 * NOTE_TEXT * words.chars().count() as f64))
    };
    if !panel.heading.is_empty() {
        let bold = ("sans-serif", LABEL_TEXT * FINE * 1.24, FontStyle::Bold)
            .into_font()
            .color(&Role::Text.colour());
        x = put(x, &panel.heading, bold)? + fine(26.0);
    }
    for (layer, name) in panel.layers.iter().filter(|l| !l.1.is_empty()) {
        let end = x + fine(30.0);
        match layer {
            Layer::Line { role, width, .. } => area.draw(&PathElement::new(
                vec![(x, middle), (end, middle)],
                stroke(*role, width.max(1.0)),
            ))?,
            // One swatch stands for the bands of all seats.
            Layer::Band { opacity, .. } | Layer::Block { opacity, .. } => {
                area.draw(&Rectangle::new(
                    [(x, middle - fine(5.0)), (end, middle + fine(5.0))],
                    Role::Axis.colour().mix(*opacity).filled(),
                ))?;
            }
            Layer::Dots { role, ring, .. } => {
                let style = if *ring {
                    stroke(*role, 0.7)
                } else {
                    role.colour().filled()
                };
                area.draw(&Circle::new(
                    (x + fine(15.0), middle),
                    fine(if *ring { 2.4 } else { 2.0 }),
                    style,
                ))?;
            }
            Layer::Level { role, .. }
            | Layer::Moment { role, .. }
            | Layer::Strokes { role, .. } => {
                area.draw(&PathElement::new(
                    vec![(x, middle), (end, middle)],
                    stroke(*role, 1.5),
                ))?;
            }
        }
        x = put(end + fine(6.0), name, font(NOTE_TEXT, Role::Text))? + fine(20.0);
    }
    Ok(())
}
