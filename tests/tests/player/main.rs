//! The page that plays a ride, in text and in a browser.

mod browser;
mod drawn;
mod page;
mod thin;
