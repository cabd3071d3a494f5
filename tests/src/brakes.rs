//! What brakes the seat where nothing drives.

use firmware::DriveFrame;
use firmware::supervise::Mode;

/// Steps of Fault in which the windings are open after a step that drove.
pub const LET_GO_STEPS: u32 = 3;

/// Holds drive frames of one ride, step by step, against this: what does not drive brakes, but for a motor that was driven
/// when the seat came to Fault, which is let go for three steps.
#[derive(Clone, Copy, Debug, Default)]
pub struct Brakes {
    drove: bool,
    let_go: u32,
}

impl Brakes {
    /// Looks at the next step's answer.
    ///
    /// # Panics
    /// When the answer drives or brakes where its mode does not, or the other way round.
    pub fn hold(&mut self, drive: &DriveFrame) {
        let mode = Mode::from_code(drive.mode).expect("a mode");
        self.let_go = match mode {
            Mode::Fault if self.drove => LET_GO_STEPS,
            Mode::Fault => self.let_go.saturating_sub(1),
            _ => 0,
        };
        self.drove = mode.drives();
        let brakes = !mode.drives() && self.let_go == 0;
        assert_eq!(drive.has(DriveFrame::ENABLE), mode.drives(), "{drive:?}");
        assert_eq!(drive.has(DriveFrame::DAMP), brakes, "{drive:?} {self:?}");
    }
}
