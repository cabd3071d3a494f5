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
             step that sees it (1 step)",
            broken(|f| f.drives_disturbed),
        ),
        row(
            "A mode that does not drive gives no authority",
            broken(|f| f.authority_undriven),
        ),
        row(
            "Authority moves no faster than its ramps, but for a fault and the catch of a falling seat",
            broken(|f| f.jumps),
        ),
        row(
            "An armed machine with a latched fault does not drive again while the arming switch stays on",
            broken(|f| f.unbidden as u64),
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
            "Disarmed and undisturbed, from any state, Off at the latest after (switch_s + settle_max_s + lead_out_s)",
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
         Only Rise, Active, Derated, Beyond and Settle drive. Off and Passive leave the windings open, Damped and\n\
         Fault short them. In Beyond the seat isolates as in Active, but the travel is not proved: the floor is\n\
         rougher, the occupant heavier or the seat further astray than the proof assumes. `armed` and `seated` mean that the switch has rested for\n\
         `switch_s`.\n\n\
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
