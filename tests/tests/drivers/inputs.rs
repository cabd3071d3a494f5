//! The switches: every combination of levels, every pin that cannot be read.
//! The rules are common practice, stated in the documentation of the driver.

use embedded_hal_mock::eh1::MockError;
use embedded_hal_mock::eh1::digital::{Mock, State, Transaction};
use firmware::Switches;
use firmware::drivers::{Active, Antivalent, Contact, Inputs, SwitchInputs};

/// One reading with these contacts closed (stop circuit's two, occupant, arm); `None`: unreadable.
/// Gives the switches, disagreements and pin errors.
fn read(closed: [Option<bool>; 4], active: Active) -> (u8, u32, u32) {
    let contact = |closed: Option<bool>| {
        let high = closed.unwrap_or(true) == (active == Active::High);
        let call = Transaction::get(if high { State::High } else { State::Low });
        let error = MockError::Io(std::io::ErrorKind::TimedOut);
        Contact {
            pin: Mock::new(&[if closed.is_some() {
                call
            } else {
                call.with_error(error)
            }]),
            active,
        }
    };
    let [open, normally_closed, occupant, arm] = closed.map(contact);
    let stop = Antivalent {
        normally_open: open,
        normally_closed,
    };
    let mut inputs = Inputs::new(stop, occupant, arm);
    let switches = inputs.read();
    let counted = (inputs.disagreements(), inputs.pin_errors());
    let (mut a, mut b, mut o, mut r) = inputs.release();
    for pin in [&mut a, &mut b, &mut o, &mut r] {
        pin.done();
    }
    (switches.0, counted.0, counted.1)
}

#[test]
fn every_combination() {
    let states = [Some(false), Some(true), None];
    let mut seen = 0;
    for active in [Active::High, Active::Low] {
        for open in states {
            for closed in states {
                for occupant in states {
                    for arm in states {
                        let all = [open, closed, occupant, arm];
                        let (switches, disagreements, errors) = read(all, active);
                        let mut expected = 0;
                        if open == Some(true) && closed == Some(false) {
                            expected |= Switches::STOP_CIRCUIT;
                        }
                        if occupant == Some(true) {
                            expected |= Switches::OCCUPANT;
                        }
                        if arm == Some(true) {
                            expected |= Switches::ARM;
                        }
                        assert_eq!(switches, expected, "{all:?} {active:?}");
                        let agree = open.is_some() && open == closed;
                        assert_eq!(disagreements, u32::from(agree));
                        let unreadable = all.iter().filter(|s| s.is_none()).count();
                        assert_eq!(errors as usize, unreadable);
                        seen += 1;
                    }
                }
            }
        }
    }
    assert_eq!(seen, 2 * 81);
}
