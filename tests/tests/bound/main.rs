//! The bound of what any seat could do: closed forms, another solver's values, records of floors.

mod closed_forms;
mod records;
mod solver;
