//! `becalm exposure`: all exposure figures of a recording.

use super::words::{daily_time, number, wrap};
use super::{Failure, Outcome, options, terminal};
use clap::{Args, ValueEnum};
use host_sim::exposure::daily::{self, ACTION_A8_MPS2, LIMIT_A8_MPS2};
use host_sim::exposure::spine::daily_dose_mps2;
use host_sim::exposure::{
    Axis, DailyExposure, ExposureMeter, PartialExposure, SpineMeter, SpineRiskModel, Weighting,
};
use host_sim::floor::{AccelUnit, Column, ColumnChoice, EvenColumns, read_columns};
use host_sim::upsample::upsample;
use serde::Serialize;
use std::path::PathBuf;

const AFTER: &str = "\
The file has a time column in seconds and acceleration columns, separated by
commas, semicolons or tabs. Columns are named by header or by number from 1.
Without --time it is the column headed time, t or time_s, or the first one;
without --accel the one headed accel, acceleration, acc, a, az or accel_z, or
the other one of two.

The mean of each column, gravity included, is taken off first. The weightings
start at rest. A recording slower than 1000 Hz is interpolated (windowed sinc)
to at least that. Weighted r.m.s., VDV and MTVV are without the factor of 1.4
for x and y of ISO 2631-1, clause 7; A(8) and the times hold it. With several
columns the figures at the top are those of the axis with the greatest A(8),
and the JSON lists all under `channels`. A(8) and the times are given for Wk
and Wd only.

Examples:
  becalm exposure seat.csv
  becalm exposure seat.csv --time 1 --accel az --unit g --exposure-hours 6
  becalm exposure seat.csv --accel ax,ay,az --json";

/// Exposure figures of a recorded acceleration (ISO 2631-1, 2002/44/EC)
#[derive(Args, Debug)]
#[command(after_help = AFTER, allow_negative_numbers = true)]
pub(super) struct ExposureArgs {
    /// The recording
    #[arg(value_name = "FILE.csv")]
    file: PathBuf,
    /// Column of time, in seconds
    #[arg(long, value_name = "COL")]
    time: Option<String>,
    /// Columns of acceleration, separated by commas
    #[arg(long, value_name = "COL[,COL..]", value_delimiter = ',')]
    accel: Vec<String>,
    /// Unit of the acceleration: m/s2 or g (9.80665 m/s2)
    #[arg(long, value_name = "UNIT", default_value = "m/s2", value_parser = unit)]
    unit: AccelUnit,
    /// Weighting: one for all columns or one for each; wk, wd, wf, we, wj, wb
    /// or band (band limiting alone) [default: wk for z, wd for x and y]
    #[arg(long, value_name = "NAME[,NAME..]", value_delimiter = ',', value_parser = weighting)]
    weighting: Vec<Weighting>,
    /// Axis of each column: x, y or z, z upwards [default: z for one column,
    /// x,y,z for three]
    #[arg(long, value_name = "AXIS[,AXIS..]", value_delimiter = ',')]
    axis: Vec<AxisName>,
    /// Time in the day spent so, 0 to 24 h
    #[arg(long, value_name = "H", default_value = "8", value_parser = options::hours)]
    exposure_hours: f64,
    /// Start left out of the figures, s
    #[arg(long, value_name = "S", default_value = "0", value_parser = options::skip)]
    skip: f64,
    /// Print one JSON object and nothing else
    #[arg(long)]
    json: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum, Serialize)]
#[serde(rename_all = "lowercase")]
enum AxisName {
    X,
    Y,
    Z,
}

impl AxisName {
    const fn axis(self) -> Axis {
        match self {
            Self::X => Axis::X,
            Self::Y => Axis::Y,
            Self::Z => Axis::Z,
        }
    }

    const fn weighting(self) -> Weighting {
        match self {
            Self::X | Self::Y => Weighting::Wd,
            Self::Z => Weighting::Wk,
        }
    }
}

fn unit(text: &str) -> Result<AccelUnit, String> {
    match text {
        "m/s2" => Ok(AccelUnit::Mps2),
        "g" => Ok(AccelUnit::G),
        _ => Err("expected m/s2 or g".to_owned()),
    }
}

fn weighting(text: &str) -> Result<Weighting, String> {
    Weighting::ALL
        .into_iter()
        .find(|w| weighting_name(*w).eq_ignore_ascii_case(text))
        .ok_or_else(|| "expected wk, wd, wf, we, wj, wb or band".to_owned())
}

const fn weighting_name(weighting: Weighting) -> &'static str {
    match weighting {
        Weighting::Wk => "Wk",
        Weighting::Wd => "Wd",
        Weighting::Wf => "Wf",
        Weighting::We => "We",
        Weighting::Wj => "Wj",
        Weighting::Wb => "Wb",
        Weighting::BandLimiting => "band",
    }
}

/// Figures of one column.
#[derive(Clone, Debug, Serialize)]
struct Channel {
    weighted_rms_mps2: f64,
    vdv_mps175: f64,
    mtvv_mps2: f64,
    crest_factor: Option<f64>,
    peak_mps2: f64,
    a8_mps2: Option<f64>,
    seconds_to_action: Option<f64>,
    seconds_to_limit: Option<f64>,
    weighting: &'static str,
    column: String,
    axis: AxisName,
    mtvv_exponential_mps2: f64,
    weighted_peak_mps2: f64,
    mean_removed_mps2: f64,
    vdv_daily_mps175: f64,
    seconds_to_action_vdv: Option<f64>,
    seconds_to_limit_vdv: Option<f64>,
    /// ISO 2631-5:2018, z only: daily compressive dose, 82 kg male, MPa.
    sd_daily_mpa: Option<f64>,
}

/// Figures of the recording; at the top those of the worst axis.
#[derive(Serialize)]
struct Record {
    #[serde(flatten)]
    worst: Channel,
    file: String,
    duration_s: f64,
    sample_rate_hz: f64,
    exposure_hours: f64,
    channels: Vec<Channel>,
}

/// Recordings slower than this are interpolated to at least this, Hz.
const ENOUGH_HZ: f64 = 1000.0;

/// Runs the command.
pub(super) fn run(args: &ExposureArgs) -> Result<Outcome, Failure> {
    let columns = read_columns(
        &args.file,
        &ColumnChoice {
            time: args.time.as_deref().map(Column::from),
            accel: args
                .accel
                .iter()
                .map(|c| Column::from(c.as_str()))
                .collect(),
            unit: args.unit,
        },
    )?;
    let count = columns.accel_mps2.len();
    let axes = match (args.axis.as_slice(), count) {
        ([], 1) => vec![AxisName::Z],
        ([], 3) => vec![AxisName::X, AxisName::Y, AxisName::Z],
        (axes, _) if axes.len() == count => axes.to_vec(),
        (axes, _) => return Err(unequal("--axis", axes.len(), count)),
    };
    let weightings = match args.weighting.as_slice() {
        [] => axes.iter().map(|a| a.weighting()).collect(),
        [one] => vec![*one; count],
        each if each.len() == count => each.to_vec(),
        each => return Err(unequal("--weighting", each.len(), count)),
    };
    let channels = (0..count)
        .map(|i| channel(&columns, i, axes[i], weightings[i], args))
        .collect::<Result<Vec<_>, Failure>>()?;
    let worst = channels
        .iter()
        .max_by(|a, b| {
            let size = |c: &Channel| c.a8_mps2.unwrap_or(0.0);
            size(a).total_cmp(&size(b))
        })
        .ok_or("no acceleration column")?
        .clone();
    let record = Record {
        worst,
        file: args.file.display().to_string(),
        duration_s: columns.accel_mps2[0].len() as f64 / columns.sample_rate_hz,
        sample_rate_hz: columns.sample_rate_hz,
        exposure_hours: args.exposure_hours,
        channels,
    };
    if args.json {
        terminal::print_json(&record)?;
    } else {
        terminal::print(&text(&record))?;
    }
    Ok(Outcome::Holds)
}

fn unequal(option: &str, found: usize, count: usize) -> Failure {
    format!(
        "{option}: {found} given for {count} acceleration columns: expected one for each column"
    )
    .into()
}

fn channel(
    columns: &EvenColumns,
    i: usize,
    axis: AxisName,
    weighting: Weighting,
    args: &ExposureArgs,
) -> Result<Channel, Failure> {
    let rate_hz = columns.sample_rate_hz;
    let samples = &columns.accel_mps2[i];
    let mean = samples.iter().sum::<f64>() / samples.len() as f64;
    let level: Vec<f64> = samples.iter().map(|a| a - mean).collect();
    let factor = (ENOUGH_HZ / rate_hz).ceil().max(1.0);
    let mut meter = ExposureMeter::new(weighting, factor * rate_hz, args.skip)?;
    let mut spine = SpineMeter::new(factor * rate_hz, args.skip)?;
    for a in upsample(&level, factor as usize) {
        meter.push(a);
        spine.push(a);
        if terminal::interrupted() {
            return Err("interrupted".into());
        }
    }
    let figures = meter
        .figures()
        .map_err(|e| format!("{}: {e}", args.file.display()))?;
    let exposure_s = 3600.0 * args.exposure_hours;
    let part = PartialExposure::from_figures(axis.axis(), &figures, exposure_s);
    let day = DailyExposure::from_partials(&[part])?;
    let k = axis.axis().multiplier();
    let (rms, vdv, measured_s) = (
        k * figures.weighted_rms_mps2,
        k * figures.vdv_mps175,
        figures.duration_s,
    );
    let counts = matches!(weighting, Weighting::Wk | Weighting::Wd);
    let sd_daily_mpa = if axis == AxisName::Z && exposure_s > 0.0 {
        let dose = daily_dose_mps2(spine.figures()?.dose_mps2, measured_s, exposure_s)?;
        Some(SpineRiskModel::MALE_82_KG.daily_stress_mpa(dose))
    } else {
        None
    };
    let when_counts = |x: Option<f64>| x.filter(|_| counts);
    Ok(Channel {
        weighted_rms_mps2: figures.weighted_rms_mps2,
        vdv_mps175: figures.vdv_mps175,
        mtvv_mps2: figures.mtvv_mps2,
        crest_factor: figures.crest_factor,
        peak_mps2: figures.peak_mps2,
        a8_mps2: when_counts(Some(day.a8_mps2())),
        seconds_to_action: when_counts(daily::seconds_to_action(rms)?),
        seconds_to_limit: when_counts(daily::seconds_to_limit(rms)?),
        weighting: weighting_name(weighting),
        column: columns.names[i].trim_matches('\'').to_owned(),
        axis,
        mtvv_exponential_mps2: figures.mtvv_exponential_mps2,
        weighted_peak_mps2: figures.weighted_peak_mps2,
        mean_removed_mps2: mean,
        vdv_daily_mps175: day.vdv_mps175(),
        seconds_to_action_vdv: when_counts(daily::seconds_to_action_vdv(vdv, measured_s)?),
        seconds_to_limit_vdv: when_counts(daily::seconds_to_limit_vdv(vdv, measured_s)?),
        sd_daily_mpa,
    })
}

fn text(record: &Record) -> String {
    const SHOWN: usize = 3;
    let mut text = wrap(
        &format!(
            "{}: {} s at {} Hz, {} h a day of it",
            record.file,
            number(record.duration_s),
            number(record.sample_rate_hz),
            record.exposure_hours
        ),
        "",
        80,
    );
    for group in record.channels.chunks(SHOWN) {
        text += &block(group);
    }
    text += "\nThe mean was taken off first. A(8) and the times hold 1.4 for x and y.\n";
    if record.sample_rate_hz < 200.0 {
        text += &wrap(
            &format!(
                "The recording holds nothing above {} Hz; the weightings reach to 100 Hz.",
                number(0.5 * record.sample_rate_hz)
            ),
            "",
            80,
        );
    }
    text
}

fn block(channels: &[Channel]) -> String {
    let mut text = String::from("\n");
    let mut row = |label: &str, cell: &dyn Fn(&Channel) -> String| {
        let mut line = format!("{label:<35}");
        for channel in channels {
            line += &format!("{:>15}", cell(channel));
        }
        text += line.trim_end();
        text.push('\n');
    };
    let maybe = |x: Option<f64>| x.map_or_else(|| "-".to_owned(), number);
    // A time that is not there: never reached, or not defined for the weighting.
    let time = |c: &Channel, x: Option<f64>| {
        if c.a8_mps2.is_some() {
            daily_time(x)
        } else {
            "-".to_owned()
        }
    };
    row("column", &|c| c.column.chars().take(14).collect());
    row("axis, weighting", &|c| {
        format!("{:?}, {}", c.axis, c.weighting).to_lowercase()
    });
    row("mean taken off, m/s2", &|c| number(c.mean_removed_mps2));
    row("weighted r.m.s., m/s2", &|c| number(c.weighted_rms_mps2));
    row("dose value VDV, m/s^1.75", &|c| number(c.vdv_mps175));
    row("running maximum MTVV, m/s2", &|c| number(c.mtvv_mps2));
    row("crest factor", &|c| maybe(c.crest_factor));
    row("peak, unweighted, m/s2", &|c| number(c.peak_mps2));
    row("A(8), m/s2", &|c| maybe(c.a8_mps2));
    row(
        &format!("  time to action value {ACTION_A8_MPS2} m/s2"),
        &|c| time(c, c.seconds_to_action),
    );
    row(
        &format!("  time to limit value {LIMIT_A8_MPS2} m/s2"),
        &|c| time(c, c.seconds_to_limit),
    );
    row("VDV of the day, m/s^1.75", &|c| number(c.vdv_daily_mps175));
    row("  time to action value 9.1 m/s^1.75", &|c| {
        time(c, c.seconds_to_action_vdv)
    });
    row("  time to limit value 21 m/s^1.75", &|c| {
        time(c, c.seconds_to_limit_vdv)
    });
    row("spinal stress Sd of the day, MPa", &|c| {
        maybe(c.sd_daily_mpa)
    });
    text
}
