//! The proof as a page of the documentation.

use super::alphabet::letters;
use super::proof::{Found, Proof};

/// A time of so many steps, s.
fn seconds(steps: u32, step_s: f32) -> String {
    let s = (f64::from(steps) * f64::from(step_s) * 1000.0).round() / 1000.0;
    format!("{s} s")
}

/// The claims: what is claimed, and how many states or steps break it in the two explorations, or the time.
#[must_use]
pub fn claims(proof: &Proof) -> Vec<(String, String)> {
    let broken = |pick: fn(&Found) -> u64| {
        format!("broken {} times", pick(&proof.short) + pick(&proof.coarse))
    };
    let time = |steps| seconds(steps, proof.step_s);
    let stated = &proof.stated;
    let row = |claim: &str, figure: String| (claim.to_owned(), figure);
    vec![
        row(
            "With a fault standing or the stop circuit open nothing drives and no authority is left, in the very \
             step that sees it (1 step). Only these may drive: Limp with one dispensable sensor lost and nothing else; Settle \
             with that, with travel lost and nothing else, or with bearable faults alone; and Release, the stop circuit closed, \
             with passing faults alone or with releasing faults and nothing else",
            broken(|f| f.drives_disturbed),
        ),
        row(
            "With an accelerometer lost Limp never looks ahead: its share of the isolation is zero from its first step",
            broken(|f| f.limp_isolates),
        ),
        row(
            "Release never raises authority and leaves the height adjuster alone",
            broken(|f| f.release_raises),
        ),
        row(
            "Release is followed by a mode that does not drive",
            broken(|f| f.release_drives_on),
        ),
        row(
            "Release drives for this time in a row at the most, whatever comes (release_s and one step)",
            time(stated.release),
        ),
        row(
            "A mode that does not drive gives no authority",
            broken(|f| f.authority_undriven),
        ),
        row(
            "Authority moves no faster than its ramps, but for these: a fault and the end of Release take all of it, \
             Limp takes the isolation at once when an accelerometer is lost, and the catch of a falling seat gives the force at once",
            broken(|f| f.jumps),
        ),
        row(
            "From a latched fault, while the arming switch stays on, none of Rise, Active, Derated and Beyond is \
             ever reached again",
            broken(|f| f.unbidden as u64),
        ),
        row(
            "A controller that starts with the arming switch on stays Off as long as the switch stays on, and when it \
             is put off",
            broken(|f| f.unarmed as u64),
        ),
        row(
            "No dead end: from every state every mode can be reached",
            broken(|f| f.dead_ends as u64),
        ),
        row(
            "The conditions of the table are all that decides",
            broken(|f| f.undecided),
        ),
        row(
            "Disarmed and undisturbed, from any state, Off at the latest after (switch_s + settle_max_s + \
             lead_out_s and one step)",
            time(stated.to_off),
        ),
        row(
            "Undisturbed, Damped is left after (clear_s); disturbed it stays, which is safe",
            time(stated.out_of_damped),
        ),
        row(
            "Once Beyond, the seat is not Active again before all assumptions of the proof have held for (clear_s); \
             after that it is Beyond no longer",
            time(stated.beyond),
        ),
        row(
            "With both switches at rest no change of mode can repeat faster than every (clear_s and one step)",
            time(stated.period_at_rest),
        ),
        row(
            "Whatever the switches do, no change of mode can repeat faster than every (twice switch_s)",
            time(stated.period),
        ),
    ]
}

/// The page, in Markdown.
#[must_use]
pub fn markdown(proof: &Proof) -> String {
    let mut text = String::from(
        "# Modes\n\n\
         Made by `becalm modes --markdown docs/modes.md --svg docs/modes.svg`; a test compares it with the code.\n\
         Times are those of the default rig.\n\n\
         ![The modes and what makes them change](modes.svg)\n\n\
         Only Rise, Active, Derated, Beyond, Limp, Settle and Release drive. All others brake: the windings are\n\
         joined, and the unpowered motor damps the seat; a motor that was driven until Fault came is let go first, for\n\
         three periods. In Beyond the seat isolates as in Active, but the travel is not proved: the floor is rougher,\n\
         the occupant heavier or the seat further astray than the proof assumes. In\n\
         Limp with an accelerometer lost the seat's own motion is calmed and its travel kept, by the model in place of the\n\
         lost sensor; without its current sensor, which is no part of the law, its isolation stays as it is. In\n\
         Release the current is led to zero. Settle sets the occupant down, for a while also without travel, by the\n\
         accelerometers alone. In the picture blue and yellow boxes drive, the others brake.\n\n\
         `armed` means that the arming switch has rested on for `switch_s` and has been off once since the reset,\n\
         `seated` that the occupant switch has rested on for `switch_s`. Of faults that stand:\n\n\
         | words | meaning |\n|---|---|\n\
         | bearable fault | supply or late or both, the stop circuit closed, nothing else |\n\
         | grave passing fault | sequence or hot, the stop circuit closed, nothing latched |\n\
         | stop circuit open | with or without passing faults, nothing latched |\n\
         | one dispensable sensor lost | latched: the floor's accelerometer, the seat's or the current sensor, nothing else |\n\
         | travel sensor lost | latched: travel, nothing else |\n\
         | releasing fault | latched: coil temperature, cross-check, force, or two of the accelerometers and travel; nothing else |\n\
         | hard fault | latched: any other, or one of the last three with a passing fault or the stop circuit open |\n\n\
         ## What makes the modes change\n\n\
         Found by running `supervise::State::step` from every state under every input. Any line of a guard is enough.\n\n\
         | from | to | guard |\n|---|---|---|\n",
    );
    for row in &proof.changes {
        text += &format!(
            "| {} | {} | {} |\n",
            row.from,
            row.to,
            row.guards.join("<br>")
        );
    }
    text += "\n## What is proved\n\n| claim | found |\n|---|---|\n";
    for (claim, figure) in claims(proof) {
        text += &format!("| {claim} | {figure} |\n");
    }
    text += &format!(
        "\nExplored: the machine with short times, {} states under {} classes of input ({} steps), and the rig's\n\
         own times at a step of {} s, {} states ({} steps). The formulas of the times are checked on\n\
         both and, by the tests, on machines with other times; the seconds are those formulas at the rig's\n\
         control period of {} s. Repetition is searched in the short machine alone.\n\n\
         - A machine that is disarmed while a passing fault stands stays in Damped until the fault is gone.\n\
         - A latched fault is reset where the machine is Off and disarmed. One that comes while the seat\n  \
         settles disarmed is reset by that same disarming; arming anew is deliberate.\n\
         - A dispensable sensor lost while the isolation fades in Settle does not end that fading at once.\n\
         - One single repetition can come sooner than stated when a switch had been counted nearly to\n  \
         its end before; it cannot go on.\n",
        proof.short.states,
        letters().count(),
        proof.short.pairs,
        proof.coarse_step_s,
        proof.coarse.states,
        proof.coarse.pairs,
        proof.step_s
    );
    text
}
