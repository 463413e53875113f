//! How registers and queue add up to the status byte.

use spurline_scpi::{ErrorCode, Operation, QuestionablePower};

use super::*;

fn status() -> Status {
    Status::at_power_on(DEPTH)
}

fn error(code: ErrorCode) -> InstrumentError {
    InstrumentError::standard(code)
}

/// IEEE 488.2 clause 11.2: enabled events show in the status byte, which the service mask sums up.
#[test]
fn events_are_summed_up() {
    let mut status = status();
    status.set_event_enable(StandardEvent::COMMAND_ERROR.bits());
    status.set_service_enable(StatusByte::EVENT_SUMMARY.bits());
    assert_eq!(status.byte(false).bits(), 0);
    status.push(error(ErrorCode::SYNTAX_ERROR));
    assert_eq!(status.byte(false).bits(), 4 + 32 + 64);
    assert_eq!(status.byte(true).bits(), 4 + 16 + 32 + 64);
    status.clear();
    assert_eq!(status.byte(false).bits(), 0);
}

/// IEEE 488.2 clause 11.3.1: a poll takes RQS, MSS stays as long as its reason does.
#[test]
fn a_poll_takes_rqs_and_leaves_mss() {
    let mut status = status();
    status.set_service_enable(StatusByte::ERROR_QUEUE.bits());
    status.push(error(ErrorCode::SYNTAX_ERROR));
    assert!(status.requests_service(false));
    assert_eq!((status.poll(false).bits(), status.poll(false).bits()), (4 + 64, 4));
    assert_eq!(status.byte(false).bits(), 4 + 64);
    // A reason that came and went and came again between two polls is a new one.
    status.errors.clear();
    status.look_for_reasons();
    status.push(error(ErrorCode::SYNTAX_ERROR));
    assert_eq!(status.poll(false).bits(), 4 + 64);
}

/// IEEE 488.2 clause 11.3.2.3: bit 6 of the service mask cannot be set.
#[test]
fn the_summary_does_not_sum_itself_up() {
    let mut status = status();
    status.set_service_enable(0xff);
    assert_eq!(status.service_enable(), 0xbf);
}

/// SCPI-1999 volume 2, clause 21.8.1: an overflow is an error of the device's own, whatever overflowed.
#[test]
fn an_overflow_sets_its_own_event() {
    let mut status = Status::at_power_on(2);
    status.take_events();
    for _ in 0..3 {
        status.push(error(ErrorCode::UNDEFINED_HEADER));
    }
    assert_eq!(status.take_events(), StandardEvent::COMMAND_ERROR.with(StandardEvent::DEVICE_ERROR));
}

/// IEEE 488.2 clause 11.5.1 and SCPI-1999 volume 2, clause 21.8: each class of numbers has a bit.
#[test]
fn each_class_sets_its_bit() {
    for (number, bit) in [
        (-113, 32),
        (-222, 16),
        (-240, 16),
        (-310, 8),
        (17, 8),
        (-410, 4),
        (-500, 128),
        (-600, 64),
        (-700, 2),
        (-800, 1),
    ] {
        let mut status = status();
        status.take_events();
        status.push(error(ErrorCode::new(number)));
        assert_eq!(status.take_events().bits(), bit, "{number}");
    }
}

/// IEEE 488.2 clause 10.25: `*PSC` decides whether the masks survive.
#[test]
fn power_on_clears_masks_as_asked() {
    for (clears, mask) in [(true, 0), (false, 48)] {
        let mut status = status();
        status.clears_at_power_on = clears;
        status.set_event_enable(48);
        status.set_service_enable(48);
        status.push(error(ErrorCode::SYNTAX_ERROR));
        status.power_on();
        assert_eq!((status.event_enable(), status.service_enable()), (mask, mask));
        assert_eq!((status.take_events().bits(), status.errors.len()), (128, 0));
    }
}

#[test]
fn the_power_register_is_summed_up_above() {
    let mut status = status();
    let overload = Conditions { power: QuestionablePower::OVERLOAD, ..Conditions::default() };
    status.update(overload);
    assert_eq!((status.power.condition(), status.questionable.condition()), (1, 8));
    assert_eq!(status.byte(false).bits(), 0, "nothing is reported upwards until it is asked for");
    status.questionable.set_filter(Filter::Enable, 8);
    assert_eq!(status.byte(false).bits(), 8);
    status.update(Conditions::default());
    assert_eq!((status.questionable.condition(), status.questionable.take_event()), (0, 8));
    status.power.set_filter(Filter::Enable, 0);
    status.update(overload);
    assert_eq!((status.power.take_event(), status.questionable.condition()), (1, 0));
}

#[test]
fn clearing_leaves_masks_and_filters() {
    let mut status = status();
    status.operation.set_filter(Filter::Enable, 24);
    status.operation.set_filter(Filter::Negative, 16);
    status.update(Conditions { operation: Operation::SWEEPING, ..Conditions::default() });
    status.clear();
    let register = &mut status.operation;
    assert_eq!((register.filter(Filter::Enable), register.filter(Filter::Negative)), (24, 16));
    assert_eq!((register.condition(), register.take_event()), (8, 0));
}
