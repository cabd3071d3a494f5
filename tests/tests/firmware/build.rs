//! Every parameter of every stage with values that make no sense: an error that names it, or a cycle that
//! works; never a panic. Our own rule.

use becalm_tests::brakes::Brakes;
use firmware::commission::State;
use firmware::{BuildError, Commission, Cycle, Mode, Parameters, SensorFrame, Switches};
use host_sim::design;
use host_sim::rig::Rig;
use shared_math::{Q24, Scalar};

fn parameters() -> Parameters {
    let rig = Rig::default_machine().expect("the default rig");
    design::parameters(&rig).expect("parameters")
}

type Field = Box<dyn Fn(&mut Parameters) -> &mut f32>;

macro_rules! plain_fields {
    ($($stage:ident: $($field:ident)+;)+) => {
        vec![$($(plain(
            concat!(stringify!($stage), ".", stringify!($field)),
            |p| &mut p.$stage.$field,
        )),+),+]
    };
}

fn plain(name: &str, field: fn(&mut Parameters) -> &mut f32) -> (String, Field) {
    (name.to_owned(), Box::new(field))
}

/// Every real parameter, with the name by which an error must call it.
fn fields() -> Vec<(String, Field)> {
    let mut all = plain_fields! {
        timing: step_s latency_s;
        vet: accel_max_mps2 accel_jump_mps2 travel_max_m travel_jump_m stop_travel_m current_max_a supply_min_v
            supply_max_v coil_min_hc coil_max_hc coil_hot_hc coil_cool_hc;
        estimate: bias_max_mps2 forecast_window_s forecast_floor_mps forecast_residual_mps
            forecast_persistence;
        weigh: empty_mass_kg mass_max_kg preload_n preload_max_n level_rate_nps free_travel_m moving_mps
            calm_mps2 first_s slow_s preload_s preload_settle_s;
        isolate: centre_hz centre_damping centre_integral_ps usable_m usable_far_m softness forecast_gain
            accel_max_mps2 still_mps2 rough_mps2 accel_per_floor keep_per_floor floor_memory_s jerk_mps3 rise_hz rise_accel_mps2
            catch_accel_mps2;
        arrest: rest_m braking_mps2 approach_ps touch_mps allowance_mps accel_max_mps2 floor_accel_max_mps2;
        limit: force_constant_npa resistance_20c_ohm resistance_rise_pk current_max_a slew_nps
            voltage_share power_max_w regeneration_max_w derate_from_c derate_to_c spring_npm viscous_nspm
            coulomb_n coulomb_share coulomb_full_mps coulomb_ahead_s disturbance_hz disturbance_mass_kg
            disturbance_max_n
            body_rigid_share body_hz body_damping empty_mass_kg reference_lag_s release_lag_s;
        agree: travel_noise_m travel_scale_s2 travel_lost_m current_a load_change_n load_n load_mass_kg loss_n free_travel_m
            free_after_s;
        brake: resistor_ohm rate_from_mps rate_full_mps full_mps2 slew_s load_from_n load_full_n;
        supervise: switch_s risen_m risen_mps rise_max_s lead_in_s lead_out_s settle_max_s
            level_rest_s
            level_force_n afloat_m derated_below active_above clear_s release_s proved_floor_mps2 proved_astray_mps
            proved_mass_kg;
        commission: rest_s low_hz low_travel_m high_hz small_travel_m large_travel_m slow_hz slow_travel_m
            current_lag_s force_max_n travel_max_m rest_travel_max_m floor_rms_max_mps2 correlation_min accel_bias_max_mps2
            current_bias_max_a force_tolerance mass_tolerance viscous_tolerance coulomb_tolerance
            gain_tolerance residual_max;
    };
    macro_rules! channels {
        ($($channel:ident)+) => {
            $(all.push((
                concat!("calibrate.", stringify!($channel)).to_owned(),
                Box::new(|p: &mut Parameters| &mut p.calibrate.$channel.per_count),
            ));)+
        };
    }
    channels!(floor_accel seat_accel travel current supply coil_temperature);
    for i in 0..firmware::estimate::STATES {
        for j in 0..firmware::estimate::INNOVATIONS {
            all.push((
                "estimate.gains".to_owned(),
                Box::new(move |p| &mut p.estimate.gains[i][j]),
            ));
            all.push((
                "estimate.gains".to_owned(),
                Box::new(move |p| &mut p.estimate.without_floor[i][j]),
            ));
            all.push((
                "estimate.gains".to_owned(),
                Box::new(move |p| &mut p.estimate.without_seat[i][j]),
            ));
            for k in 0..firmware::estimate::START_STAGES {
                all.push((
                    "estimate.gains".to_owned(),
                    Box::new(move |p| &mut p.estimate.start[k].gains[i][j]),
                ));
            }
        }
    }
    for k in 0..firmware::estimate::START_STAGES {
        all.push((
            "estimate.start.until_s".to_owned(),
            Box::new(move |p| &mut p.estimate.start[k].until_s),
        ));
    }
    all
}

/// Counts the numbers in a tree.
fn numbers(value: &serde_json::Value) -> usize {
    match value {
        serde_json::Value::Number(_) => 1,
        serde_json::Value::Array(items) => items.iter().map(numbers).sum(),
        serde_json::Value::Object(items) => items.values().map(numbers).sum(),
        _ => 0,
    }
}

/// The list above leaves nothing out: as many numbers as the parameter table has, but for the eleven that are
/// whole (five numbers of steps or strikes, six zeros).
#[test]
fn every_parameter_is_listed() {
    let tree = serde_json::to_value(parameters()).expect("a tree");
    assert_eq!(fields().len() + 11, numbers(&tree));
}

/// Frames of an armed, seated machine that moves a little, then wildly, then is left.
fn works<S: Scalar>(what: &str, parameters: &Parameters) {
    let mut cycle = Cycle::<S>::new(parameters).expect("it was built before");
    let mut brakes = Brakes::default();
    let mut noise = 88_172_645_463_325_252_u64;
    let mut command = 0;
    for n in 0..700_u16 {
        noise ^= noise << 13;
        noise ^= noise >> 7;
        noise ^= noise << 17;
        let wild = if (400..500).contains(&n) { 2000 } else { 5 };
        let random = |shift: u32| ((noise >> shift) as u16 % (2 * wild + 1)) as i16 - wild as i16;
        let mut switches = Switches::STOP_CIRCUIT;
        if n > 0 {
            switches |= Switches::ARM;
        }
        if n < 600 {
            switches |= Switches::OCCUPANT;
        }
        let frame = SensorFrame {
            sequence: n,
            floor_accel: random(0),
            seat_accel: random(16),
            travel: random(32) / 5,
            current: random(40).saturating_add(command),
            supply: 4800,
            coil_temperature: 1200,
            switches: Switches(switches),
            marks: firmware::Marks(0),
        };
        let (drive, inside) = cycle.watch(&frame);
        let mode = Mode::from_code(drive.mode).expect("a mode");
        brakes.hold(&drive);
        let most = parameters.limit.current_max_a / parameters.calibrate.current.per_count.abs();
        // Without ENABLE it is the share of the brake.
        command = if mode.drives() {
            drive.current_command
        } else {
            assert!(drive.current_command >= 0, "{what}: {drive:?}");
            0
        };
        assert!(
            f32::from(command).abs() <= most + 1.0,
            "{what}: {drive:?} beyond {most} counts"
        );
        let inside = inside.map(Scalar::to_f64);
        for x in [
            inside.wanted,
            inside.arrest.permitted,
            inside.drive.current,
            inside.mass,
        ] {
            assert!(x.is_finite(), "{what} step {n}: {inside:?}");
        }
    }
}

/// A machine that answers to nothing, from the arming switch on: the test must end, never by force beyond its own.
fn commissions(what: &str, mut test: Commission, parameters: &Parameters) {
    let p = &parameters.commission;
    let most = p.force_max_n / parameters.limit.force_constant_npa;
    let counts = most / parameters.calibrate.current.per_count.abs();
    for n in 0..60_000_u32 {
        let arm = if n > 0 { Switches::ARM } else { 0 };
        let drive = test.step(&SensorFrame {
            sequence: n as u16,
            floor_accel: (n % 7) as i16,
            seat_accel: (n % 5) as i16,
            travel: ((n % 9) as i16 - 4) * 40,
            current: (n % 100) as i16,
            supply: 4800,
            coil_temperature: 300,
            switches: Switches(Switches::STOP_CIRCUIT | arm),
            marks: firmware::Marks(0),
        });
        assert!(f32::from(drive.current_command).abs() <= counts, "{what}");
        if matches!(test.state(), State::Done | State::Aborted(_)) {
            assert!(!test.may_arm(), "{what}");
            return;
        }
    }
    panic!("{what}: {:?}", test.state());
}

/// Builds with one value changed: the error, or a cycle that works in all three arithmetics.
fn tried(name: &str, field: &Field, value: f32) -> Option<BuildError> {
    let mut p = parameters();
    *field(&mut p) = value;
    if stage(name) == "commission" {
        // The law knows nothing of it.
        assert!(Cycle::<f32>::new(&p).is_ok(), "{name} = {value}");
        return match Commission::new(&p) {
            Ok(test) => {
                commissions(&format!("{name} = {value}"), test, &p);
                None
            }
            Err(error) => Some(error),
        };
    }
    let built = [
        Cycle::<f32>::new(&p).err(),
        Cycle::<f64>::new(&p).err(),
        Cycle::<Q24>::new(&p).err(),
    ];
    let what = format!("{name} = {value}");
    if built[0].is_none() {
        assert!(built.iter().all(Option::is_none), "{what}: {built:?}");
        works::<f32>(&what, &p);
        works::<f64>(&what, &p);
        works::<Q24>(&what, &p);
    } else {
        assert!(built.iter().all(Option::is_some), "{what}: {built:?}");
    }
    built[0]
}

/// The stage in front of the dot.
fn stage(name: &str) -> &str {
    name.split('.').next().unwrap_or(name)
}

/// NaN, infinite, zero, negative, tiny and huge: an error of that very stage, or a working cycle. The
/// control period is part of every stage.
#[test]
fn nonsense_is_refused_or_harmless() {
    let mut refused = 0;
    for (name, field) in fields() {
        let now = *field(&mut parameters());
        for value in [
            f32::NAN,
            f32::INFINITY,
            f32::NEG_INFINITY,
            0.0,
            -0.0,
            -now,
            10.0 * now,
            0.1 * now,
            1.0e-30,
            f32::MIN_POSITIVE,
            1.0e30,
            -1.0e30,
            f32::MAX,
        ] {
            if let Some(error) = tried(&name, &field, value) {
                refused += 1;
                let told = error.to_string();
                if stage(&name) != "timing" {
                    assert_eq!(stage(error.field), stage(&name), "{name} = {value}: {told}");
                }
                assert!(
                    told.contains(error.field) && !error.expected.is_empty(),
                    "{told}"
                );
            }
        }
    }
    assert!(refused > 500, "{refused}");
}

/// Whole parameters: no steps at all, and zeros that no converter has.
#[test]
fn whole_numbers() {
    type Set = fn(&mut Parameters);
    let cases: [(&str, Set); 10] = [
        ("vet.stuck_steps", |p| p.vet.stuck_steps = 0),
        ("vet.fault_steps", |p| p.vet.fault_steps = 0),
        ("vet.sequence_strikes", |p| p.vet.sequence_strikes = 0),
        ("vet.late_strikes", |p| p.vet.late_strikes = 0),
        ("vet.forgive_steps", |p| p.vet.forgive_steps = 0),
        ("vet.late_strikes", |p| p.vet.late_strikes = 65_536),
        ("calibrate.travel", |p| {
            p.calibrate.travel.zero_counts = i32::MAX
        }),
        ("calibrate.supply", |p| {
            p.calibrate.supply.zero_counts = i32::MIN
        }),
        ("calibrate.current", |p| {
            p.calibrate.current.zero_counts = 65_536
        }),
        ("calibrate.seat_accel", |p| {
            p.calibrate.seat_accel.zero_counts = -32_769
        }),
    ];
    for (name, set) in cases {
        let mut p = parameters();
        set(&mut p);
        let error = Cycle::<f32>::new(&p).expect_err(name);
        assert_eq!(error.field, name, "{error}");
    }
    for most in [1, u16::MAX.into()] {
        let mut p = parameters();
        p.vet.stuck_steps = most;
        p.vet.fault_steps = most.min(7);
        p.vet.sequence_strikes = most;
        p.vet.late_strikes = most;
        p.vet.forgive_steps = most;
        works::<f32>("steps", &p);
    }
}

/// Ranges turned round: the error names one end.
#[test]
fn inverted_ranges() {
    let all = fields();
    let of = |name: &str| &all.iter().find(|f| f.0 == name).expect("a field").1;
    for (low, high) in [
        ("vet.supply_min_v", "vet.supply_max_v"),
        ("vet.coil_min_hc", "vet.coil_max_hc"),
        ("weigh.empty_mass_kg", "weigh.mass_max_kg"),
        ("weigh.preload_n", "weigh.preload_max_n"),
        ("weigh.first_s", "weigh.slow_s"),
        ("isolate.usable_far_m", "isolate.usable_m"),
        ("limit.derate_from_c", "limit.derate_to_c"),
        ("supervise.derated_below", "supervise.active_above"),
    ] {
        let mut p = parameters();
        let (a, b) = (*of(low)(&mut p), *of(high)(&mut p));
        assert!(a < b, "{low} {high}");
        (*of(low)(&mut p), *of(high)(&mut p)) = (b, a);
        let error = Cycle::<f32>::new(&p).expect_err(low);
        assert!([low, high].contains(&error.field), "{low}, {high}: {error}");
    }
    let mut p = parameters();
    p.estimate.start.reverse();
    let error = Cycle::<f32>::new(&p).expect_err("start stages out of order");
    assert_eq!(error.field, "estimate.start.until_s");
}

/// What is no number at all is refused, by its own name.
#[test]
fn not_finite_is_refused_by_name() {
    let mut failures = Vec::new();
    for (name, field) in fields() {
        for value in [f32::NAN, f32::INFINITY, f32::NEG_INFINITY] {
            match tried(&name, &field, value) {
                Some(error) if error.field == name => {}
                Some(error) => failures.push(format!("{name} = {value}: {error}")),
                None => failures.push(format!("{name} = {value}: taken")),
            }
        }
    }
    assert!(failures.is_empty(), "\n  {}", failures.join("\n  "));
}

/// A negative value of what cannot be negative is refused, by its own name.
#[test]
fn negative_is_refused_by_name() {
    // Polarity, gains and a temperature may be negative.
    let signed = |name: &str| {
        name.starts_with("calibrate.") || name == "estimate.gains" || name.starts_with("vet.coil_m")
    };
    let mut failures = Vec::new();
    for (name, field) in fields().iter().filter(|f| !signed(&f.0)) {
        let now = *field(&mut parameters());
        let value = if now == 0.0 { -1.0 } else { -now.abs() };
        match tried(name, field, value) {
            Some(error) if error.field == name => {}
            Some(error) => failures.push(format!("{name} = {value}: {error}")),
            None => failures.push(format!("{name} = {value}: taken")),
        }
    }
    assert!(failures.is_empty(), "\n  {}", failures.join("\n  "));
}
