//! The emulated boards and their images. Without them each test says NOT RUN.

mod commission;
mod cores;
mod image_budgets;
mod image_forbidden;
mod image_ports;
mod image_stack;
mod parity;
mod recorder;
