//! The measuring procedures and the run.
//!
//! [`measure`] takes a [`Job`](spurline_plan::Job) and addresses, and does the whole of it: identify, look
//! unkeyed, key on a lease, zero span, carrier by two instruments, every harmonic, key up, verdicts. What
//! happens goes out as events from one [`Dispatcher`]; the recorder is its first listener, and a reading that
//! could not be kept stops the run. This room knows no screen and no file format.

mod again;
mod ambient;
mod by_hand;
mod carrier;
mod conversion;
mod dispatcher;
mod fault;
mod find;
mod glimpse;
mod interlock;
mod key_down;
mod keyed;
mod leak;
mod line;
mod mending;
mod modulation;
mod over_time;
mod path;
mod possible;
mod prove;
mod rack;
mod resume;
mod run;
mod scope;
mod search;
mod silence;
#[cfg(test)]
mod specimen;
mod spectrum;
mod stage;
mod standby;
mod supply_series;
mod trace;
mod verify;
mod work;

pub use again::judge_again;
pub use dispatcher::{Dispatcher, Listener, Recorder};
pub use fault::RunFault;
pub use find::{FoundCarrier, Sought, Wanted, find_carrier};
pub use interlock::Arming;
pub use keyed::{KeyLineAt, KeySetup};
pub use modulation::{Operator, Prompted, ToneWanted};
pub use path::{
    Connection, MeasuredLoss, MeasuredPath, Mover, PathEnded, PathOutcome, PathProgress, PathSetup,
    measure_path,
};
pub use prove::{Fitting, Hand, PROVEN, Proceeding, ProofEnded, ProofSetup, prove, standing, stands};
pub use resume::{Kept, KeyedSpan};
pub use run::{Before, Begun, Ended, FoundBy, Setup, measure};
