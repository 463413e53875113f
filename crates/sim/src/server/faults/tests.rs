//! All faults at once, without a link: messages in, deliveries out.
