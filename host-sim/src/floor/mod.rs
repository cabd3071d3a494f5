//! Floor motions: invented spectra, standard signals, roads and recordings.
