//! The trigger model step by step.

use spurline_clock::{Pace, run};

use super::*;

fn moment() -> Moment {
    run(Pace::Fast, |clock| async move { clock.now() }).unwrap()
}

const SWEEPING: Operation = Operation::SWEEPING;

fn span() -> Seconds {
    Seconds::new(2.0)
}

/// SCPI-1999 volume 1, clause 10.4 (`INITiate`, -213) and 21.8.10 (-211), from memory.
#[test]
fn a_trigger_is_waited_for_and_taken_once() {
    let now = moment();
    let mut system = Acquisition::new(Mode::RESET);
    system.set_source(Source::Bus, now, span());
    assert_eq!(system.bus_trigger(now, span()), Err(ErrorCode::TRIGGER_IGNORED));
    assert_eq!(system.initiate(now, span()), Ok(()));
    assert_eq!(system.operation(SWEEPING), Operation::WAITING_FOR_TRIGGER);
    assert!(system.pending_until(now).unwrap().since(now) > Duration::from_secs(86_400));
    assert_eq!(system.initiate(now, span()), Err(ErrorCode::INIT_IGNORED));
    assert_eq!(system.bus_trigger(now, span()), Ok(()));
    assert_eq!(system.operation(SWEEPING), SWEEPING);
    let end = now.after(span().duration());
    assert_eq!((system.pending_until(now), system.finish(now)), (Some(end), None));
    assert_eq!(system.finish(end), Some(Finished::Acquired(end)));
    assert_eq!((system.pending_until(end), system.operation(SWEEPING)), (None, Operation::NONE));
}

#[test]
fn only_the_right_source_triggers_but_a_command_always_does() {
    let now = moment();
    let mut system = Acquisition::new(Mode { source: Source::External, continuous: false });
    system.initiate(now, span()).unwrap();
    assert_eq!(system.bus_trigger(now, span()), Err(ErrorCode::TRIGGER_IGNORED));
    assert_eq!(system.force(now, span()), Ok(()));
    assert_eq!(system.force(now, span()), Err(ErrorCode::TRIGGER_IGNORED));
    system.abort();
    system.initiate(now, span()).unwrap();
    system.set_source(Source::Immediate, now, span());
    assert_eq!(system.operation(SWEEPING), SWEEPING, "nothing more is waited for");
}

/// SCPI-1999 volume 1, clause 10.4: continuous measuring is not pending, so that `*OPC?` never hangs on it.
#[test]
fn continuous_measuring_is_never_pending() {
    let now = moment();
    let mut system = Acquisition::new(Mode::FREE);
    assert!(system.runs_freely() && system.pending_until(now).is_none());
    assert_eq!(system.operation(SWEEPING), SWEEPING);
    assert_eq!(system.initiate(now, span()), Err(ErrorCode::INIT_IGNORED));
    system.set_source(Source::Bus, now, span());
    assert!(!system.runs_freely() && system.pending_until(now).is_none());
    assert_eq!(system.bus_trigger(now, span()), Ok(()));
    let end = now.after(span().duration());
    assert_eq!(system.finish(end), Some(Finished::Acquired(end)));
    assert_eq!(system.operation(SWEEPING), Operation::WAITING_FOR_TRIGGER, "armed again");
    system.set_continuous(false);
    assert_eq!(system.operation(SWEEPING), Operation::NONE);
}

/// SCPI-1999 volume 1, clause 21.8.10: -214 where `READ?` would wait for a trigger that can only come behind it.
#[test]
fn a_reading_does_not_deadlock() {
    let now = moment();
    let mut system = Acquisition::new(Mode { source: Source::Bus, continuous: true });
    assert_eq!(system.restart(now, span()), Err(ErrorCode::TRIGGER_DEADLOCK));
    system.set_source(Source::Immediate, now, span());
    assert_eq!(system.restart(now, span()), Ok(()));
    assert_eq!(system.restart(now, span()), Ok(()), "it starts anew");
    system.calibrate(now, span());
    assert_eq!(system.restart(now, span()), Err(ErrorCode::SETTINGS_CONFLICT));
    system.abort();
    assert_eq!(
        system.finish(now.after(span().duration())),
        Some(Finished::Calibrated(now.after(span().duration())))
    );
}
