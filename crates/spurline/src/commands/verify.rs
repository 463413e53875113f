//! `verify`: whether what the record holds is what was recorded.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;
use spurline_record::{RunId, RunState};
use spurline_store::{Pruning, PublicKey, Signed, Standing, Store, Verification};

use crate::data::DataArgument;
use crate::exit::Exit;
use crate::talk::{Failure, counted, print_json, print_text, wrapped};

/// Work out anew every hash of a run, and say what is not as it was recorded
///
/// Ends with 0 if the run is whole, 1 if something was altered, put in, moved or taken out, or if it is not signed with
/// the key that is asked for, 3 if it was recorded before there were hashes, so that nothing can be said.
#[derive(Args, Debug)]
pub(crate) struct Verify {
    /// The run: its name, the beginning of it, or `last`
    run: Option<String>,
    /// Every run, and the structure of the file
    #[arg(long, conflicts_with = "run")]
    all: bool,
    /// The public key that must have signed
    #[arg(long, value_name = "FILE")]
    public_key: Option<PathBuf>,
    #[command(flatten)]
    data: DataArgument,
    /// Print one JSON document
    #[arg(long)]
    pub(crate) json: bool,
}

/// A run, and whether it is signed as was asked.
struct Looked {
    found: Verification,
    /// Whether the key that was asked for has signed all of it; `None` if none was.
    signed: Option<bool>,
    /// What is wrong with the verdicts that were made on it again.
    verdicts: Vec<String>,
}

impl Looked {
    fn new(store: &Store, run: &RunId, key: Option<PublicKey>) -> Result<Self, Failure> {
        let found = store.verify(run)?;
        // What came after the link that was signed is vouched for by nobody.
        let by = |key| {
            let whole = |it: &Signed| it.genuine && it.link == Some(found.links) && it.public_key == key;
            found.standing != Standing::Broken && found.signatures.iter().any(whole)
        };
        Ok(Self { signed: key.map(by), verdicts: store.broken_verdicts(run)?, found })
    }

    fn exit(&self) -> Exit {
        match (self.found.standing, self.signed) {
            (Standing::Broken, _) | (_, Some(false)) => Exit::Exceeds,
            _ if !self.verdicts.is_empty() => Exit::Exceeds,
            (Standing::Unchained, _) => Exit::Undecided,
            (Standing::Whole, _) => Exit::Good,
        }
    }
}

impl Verify {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        if self.run.is_none() && !self.all {
            return Err(Failure::Usage {
                message: "expected a run to verify, found none".to_owned(),
                advice: "`spurline verify last` looks at the newest, `--all` at every run and the structure of the file; \
                         `spurline runs` lists their names"
                    .to_owned(),
            });
        }
        let key = self.public_key.as_deref().map(PublicKey::read).transpose()?;
        let store = self.data.open()?;
        let Some(run) = &self.run else { return self.every(&store, key) };
        let looked = Looked::new(&store, &store.resolve(run)?, key)?;
        if self.json {
            print_json(&as_json(&looked))?;
        } else {
            print_text(&as_text(&looked))?;
        }
        Ok(looked.exit())
    }

    fn every(&self, store: &Store, key: Option<PublicKey>) -> Result<Exit, Failure> {
        let mistakes = store.integrity()?;
        let mut all = Vec::new();
        for run in store.runs()? {
            all.push(Looked::new(store, &run.id, key)?);
        }
        if self.json {
            let runs: Vec<_> = all.iter().map(as_json).collect();
            print_json(&json!({ "structure": mistakes, "runs": runs }))?;
        } else {
            let sound = if mistakes.is_empty() { "sound" } else { "damaged" };
            let mut text = format!("structure of the file: {sound}\n");
            mistakes.iter().for_each(|mistake| text.push_str(&format!("  {mistake}\n")));
            all.iter().for_each(|looked| text.push_str(&as_text(looked)));
            print_text(&text)?;
        }
        let exits = || all.iter().map(Looked::exit);
        Ok(if !mistakes.is_empty() || exits().any(|exit| exit == Exit::Exceeds) {
            Exit::Exceeds
        } else if exits().any(|exit| exit == Exit::Undecided) {
            Exit::Undecided
        } else {
            Exit::Good
        })
    }
}

fn as_json(looked: &Looked) -> serde_json::Value {
    let mut value = json!(looked.found);
    if let Some(object) = value.as_object_mut() {
        object.insert("broken_verdicts".to_owned(), json!(looked.verdicts));
    }
    if let (Some(signed), Some(object)) = (looked.signed, value.as_object_mut()) {
        object.insert("signed_by_key".to_owned(), json!(signed));
    }
    value
}

fn as_text(looked: &Looked) -> String {
    let found = &looked.found;
    let standing = match found.standing {
        Standing::Whole if found.state == RunState::Running => "whole as far as it has come",
        Standing::Whole => "whole",
        Standing::Broken => "BROKEN",
        Standing::Unchained => "recorded before there were chains: nothing can be said",
    };
    let mut text = format!("run {}: {standing}\n", found.run);
    let mut line = |line: &str| text.push_str(&format!("{}\n", wrapped(&format!("  {line}"), 4)));
    for (at, broken) in found.breaks.iter().enumerate() {
        let first = if at == 0 { "first broken" } else { "then" };
        line(&format!("{first}: {}: {}", broken.kind.word(), broken.what));
    }
    if let Some(head) = found.head {
        line(&format!("head of the chain, after {}:", counted(found.links as usize, "link")));
        line(&format!("  {head}"));
        if found.standing == Standing::Whole && found.signatures.is_empty() {
            line("written down elsewhere, it shows later that nobody has made the whole chain anew");
        }
    }
    for signature in &found.signatures {
        line(&match found.standing {
            Standing::Broken if signature.genuine => signed_before(signature),
            Standing::Whole | Standing::Broken | Standing::Unchained => signed_words(signature, found.links),
        });
    }
    if looked.signed == Some(false) && found.standing == Standing::Broken {
        line("the key that was asked for vouches for nothing that stands here now");
    } else if looked.signed == Some(false) {
        line("NOT signed to its end with the key that was asked for");
    }
    looked.verdicts.iter().for_each(|broken| line(&format!("BROKEN: {broken}")));
    found.prunings.iter().for_each(|pruning| line(&pruned_words(pruning)));
    text
}

/// What whoever looks at a run must be told before anything of it: that it is not what was recorded.
pub(crate) fn altered(store: &Store, run: &RunId) -> Result<Option<String>, Failure> {
    let found = store.verify(run)?;
    Ok(found.breaks.first().map(|first| {
        format!(
            "THIS RUN WAS ALTERED SINCE IT WAS RECORDED: {}: {}; `spurline verify {run}` tells all",
            first.kind.word(),
            first.what
        )
    }))
}

/// What was signed is not what is there: the signature holds, and says nothing of this.
fn signed_before(signature: &Signed) -> String {
    format!(
        "a signature of {} with {} by {} is over the run as it was then, before it was altered: it does not vouch for what \
         stands here now",
        signature.at, signature.software, signature.public_key
    )
}

fn signed_words(signature: &Signed, links: u64) -> String {
    let upto = match signature.link {
        Some(link) if link == links => "as it is".to_owned(),
        Some(link) => format!("up to link {link}"),
        None => "with a head that is not in it".to_owned(),
    };
    let genuine = if signature.genuine { "signed" } else { "NOT signed, though it says so," };
    format!("{genuine} {upto} on {} with {} by {}", signature.at, signature.software, signature.public_key)
}

/// What was taken out of a run, in words.
pub(crate) fn pruned_words(pruning: &Pruning) -> String {
    let what = match pruning.what {
        spurline_store::Prunable::Sweeps => "the levels of sweeps",
        spurline_store::Prunable::Transcript => "the messages of the links",
    };
    format!(
        "pruned on {} with {}: {what}, {} of them, {:.1} MB; their hashes stay",
        pruning.at.strftime("%Y-%m-%d"),
        pruning.software,
        pruning.items,
        pruning.size as f64 / 1e6
    )
}
