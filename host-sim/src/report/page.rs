//! The page around the figures.

use super::collector::Collected;
use super::panel::Figure;
use super::{
    ReportError, draw, figures_drive, figures_estimate, figures_frequency, figures_time,
    figures_travel, palette, tables, words,
};
use crate::summary::Summary;

/// Style sheet of the page; the figures' own rules come from the palette.
const STYLE: &str = include_str!("page.css");

/// Text with the five characters of markup replaced, and no control characters.
pub(crate) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\n' | '\t' => out.push(' '),
            c if c.is_control() || matches!(c, '\u{FFFE}' | '\u{FFFF}') => out.push('\u{FFFD}'),
            c => out.push(c),
        }
    }
    out
}

/// JSON in which no character means anything to the page that it lies in.
pub(crate) fn inert_json(json: &str) -> String {
    json.replace('<', "\\u003c")
        .replace('>', "\\u003e")
        .replace('&', "\\u0026")
}

/// The whole page.
pub(super) fn page(ride: &Collected, summary: &Summary) -> Result<String, ReportError> {
    let figures = [
        figures_time::acceleration(ride, summary),
        figures_time::roughest(ride),
        figures_frequency::density(ride),
        figures_frequency::transmissibility(ride),
        figures_travel::travel(ride, summary),
        figures_travel::phase_plane(ride),
        figures_drive::force_and_heat(ride, summary),
        figures_drive::timeline(ride),
        figures_estimate::closely(ride),
        figures_estimate::errors(ride, summary),
    ];
    let title = format!(
        "Ride on {} × {}",
        escape(&summary.floor.name),
        summary.floor.level
    );
    let mut html = format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n\
         <meta name=\"color-scheme\" content=\"light dark\"/>\n\
         <title>Becalm: {title}</title>\n<style>\n{STYLE}{}</style>\n</head>\n<body>\n\
         <header>\n<p class=\"kind\">Becalm · ride report{}</p>\n<h1>{title}</h1>\n",
        palette::style_rules(),
        player_link(ride)
    );
    html += &tables::ridden(ride, summary);
    html += "</header>\n<main>\n<section id=\"verdict\" class=\"verdict\">\n<h2>In short</h2>\n";
    for sentence in words::verdict(summary) {
        html += &format!("<p>{}</p>\n", escape(&sentence));
    }
    html += "</section>\n";
    html += &contents(&figures);
    html += "<section id=\"figures-table\">\n<h2>Figures of the ride</h2>\n";
    html += &tables::exposure(ride, summary);
    html += "<div class=\"beside\">\n";
    html += &tables::possible(summary);
    html += &tables::travel(summary);
    html += &tables::faults(summary);
    html += &tables::machine(summary);
    html += "</div>\n</section>\n<section id=\"plots\">\n<h2>Plots</h2>\n";
    for (i, figure) in figures.iter().enumerate() {
        html += &figure_html(i + 1, figure)?;
        if figure.id == "modes" {
            html += "<details class=\"list\"><summary>Changes of mode and fault</summary>\n";
            html += &tables::events(ride);
            html += "</details>\n";
        }
    }
    html += "</section>\n";
    html += &method_section(ride);
    html += &caution_section();
    html += &format!(
        "<section id=\"raw\">\n<h2>All figures, every digit</h2>\n<details>\
         <summary>The summary of this ride as JSON</summary>\n<pre>{}</pre>\n</details>\n</section>\n",
        escape_lines(&serde_json::to_string_pretty(summary)?)
    );
    html += "</main>\n</body>\n</html>\n";
    Ok(html)
}

/// A link to the page that plays the ride, where there is one.
fn player_link(ride: &Collected) -> String {
    if ride.player {
        let page = crate::player::FILE_NAME;
        format!(" · <a href=\"{page}\">watch this ride</a>")
    } else {
        String::new()
    }
}

fn escape_lines(text: &str) -> String {
    text.lines().map(escape).collect::<Vec<_>>().join("\n")
}

fn contents(figures: &[Figure]) -> String {
    let mut html = "<nav aria-label=\"Contents\">\n<ul>\n\
                    <li><a href=\"#figures-table\">Figures of the ride</a></li>\n"
        .to_owned();
    for figure in figures {
        html += &format!(
            "<li><a href=\"#{}\">{}</a></li>\n",
            figure.id,
            escape(figure.title)
        );
    }
    html + "<li><a href=\"#method\">How each figure is computed</a></li>\n\
            <li><a href=\"#cautions\">Cautions</a></li>\n</ul>\n</nav>\n"
}

fn figure_html(number: usize, figure: &Figure) -> Result<String, ReportError> {
    let body = match &figure.panels {
        Ok(panels) => format!(
            "<div class=\"plot\">\n{}</div>\n<figcaption>{}</figcaption>",
            draw::svg(figure, panels)?,
            escape(&figure.caption)
        ),
        // A caption would speak of what is not there.
        Err(why) => format!("<p class=\"missing\">Not drawn. {}</p>", escape(why)),
    };
    Ok(format!(
        "<figure id=\"{}\">\n<h3>{number}. {}</h3>\n{body}\n</figure>\n",
        figure.id,
        escape(figure.title)
    ))
}

fn method_section(ride: &Collected) -> String {
    let mut html = "<section id=\"method\">\n<h2>How each figure is computed</h2>\n\
                    <table class=\"method\">\n<thead><tr><th scope=\"col\">figure</th>\
                    <th scope=\"col\">rule</th><th scope=\"col\">source</th></tr></thead>\n<tbody>\n"
        .to_owned();
    for (name, rule, source) in words::methods(ride) {
        html += &format!(
            "<tr><th scope=\"row\">{}</th><td>{}</td><td>{}</td></tr>\n",
            escape(name),
            escape(&rule),
            escape(source)
        );
    }
    html + "</tbody>\n</table>\n</section>\n"
}

fn caution_section() -> String {
    let mut html =
        "<section id=\"cautions\" class=\"cautions\">\n<h2>Cautions</h2>\n<ul>\n".to_owned();
    for caution in words::CAUTIONS {
        html += &format!("<li>{}</li>\n", escape(caution));
    }
    html + "</ul>\n</section>\n"
}

#[cfg(test)]
mod tests {
    use super::escape;

    #[test]
    fn markup_and_control_characters_are_taken_out() {
        assert_eq!(
            escape("a<b>&\"'\u{7}"),
            "a&lt;b&gt;&amp;&quot;&#39;\u{FFFD}"
        );
    }
}
