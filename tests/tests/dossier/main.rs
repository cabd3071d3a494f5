//! The dossier and the comparison of two: files, schema, page, verdicts; the page in a browser.

mod browser;
mod compare;
mod compare_baseline;
mod make;
mod noise;
mod page;
mod residuals;
mod verify;
mod verify_origin;
