//! Finds of `becalm hunt` as files, ridden once more from them.

use super::hunt::HuntArgs;
use super::{Failure, terminal};
use host_sim::hunt::keep;
use host_sim::hunt::search::Find;
use host_sim::output::{OutputError, ResultFile};
use host_sim::ride;
use host_sim::rig::Rig;
use std::io::Write;
use std::path::{Path, PathBuf};

/// How the files begin: what begins so may be replaced.
const OPENING: &str = "# Found by `becalm hunt";

/// Writes a find and rides it from its files: floor and scenario.
pub(super) fn write(
    args: &HuntArgs,
    rig: &Rig,
    name: &str,
    find: &Find,
) -> Result<(String, String), Failure> {
    let folder = args.out.as_deref().unwrap_or(Path::new("."));
    std::fs::create_dir_all(folder).map_err(|source| OutputError::Write {
        path: folder.to_owned(),
        source,
        option: "--out",
    })?;
    let stem = format!("{name}-{}", find.aim.name());
    let remark = format!(
        "Found by `becalm hunt --seed {}`: contact at {:.4} m/s, travel {:.1} mm, seat {:.2} m/s2.",
        args.seed,
        find.figures.contact_speed_mps,
        1000.0 * find.figures.travel_peak_m,
        find.figures.seat_peak_mps2
    );
    let rig_file = if args.without_arrest || args.rig.is_some() {
        let file = format!("{name}-rig.toml");
        let text = format!("{OPENING}`: its rig.\n{}", toml::to_string(rig)?);
        put(folder, &file, &text)?;
        Some(file)
    } else {
        None
    };
    let csv = format!("{stem}.csv");
    let floor = put(folder, &csv, &find.knots.csv(&remark))?;
    let text = keep::scenario(find, &csv, rig_file.as_deref(), &remark);
    let scenario = put(folder, &format!("{stem}.toml"), &text)?;
    let again = ride::run(rig, &keep::ride(find, &floor), |_| !terminal::interrupted())?;
    let (found, ridden) = (
        find.figures.contact_speed_mps,
        again.travel.contact_speed_max_mps,
    );
    if found != ridden {
        return Err(format!(
            "{}: the ride of the kept floor meets the stop at {ridden} m/s, the search at {found} m/s",
            floor.display()
        )
        .into());
    }
    Ok((floor.display().to_string(), scenario.display().to_string()))
}

/// Writes one file whole.
fn put(folder: &Path, name: &str, text: &str) -> Result<PathBuf, Failure> {
    let path = folder.join(name);
    let (result, mut file) = ResultFile::claim(&path, OPENING, "--out or --keep", None)?;
    file.write_all(text.as_bytes())
        .map_err(|error| result.error(error))?;
    result.publish()?;
    Ok(path)
}
