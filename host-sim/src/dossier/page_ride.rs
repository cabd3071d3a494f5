//! The ride in the page: the page that plays it lies there as inert text and runs only when it is asked for. A page that
//! runs within another from the start kept browsers from printing.

use crate::report::inert_json;

/// What opens and closes it.
const SCRIPT: &str = include_str!("page_ride.js");

/// The section, with the whole page `ride` in it.
///
/// # Errors
/// None that a text can have.
pub(super) fn section(ride: &str) -> Result<String, serde_json::Error> {
    Ok(format!(
        "<section id=\"ride\" class=\"watch\">\n<h2>One ride to watch</h2>\n\
         <p>The roughest of the rides up to level 2.5, drawn to scale and moving, with its traces. It is part of this file and needs \
         no network.</p>\n\
         <p id=\"ride-ask\" hidden=\"hidden\"><button type=\"button\" id=\"ride-open\" aria-expanded=\"false\" aria-controls=\"ride-room\" \
         data-open=\"Open the ride\" data-close=\"Close the ride\">Open the ride</button> \
         <span>Then Space plays it; the page lists all keys. Shift and Tab lead back here.</span></p>\n\
         <noscript><p>Playing needs the script of this page.</p></noscript>\n\
         <div id=\"ride-room\" hidden=\"hidden\"></div>\n\
         <script type=\"application/json\" id=\"ride-page\">{}</script>\n\
         <script>\n(() => {{\n\"use strict\";\n{}}})();\n</script>\n</section>\n",
        inert_json(&serde_json::to_string(ride)?),
        SCRIPT
    ))
}
