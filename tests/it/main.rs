//! End-to-end tests: the built program, its files, its exit statuses, its wire.

#![expect(clippy::unwrap_used, reason = "a test may fail")]

mod again;
mod architecture;
mod bad_input;
mod bench;
mod by_hand;
mod compare;
mod demo;
mod discover;
mod exits;
mod faults;
mod glimpse;
mod handhelds;
mod identify;
mod interlocks;
mod keyholder;
mod limits;
mod link_cut;
mod links;
mod long_silence;
mod matrix;
mod mistakes;
mod modulation_set_up;
mod named;
mod over_time;
mod path;
mod pencil;
mod processes;
mod prove;
mod reach;
mod replay;
mod resume;
mod round_trips;
mod schemas;
mod search;
mod seeds;
mod shells;
mod silence;
mod spectrum;
mod standby;
mod supply_key;
mod supply_series;
mod truth;
mod verify;
mod ways;
