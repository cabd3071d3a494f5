//! The page around pictures, data and script.

use super::data::{self, Resolutions};
use super::events::Kind;
use super::plane::{self, Plane};
use super::recorder::Recorded;
use super::{PlayerError, scene, tables, words};
use crate::report::{self, escape};
use crate::summary::Summary;

const STYLE: &str = include_str!("page.css");
/// The script, in the order in which its parts need each other.
const SCRIPT: [&str; 8] = [
    include_str!("script/data.js"),
    include_str!("script/draw.js"),
    include_str!("script/scene.js"),
    include_str!("script/plane.js"),
    include_str!("script/traces.js"),
    include_str!("script/overview.js"),
    include_str!("script/clock.js"),
    include_str!("script/control.js"),
];
/// Both seats: identifier and words.
const SEATS: [(&str, &str); 2] = [("passive", "Passive seat"), ("law", "Seat under the law")];
/// The floor moves this far in the picture at least and at most, mm.
const ROOM_MM: [f64; 2] = [40.0, 300.0];

/// The whole page; `report` says whether the ride's report lies beside it.
pub(super) fn page(
    ride: &Recorded,
    summary: &Summary,
    report: bool,
) -> Result<String, PlayerError> {
    let highest_mm = 1000.0
        * ride
            .thinner
            .instants()
            .iter()
            .fold(0.0, |most: f64, row| most.max(row[0].abs()));
    let room_mm = (10.0 * (0.1 * highest_mm).ceil()).clamp(ROOM_MM[0], ROOM_MM[1]);
    let resolutions = Resolutions::of(ride);
    let title = format!(
        "Ride on {} × {}",
        escape(&summary.floor.name),
        summary.floor.level
    );
    let mut html = format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta name=\"color-scheme\" content=\"light dark\">\n\
         <title>Becalm: {title}, played</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n"
    );
    // What is watched together fills the window; all else lies below it.
    html += "<main>\n<div class=\"screen\">\n";
    html += &header(&title, ride, summary, report);
    html += "<noscript><p class=\"notice\">Playing needs the script of this page. The tables and lists below \
             stand without it.</p></noscript>\n";
    html += &watch(ride, room_mm);
    html += TRACES;
    html += &controls(summary);
    html += &planes(ride);
    html += "</div>\n";
    html += &below(ride, summary, &resolutions, [room_mm, highest_mm])?;
    html += "</main>\n";
    let plane = Plane::of(ride);
    html += &format!(
        "<script type=\"application/json\" id=\"ride-data\">{}</script>\n\
         <script type=\"application/json\" id=\"plane-data\">{}</script>\n<script>\n(() => {{\n\"use strict\";\n",
        data::json(ride, &resolutions, room_mm)?,
        serde_json::to_string(&plane.places())?
    );
    for part in SCRIPT {
        html += part;
    }
    Ok(html + "})();\n</script>\n</body>\n</html>\n")
}

fn header(title: &str, ride: &Recorded, summary: &Summary, report: bool) -> String {
    let rig = escape(&ride.rig.name);
    let faults = match summary.faults.len() {
        0 => String::new(),
        _ => {
            let names: Vec<String> = summary.faults.iter().map(|f| escape(&f.fault)).collect();
            format!(" Broken on purpose: {}.", names.join("; "))
        }
    };
    let report = if report {
        format!(
            " · <a href=\"{}\">report of this ride</a>",
            report::FILE_NAME
        )
    } else {
        String::new()
    };
    format!(
        "<header>\n<p class=\"kind\">Becalm · a ride to watch{report}</p>\n\
         <h1>{title}</h1>\n<p>{:.1} s, {} kg occupant, {} body, seed {}, law in {}. Rig: {rig}.{faults} \
         A simulation of an invented machine.</p>\n</header>\n",
        summary.seconds, summary.occupant_kg, summary.body, summary.seed, summary.arithmetic
    )
}

fn watch(ride: &Recorded, room_mm: f64) -> String {
    let mut html = "<section class=\"watch\" aria-label=\"Both seats\">\n".to_owned();
    for (id, words) in SEATS {
        html += &format!(
            "<div class=\"seat {id}\">\n<h2>{words}</h2>\n{}<p class=\"state\" id=\"state-{id}\"></p>\n</div>\n",
            scene::svg(&ride.rig, id, words, room_mm)
        );
    }
    html + "</section>\n"
}

fn planes(ride: &Recorded) -> String {
    let plane = Plane::of(ride);
    let mut html = "<section class=\"planes\" aria-label=\"Rate against travel\">\n".to_owned();
    for (id, words) in SEATS {
        let short = if id == "law" { "Law" } else { "Passive seat" };
        html += &format!(
            "<div>\n<h3>{short}: rate against travel</h3>\n{}</div>\n",
            plane::svg(ride, &plane, id, words)
        );
    }
    let set = if ride.standing.proved {
        "<li class=\"set\">proven set</li>"
    } else {
        "<li class=\"unproved\">no proven set: tried, not proved</li>"
    };
    html + &format!(
        "<ul class=\"legend\"><li class=\"arrest\">arrest curve</li>{set}<li class=\"stop\">stops</li></ul>\n\
         </section>\n"
    )
}

const TRACES: &str = "<section class=\"traces\" aria-label=\"Traces\">\n\
     <div class=\"strips\"><canvas id=\"traces\" role=\"img\" aria-label=\"Acceleration of floor, passive seat and law, travel of both seats, \
     force of the motor, scrolling past the present moment\" aria-describedby=\"now-table\"></canvas></div>\n\
     <ul class=\"legend\"><li class=\"floor\">floor</li><li class=\"passive\">passive seat</li>\
     <li class=\"law\">seat under the law</li><li class=\"stop\">stops</li><li class=\"now\">now</li><li class=\"slow\">slow motion</li></ul>\n</section>\n";

fn controls(summary: &Summary) -> String {
    let mut kinds = "<option value=\"\">all kinds</option>".to_owned();
    for kind in Kind::ALL {
        kinds += &format!(
            "<option value=\"{}\">{}</option>",
            kind.name(),
            kind.words()
        );
    }
    let speeds = [
        (0.02, "1/50"),
        (0.05, "1/20"),
        (0.1, "1/10"),
        (0.2, "1/5"),
        (0.5, "1/2"),
        (1.0, "1"),
        (2.0, "2"),
        (5.0, "5"),
        (10.0, "10"),
        (30.0, "30"),
    ];
    let mut speed = String::new();
    for (value, words) in speeds {
        let chosen = if value == 1.0 { " selected" } else { "" };
        speed += &format!("<option value=\"{value}\"{chosen}>{words}</option>");
    }
    let mut spans = String::new();
    for span in ["0.5", "1", "2", "5", "10", "30", "60", "300"] {
        let chosen = if span == "10" { " selected" } else { "" };
        spans += &format!("<option value=\"{span}\"{chosen}>{span} s</option>");
    }
    format!(
        "<section class=\"controls\" aria-label=\"Playing\">\n<div class=\"clock\">\n\
         <output id=\"now\" aria-label=\"Time in the ride\">0.000 s</output>\n\
         <output id=\"pace\" aria-label=\"Speed of playing\">stopped</output>\n</div>\n\
         <div class=\"buttons\">\n<button type=\"button\" id=\"play\">Play</button>\n\
         <button type=\"button\" id=\"previous\">Previous event</button>\n\
         <button type=\"button\" id=\"next\">Next event</button>\n\
         <label>Events <select id=\"kind\">{kinds}</select></label>\n\
         <label>Speed <select id=\"speed\">{speed}</select></label>\n\
         <label>Traces <select id=\"span\">{spans}</select></label>\n\
         <label>Slow motion <select id=\"slow\"><option value=\"foremost\">closest stops, faults</option>\
         <option value=\"every\">every arrest, fault</option><option value=\"off\">off</option></select></label>\n\
         <label id=\"motion-label\" hidden><input type=\"checkbox\" id=\"motion\"> moving picture (your system asks \
         for less motion: stills, one a second)</label>\n</div>\n\
         <div class=\"overview\">\n<canvas id=\"overview\" aria-hidden=\"true\"></canvas>\n\
         <div id=\"head\" aria-hidden=\"true\"></div>\n</div>\n\
         <input type=\"range\" id=\"scrub\" min=\"0\" max=\"{}\" step=\"any\" value=\"0\" aria-label=\"Time in the ride\">\n\
         <p id=\"hint\" aria-hidden=\"true\"></p>\n<p id=\"said\" class=\"unseen\" aria-live=\"polite\"></p>\n</section>\n",
        summary.seconds
    )
}

fn below(
    ride: &Recorded,
    summary: &Summary,
    resolutions: &Resolutions,
    [room_mm, highest_mm]: [f64; 2],
) -> Result<String, PlayerError> {
    let paragraphs = |all: Vec<String>| -> String {
        let one = |text: String| format!("<p>{}</p>\n", escape(&text));
        all.into_iter().map(one).collect()
    };
    let mut html = "<section class=\"beside\">\n<div>\n<h2>At this moment</h2>\n".to_owned();
    html += NOW_TABLE;
    html += "</div>\n<div>\n<h2>The whole ride</h2>\n";
    html += &tables::figures(summary)?;
    html += "</div>\n</section>\n<section>\n<h2>Events</h2>\n";
    if !ride.left_out.is_empty() {
        html += &format!("<p>Not all are listed: {}.</p>\n", escape(&ride.left_out));
    }
    html += &format!(
        "<div class=\"list\" tabindex=\"0\" role=\"region\" aria-label=\"List of events\">\n{}</div>\n</section>\n",
        tables::events(&ride.events)
    );
    html += "<section class=\"beside\">\n<div>\n<h2>Keys and pointer</h2>\n<table id=\"keys\">\n<tbody>\n";
    for (keys, what) in words::KEYS {
        html += &format!("<tr><th scope=\"row\">{keys}</th><td>{what}</td></tr>\n");
    }
    html += "</tbody>\n</table>\n<p>Keys act when no list or box is chosen.</p>\n<p><label><input type=\"checkbox\" id=\"letters\" checked> \
             keys of one letter</label></p>\n</div>\n<div>\n<h2>What is shown</h2>\n";
    html += &paragraphs(words::shown(room_mm, highest_mm));
    html += &format!(
        "<p id=\"plane-words\">{}</p>\n",
        escape(&words::plane(ride))
    );
    html += &paragraphs(words::thinning(ride, resolutions));
    Ok(html + "</div>\n</section>\n")
}

/// The values at the present moment; the script fills them.
const NOW_TABLE: &str = "<table id=\"now-table\">\n<caption>Values at the moment shown</caption>\n<thead><tr>\
    <th scope=\"col\">value</th><th scope=\"col\">floor</th><th scope=\"col\">passive seat</th>\
    <th scope=\"col\">law</th></tr></thead>\n<tbody>\n\
    <tr><th scope=\"row\">acceleration, m/s²</th><td id=\"v-floorAccel\"></td><td id=\"v-passiveAccel\"></td>\
    <td id=\"v-lawAccel\"></td></tr>\n\
    <tr><th scope=\"row\">travel, mm</th><td></td><td id=\"v-passiveTravel\"></td><td id=\"v-lawTravel\"></td></tr>\n\
    <tr><th scope=\"row\">travel rate, m/s</th><td></td><td id=\"v-passiveRate\"></td><td id=\"v-lawRate\"></td></tr>\n\
    <tr><th scope=\"row\">force of the motor, N</th><td></td><td></td><td id=\"v-force\"></td></tr>\n\
    <tr><th scope=\"row\">mode</th><td></td><td></td><td id=\"v-mode\"></td></tr>\n\
    <tr><th scope=\"row\">fault bits</th><td></td><td></td><td id=\"v-faults\"></td></tr>\n\
    <tr><th scope=\"row\">occupant, kg</th><td></td><td id=\"v-passiveKg\"></td><td id=\"v-lawKg\"></td></tr>\n\
    </tbody>\n</table>\n";
