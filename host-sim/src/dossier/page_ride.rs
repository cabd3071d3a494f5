//! The rides in the page: the page that plays one lies there as inert text and runs only when it is asked for. A page that
//! runs within another from the start kept browsers from printing.

use super::watched::Watched;
use crate::report::{escape, inert_json};

/// What opens and closes them.
const SCRIPT: &str = include_str!("page_ride.js");

/// A section for each ride, with its whole page in it; nothing when there is none.
///
/// # Errors
/// None that a text can have.
pub(super) fn sections(rides: &[Watched]) -> Result<String, serde_json::Error> {
    if rides.is_empty() {
        return Ok(String::new());
    }
    let mut html = String::new();
    for ride in rides {
        html += &format!(
            "<section id=\"{0}\" class=\"watch\">\n<h2>{1}</h2>\n<p>{2} Drawn to scale and moving, with its traces; it is part of \
             this file and needs no network. <code>{3}</code></p>\n\
             <p id=\"{0}-ask\" class=\"ask\" hidden=\"hidden\"><button type=\"button\" id=\"{0}-open\" aria-expanded=\"false\" \
             aria-controls=\"{0}-room\" data-open=\"Open the ride\" data-close=\"Close the ride\">Open the ride</button> \
             <span>Then Space plays it; the page lists all keys. Shift and Tab lead back here.</span></p>\n\
             <noscript><p>Playing needs the script of this page.</p></noscript>\n\
             <div id=\"{0}-room\" class=\"room\" hidden=\"hidden\"></div>\n\
             <script type=\"application/json\" id=\"{0}-page\">{4}</script>\n</section>\n",
            ride.id,
            escape(ride.title),
            escape(&ride.why),
            escape(&ride.command),
            inert_json(&serde_json::to_string(&ride.page)?),
        );
    }
    Ok(html + &format!("<script>\n(() => {{\n\"use strict\";\n{SCRIPT}}})();\n</script>\n"))
}
