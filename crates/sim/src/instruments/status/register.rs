//! One SCPI status register: what is the case, what has been, and what of it is reported upwards.

/// A register of SCPI-1999 volume 1, clause 9.3: condition, transition filters, event, enable. Bit 15 is never used,
/// so that controllers may read it as a signed number.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Register {
    condition: u16,
    event: u16,
    enable: u16,
    positive: u16,
    negative: u16,
    /// What `STATus:PRESet` sets the enable register to.
    reported_by_preset: u16,
}

/// One of the masks of a register.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Filter {
    /// Which events are reported upwards.
    Enable,
    /// Which conditions become events when they come about.
    Positive,
    /// Which conditions become events when they end.
    Negative,
}

/// Every bit but the highest.
pub(crate) const BITS: u16 = 0x7fff;

impl Register {
    /// `OPERation` or `QUEStionable`: nothing is reported upwards until it is asked for.
    pub(crate) const fn mandatory() -> Self {
        Self::preset_to(0)
    }

    /// A register below one of those: everything is reported upwards (SCPI-1999 volume 2, table 20-3, from memory).
    pub(crate) const fn below() -> Self {
        Self::preset_to(BITS)
    }

    const fn preset_to(enable: u16) -> Self {
        Self { condition: 0, event: 0, enable, positive: BITS, negative: 0, reported_by_preset: enable }
    }

    /// Takes over what is the case; what the filters let through is an event.
    pub(crate) fn update(&mut self, condition: u16) {
        let condition = condition & BITS;
        let came = condition & !self.condition & self.positive;
        let went = self.condition & !condition & self.negative;
        self.event |= came | went;
        self.condition = condition;
    }

    /// What is the case.
    pub(crate) const fn condition(&self) -> u16 {
        self.condition
    }

    /// What has been since the last call.
    pub(crate) fn take_event(&mut self) -> u16 {
        std::mem::take(&mut self.event)
    }

    /// One of the masks.
    pub(crate) const fn filter(&self, filter: Filter) -> u16 {
        match filter {
            Filter::Enable => self.enable,
            Filter::Positive => self.positive,
            Filter::Negative => self.negative,
        }
    }

    /// Sets one of the masks; bit 15 is dropped.
    pub(crate) const fn set_filter(&mut self, filter: Filter, mask: u16) {
        let place = match filter {
            Filter::Enable => &mut self.enable,
            Filter::Positive => &mut self.positive,
            Filter::Negative => &mut self.negative,
        };
        *place = mask & BITS;
    }

    /// Whether an enabled event waits to be read.
    pub(crate) const fn is_reported(&self) -> bool {
        self.event & self.enable != 0
    }

    /// Whether an enabled condition is the case. The bit of a register below is summed up by this and not by its
    /// events: a client that only polls the upper condition then sees the bit go when the cause goes.
    pub(crate) const fn is_present(&self) -> bool {
        self.condition & self.enable != 0
    }

    /// `*CLS`: what has been is forgotten, the masks stay.
    pub(crate) const fn clear(&mut self) {
        self.event = 0;
    }

    /// `STATus:PRESet`: masks as they are after switching on; condition and events stay.
    pub(crate) const fn preset(&mut self) {
        self.enable = self.reported_by_preset;
        self.positive = BITS;
        self.negative = 0;
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// SCPI-1999 volume 1, clause 9.3, from memory: each filter lets its own direction through.
    #[test]
    fn transitions_pass_their_filters() {
        let mut register = Register::mandatory();
        register.update(8);
        assert_eq!((register.condition(), register.take_event(), register.take_event()), (8, 8, 0));
        register.update(0);
        assert_eq!(register.take_event(), 0, "falling edges are filtered out after preset");
        register.set_filter(Filter::Positive, 0);
        register.set_filter(Filter::Negative, 8);
        register.update(8);
        assert_eq!(register.take_event(), 0);
        register.update(0);
        assert_eq!(register.take_event(), 8);
    }

    /// SCPI-1999 volume 2, `STATus:PRESet`, from memory.
    #[test]
    fn preset_touches_masks_alone() {
        for (mut register, enable) in [(Register::mandatory(), 0), (Register::below(), BITS)] {
            for filter in [Filter::Enable, Filter::Positive, Filter::Negative] {
                register.set_filter(filter, 0x1234);
            }
            register.update(0x1234);
            register.preset();
            let masks = [Filter::Enable, Filter::Positive, Filter::Negative].map(|f| register.filter(f));
            assert_eq!(masks, [enable, BITS, 0]);
            assert_eq!((register.condition(), register.take_event()), (0x1234, 0x1234));
        }
    }

    proptest! {
        /// IEEE 488.2 and SCPI leave one truth: an event is there if and only if a filtered edge was seen.
        #[test]
        fn events_are_the_filtered_edges(positive: u16, negative: u16, states in prop::collection::vec(any::<u16>(), 1..8)) {
            let mut register = Register::mandatory();
            register.set_filter(Filter::Positive, positive);
            register.set_filter(Filter::Negative, negative);
            for state in &states {
                register.update(*state);
            }
            for bit in 0..16 {
                let on = |state: &u16| bit < 15 && state >> bit & 1 == 1;
                let seen = std::iter::once(false).chain(states.iter().map(on)).collect::<Vec<_>>();
                let edge = |from, to, mask: u16| mask >> bit & 1 == 1 && seen.windows(2).any(|w| w == [from, to]);
                let expected = edge(false, true, positive) || edge(true, false, negative);
                prop_assert_eq!(register.event >> bit & 1 == 1, expected, "bit {}", bit);
            }
        }
    }
}
