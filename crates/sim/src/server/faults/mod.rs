//! What goes wrong with one instrument and its links: from the faults of the bench file to what is heard and sent.
//!
//! Every fault is decided here, seeded, from what the instrument is asked and from the clock; a link only carries the
//! outcome. Each family is a function from bytes, settings and draws to bytes; no file here knows a socket.

mod blocks;
mod connections;
mod fields;
mod language;
mod line;
mod numbers;
mod outgoing;
mod program;
mod queue;
mod rule;
mod sight;
mod taken;
mod terminators;
mod timing;
mod words;

use std::collections::HashMap;
use std::time::Duration;

use spurline_clock::Moment;
use spurline_scpi::{ErrorCode, Response};

use super::delivery::Delivery;
use super::port::{Admission, Connection, Cut};
use crate::bench::{Befalls, Does, Fault};
use crate::draw::Seed;

pub(super) use blocks::Layout;
pub(super) use queue::is_no_error;
pub(super) use taken::{Power, Taken};

use line::Line;
use outgoing::Outgoing;
use rule::{Act, Rule};
use sight::Sight;

/// The faults of one instrument, and what they have made of its connections.
#[derive(Debug)]
pub(super) struct Faults {
    rules: Vec<Rule>,
    seed: Seed,
    lines: HashMap<Connection, Line>,
    connections: u64,
    messages: u64,
    /// When the last message came, on whichever connection.
    last: Option<Moment>,
}

/// New connections are refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Outage {
    pub(super) cut: Cut,
    /// Until when; for ever if not stated.
    pub(super) until: Option<Moment>,
}

impl Faults {
    /// The faults of an instrument that is switched on `now`.
    pub(super) fn new(faults: impl IntoIterator<Item = Fault>, seed: Seed, now: Moment) -> Self {
        let rules =
            faults.into_iter().enumerate().map(|(place, fault)| Rule::new(fault, place, now)).collect();
        Self { rules, seed, lines: HashMap::new(), connections: 0, messages: 0, last: None }
    }

    /// Whether there are any.
    pub(super) fn is_empty(&self) -> bool {
        self.rules.is_empty()
    }

    /// Whether a state of the instrument is there.
    pub(super) fn stands(&self, does: Does, now: Moment) -> bool {
        self.rules.iter().any(|rule| rule.fault().does == does && rule.stands(now))
    }

    /// The refusal of new connections, if there is one.
    pub(super) fn outage(&self, now: Moment) -> Option<Outage> {
        let outage = |rule: &Rule| {
            let cut = match rule.fault().does {
                Does::CutLink | Does::Unplugged | Does::PowerCycle => Cut::All,
                Does::BusyRefused => Cut::NewOnly,
                _ => return None,
            };
            rule.stands(now).then(|| Outage { cut, until: rule.ends() })
        };
        self.rules.iter().find_map(outage)
    }

    /// A connection is being made; what becomes of it, and the errors that are in the queue by then.
    pub(super) fn admit(&mut self, now: Moment) -> (Admission, Vec<ErrorCode>) {
        self.connections += 1;
        let sight = Sight {
            now,
            number: self.connections,
            connection: self.connections,
            message: b"",
            response: None,
            idle: Duration::ZERO,
            pause: None,
            unanswered: true,
        };
        self.rules.iter_mut().for_each(Rule::count_connection);
        let acts = happening(&mut self.rules, self.seed, &sight, |befalls| befalls == Befalls::Connection);
        let happens = |does| acts.iter().any(|act| act.does == does);
        if happens(Does::MuteHandshake) || self.stands(Does::BusyMute, now) {
            return (Admission::Ignore, Vec::new());
        }
        if self.stands(Does::SlotLeak, now) || self.stands(Does::BusyClosed, now) {
            return (Admission::Close, Vec::new());
        }
        let connection = Connection(self.connections);
        self.lines.insert(connection, Line::new(now));
        let stale = acts.iter().filter(|act| act.does == Does::StaleErrors);
        (Admission::Serve(connection), stale.flat_map(|act| language::flood(act.count)).collect())
    }

    /// A connection has ended.
    pub(super) fn left(&mut self, connection: Connection) {
        self.lines.remove(&connection);
    }

    /// Device clear on a connection.
    pub(super) fn clear(&mut self, connection: Connection) {
        if let Some(line) = self.lines.get_mut(&connection) {
            line.clear();
        }
    }

    /// Bytes that came in over a connection, as they are heard.
    pub(super) fn hear(&mut self, connection: Connection, fresh: &mut [u8], now: Moment) {
        let (only_cr_lf, cr_is_data) = (self.stands(Does::WantsCrLf, now), self.stands(Does::CrIsData, now));
        let Some(line) = self.lines.get_mut(&connection) else { return };
        let last = line.last_byte;
        line.last_byte = fresh.last().copied().unwrap_or(last);
        if only_cr_lf {
            terminators::only_cr_lf(fresh, last);
        }
        if cr_is_data {
            terminators::cr_is_data(fresh);
        }
    }

    /// Whether what comes beside the messages of a connection is answered.
    pub(super) fn attends(&self, connection: Connection, now: Moment) -> bool {
        let is_dead = self.lines.get(&connection).is_some_and(|line| line.dead);
        !is_dead && !self.stands(Does::MuteLink, now)
    }

    /// Whether a reply of long ago is due on a connection; it is then taken for sent.
    pub(super) fn repeats_old_reply(&mut self, connection: Connection) -> bool {
        self.lines.get_mut(&connection).is_some_and(|line| std::mem::take(&mut line.stale_reply))
    }

    /// Whether a request for service is due on a connection; it is then taken for sent.
    pub(super) fn cries_for_service(&mut self, connection: Connection) -> bool {
        self.lines.get_mut(&connection).is_some_and(|line| std::mem::take(&mut line.stray_request))
    }

    /// A message has come; how it is understood, and what else happens with it.
    pub(super) fn take(&mut self, connection: Connection, message: &[u8], now: Moment) -> Taken {
        self.messages += 1;
        self.rules.iter_mut().for_each(|rule| rule.count_message(now));
        let line = self.lines.entry(connection).or_insert_with(|| Line::new(now));
        let sight = Sight {
            now,
            number: self.messages,
            connection: connection.0,
            message,
            response: None,
            idle: now.since(line.heard),
            pause: self.last.map(|last| now.since(last)),
            unanswered: !line.answered,
        };
        line.heard = now;
        self.last = Some(now);
        let mut taken = Taken::new(&sight);
        for mut act in happening(&mut self.rules, self.seed, &sight, |befalls| befalls == Befalls::Message) {
            match act.does {
                Does::Wedged => line.wedged = true,
                Does::IdleDeath => line.dead = true,
                Does::StrayServiceRequest => line.stray_request = true,
                _ => taken.befallen(&mut act),
            }
        }
        taken.is_lost |= line.wedged || line.dead;
        let deaf = [Does::MuteLink, Does::CutLink, Does::Unplugged, Does::PowerCycle, Does::LockedElsewhere];
        taken.is_lost |= deaf.into_iter().any(|does| self.stands(does, now));
        taken
    }

    /// How many times as long the work takes that a message has begun, if it takes longer than it should.
    pub(super) fn slowed(&mut self, taken: &Taken, now: Moment) -> Option<u32> {
        let sight = taken.sight(now, None);
        let acts = happening(&mut self.rules, self.seed, &sight, |befalls| befalls == Befalls::Work);
        acts.iter().map(|act| act.count).max()
    }

    /// Makes the answers to `SYSTem:ERRor?` those of the connection's own queue; `made` is what was in the
    /// instrument's.
    pub(super) fn keep_errors_apart(
        &mut self,
        taken: &Taken,
        response: Option<&mut Response>,
        made: Vec<spurline_scpi::Unit>,
    ) {
        if let Some(line) = self.lines.get_mut(&taken.connection()) {
            queue::keep_apart(&mut line.errors, response, made);
        }
    }

    /// What goes out for a message, with the answer if there is one.
    pub(super) fn answer(
        &mut self,
        taken: &mut Taken,
        response: Option<Response>,
        layout: Layout,
        now: Moment,
    ) -> Vec<Delivery> {
        let is_answer = |befalls| matches!(befalls, Befalls::Answer | Befalls::Block | Befalls::Number);
        let sight = taken.sight(now, response.as_ref());
        let acts = happening(&mut self.rules, self.seed, &sight, is_answer);
        let mut deliveries = std::mem::take(&mut taken.before);
        if let Some(response) = response {
            let held = acts.iter().any(|act| act.does == Does::LateAnswers);
            let stale = acts.iter().any(|act| act.does == Does::StaleReply);
            let mut answer = Outgoing::proper(response);
            for mut act in acts {
                play(&mut act, &mut answer, taken.message(), layout);
            }
            let mut sent = answer.deliveries();
            // Gone if the connection ended meanwhile; then nobody reads this either.
            if let Some(line) = self.lines.get_mut(&taken.connection()) {
                line.answered = true;
                line.stale_reply |= stale;
                if held {
                    line.held.append(&mut sent);
                } else {
                    deliveries.append(&mut line.held);
                }
            }
            deliveries.append(&mut sent);
        }
        deliveries.append(&mut taken.after);
        deliveries
    }
}

/// One fault of an answer; it is in one family only, and the others leave it alone.
fn play(act: &mut Act, answer: &mut Outgoing, message: &[u8], layout: Layout) {
    numbers::play(act, answer, message);
    fields::play(act, answer, message);
    blocks::play(act, answer, layout);
    terminators::play(act, answer);
    timing::play(act, answer);
    connections::play(act, answer);
}

/// What happens on an occasion, in the order of the file.
fn happening(
    rules: &mut [Rule],
    seed: Seed,
    sight: &Sight<'_>,
    wanted: impl Fn(Befalls) -> bool,
) -> Vec<Act> {
    let wanted = rules.iter_mut().filter(|rule| wanted(rule.fault().does.nature().befalls));
    wanted.filter_map(|rule| rule.happens(seed, sight)).collect()
}

#[cfg(test)]
mod tests;
