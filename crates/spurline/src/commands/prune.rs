//! `prune`: raw levels of old runs are taken out, what was read and judged stays.

use clap::Args;
use jiff::tz::Offset;
use jiff::{Span, Timestamp};
use serde_json::json;
use spurline_clock::Pace;
use spurline_record::RunId;
use spurline_runner::{Held, SOFTWARE};
use spurline_store::{Prunable, Room, Store, StoreError};

use crate::data::{DataArgument, open_to_write};
use crate::exit::Exit;
use crate::talk::{Failure, print_json, print_text, say};

/// Take the levels of sweeps out of old runs; readings, proofs, budgets, verdicts and hashes stay
///
/// The record says of each run what was taken out, when and by which program, and its chain still verifies. A run that
/// goes on, one whose chain is broken, and by `--older-than` one whose simulated clock is ahead, is left alone and named. Without its levels a run cannot be judged again from them.
#[derive(Args, Debug)]
pub(crate) struct Prune {
    /// The runs: their names, the beginnings of them, or `last`
    runs: Vec<String>,
    /// Those that ended longer ago: `90d`, `12w`, `1y`
    #[arg(long, value_name = "SPAN", value_parser = crate::span::span, allow_hyphen_values = true)]
    older_than: Option<Span>,
    /// The messages of the links as well
    #[arg(long)]
    transcripts: bool,
    /// Say what would be taken out, and take nothing
    #[arg(long)]
    dry_run: bool,
    #[command(flatten)]
    data: DataArgument,
    /// Print one JSON document
    #[arg(long)]
    pub(crate) json: bool,
}

impl Prune {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        if self.runs.is_empty() && self.older_than.is_none() {
            return Err(Failure::Usage {
                message: "expected runs to prune, found none".to_owned(),
                advice: "`--older-than 90d` takes those that ended longer ago, `--dry-run` with it says which and how much; \
                         or name them: `spurline runs` lists their names. Nothing was taken out"
                    .to_owned(),
            });
        }
        let folder = self.data.folder()?;
        let now = spurline_clock::run(Pace::Real, |clock| async move { clock.timestamp() });
        let now = now.map_err(Failure::runtime)?;
        let looked_at = Store::open_read_only(&folder)?;
        let (runs, later) = self.meant(&looked_at, now)?;
        // A look changes nothing, not even the schema.
        let store = if self.dry_run { looked_at } else { open_to_write(&folder)? };
        let whats: &[Prunable] =
            if self.transcripts { &[Prunable::Sweeps, Prunable::Transcript] } else { &[Prunable::Sweeps] };
        let (mut rooms, mut left) = (Vec::new(), later.iter().map(ToString::to_string).collect::<Vec<_>>());
        for run in &runs {
            // One that is gone on with is written, though it still stands as it ended before.
            // A look needs no right to write beside the record.
            let held = if self.dry_run && !Held::is_run_held(&folder, run) {
                Ok(Held::default())
            } else {
                Held::run(&folder, run)
            };
            let alone = match held {
                Ok(alone) => alone,
                Err(in_use) if self.older_than.is_none() => return Err(in_use.into()),
                Err(in_use) => {
                    left.push(in_use.to_string());
                    continue;
                }
            };
            let pruned = self.one(&store, run, whats, now);
            drop(alone);
            match pruned {
                Ok(of_run) => rooms.extend(of_run.into_iter().filter(|(_, room)| room.items > 0)),
                // Who names a run wants that one: it is no success to have left it alone.
                Err(error @ (StoreError::NotWhole { .. } | StoreError::StillRunning { .. }))
                    if self.older_than.is_some() =>
                {
                    left.push(error.to_string());
                }
                Err(other) => return Err(other.into()),
            }
        }
        let given_back = !self.dry_run && !rooms.is_empty() && store.give_room_back()?;
        self.tell(&rooms, &left, given_back)?;
        Ok(Exit::Good)
    }

    /// The runs that are meant, and why others that might be are not.
    fn meant(&self, store: &Store, now: Timestamp) -> Result<(Vec<RunId>, Vec<StoreError>), Failure> {
        let named = self.runs.iter().map(|run| store.resolve(run)).collect::<Result<Vec<_>, _>>()?;
        let Some(span) = self.older_than else { return Ok((named, Vec::new())) };
        let earlier = Offset::UTC.to_datetime(now).checked_sub(span);
        let since = earlier.and_then(|at| Offset::UTC.to_timestamp(at)).map_err(|error| Failure::Usage {
            message: format!(
                "expected a span such as `90d` as `--older-than`, found one that leads nowhere: {error}"
            ),
            advice: "say days, weeks, months or years".to_owned(),
        })?;
        let mut old = store.ended_before(since)?;
        let meant = |run: &RunId| named.is_empty() || named.contains(run);
        old.retain(meant);
        // How long ago such a run ended cannot be said.
        let later = store.ended_after(now)?.into_iter().filter(|(run, _)| meant(run));
        Ok((old, later.map(|(run, ended)| StoreError::EndsLater { run, ended }).collect()))
    }

    fn one(
        &self,
        store: &Store,
        run: &RunId,
        whats: &[Prunable],
        now: Timestamp,
    ) -> Result<Vec<(Prunable, Room)>, StoreError> {
        let each = |what: &Prunable| {
            let room = if self.dry_run {
                store.prunable(run, *what)?
            } else {
                store.prune(run, *what, now, SOFTWARE)?
            };
            Ok((*what, room))
        };
        whats.iter().map(each).collect()
    }

    fn tell(&self, rooms: &[(Prunable, Room)], left: &[String], given_back: bool) -> Result<(), Failure> {
        if self.json {
            let pruned: Vec<_> = rooms
                .iter()
                .map(|(what, room)| json!({ "run": room.run, "what": what, "items": room.items, "size": room.size }))
                .collect();
            return print_json(&json!({
                "dry_run": self.dry_run, "pruned": pruned, "left": left, "given_back": given_back,
            }));
        }
        let verb = if self.dry_run { "would be taken out" } else { "taken out" };
        let mut text = String::new();
        for (what, room) in rooms {
            let size = room.size as f64 / 1e6;
            text.push_str(&format!("{}: {} {}, {size:.2} MB, {verb}\n", room.run, room.items, what.word()));
        }
        if rooms.is_empty() {
            text.push_str("nothing to take out\n");
        }
        print_text(&text)?;
        left.iter().for_each(|why| say(&format!("left alone: {why}")));
        if !self.dry_run && !rooms.is_empty() && !given_back {
            say(
                "the file keeps its size: somebody uses it, or there is no room for a copy; later runs fill the room",
            );
        }
        Ok(())
    }
}
