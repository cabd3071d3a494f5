//! Benchmarks live in `benches/`; this library is empty.
