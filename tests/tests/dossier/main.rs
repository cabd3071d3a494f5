//! The dossier and the comparison of two: files, schema, page, verdicts.

mod compare;
mod make;
mod page;
