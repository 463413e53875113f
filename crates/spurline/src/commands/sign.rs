//! `sign`: someone vouches for a run with a key.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;
use spurline_clock::Pace;
use spurline_runner::SOFTWARE;
use spurline_store::{PublicKey, SecretKey, Store};

use crate::data::{DataArgument, open_to_write};
use crate::exit::Exit;
use crate::talk::{Failure, print_json, print_text, say};

/// Sign a run that has ended, or make a key to sign with
///
/// What is signed is the head of the run's chain, which stands for all that was recorded. The signature is kept in the
/// record; `verify --public-key` looks at it. The secret key is needed for signing alone.
#[derive(Args, Debug)]
pub(crate) struct Sign {
    /// The run: its name, the beginning of it, or `last`
    #[arg(required_unless_present = "new_key", requires = "key")]
    run: Option<String>,
    /// The file of the secret key
    #[arg(long, value_name = "FILE")]
    key: Option<PathBuf>,
    /// Make a key: FILE, for its owner alone, and FILE.pub, to be given to others
    #[arg(long, value_name = "FILE", conflicts_with_all = ["run", "key"])]
    new_key: Option<PathBuf>,
    #[command(flatten)]
    data: DataArgument,
    /// Print one JSON document
    #[arg(long)]
    pub(crate) json: bool,
}

impl Sign {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        if let Some(file) = &self.new_key {
            let (key, public) = SecretKey::make(file)?;
            if self.json {
                print_json(&json!({ "key": file, "public_key_file": public, "public_key": key.public() }))?;
            } else {
                print_text(&format!("key {}\npublic key {}\n", file.display(), public.display()))?;
                say("keep the key where nobody else can read it: who has it can sign in your name");
            }
            return Ok(Exit::Good);
        }
        let (Some(run), Some(key)) = (&self.run, &self.key) else { return Ok(Exit::Usage) };
        // Whoever takes one for the other is not to guard what is made to be given away.
        if PublicKey::read(key).is_ok() {
            return Err(Failure::Usage {
                message: format!("--key: expected a secret key, found a public one in `{}`", key.display()),
                advice: "name the file without `.pub`: signing needs the secret key, the public one is for `spurline verify \
                         --public-key`"
                    .to_owned(),
            });
        }
        let key = SecretKey::read(key)?;
        let folder = self.data.folder()?;
        // Looked at first: a mistyped name must not bring an older record up to date.
        let run = Store::open_read_only(&folder)?.resolve(run)?;
        let now = spurline_clock::run(Pace::Real, |clock| async move { clock.timestamp() });
        let signed = open_to_write(&folder)?.sign(&run, &key, now.map_err(Failure::runtime)?, SOFTWARE)?;
        if self.json {
            print_json(&json!({ "run": run, "signature": signed }))?;
        } else {
            print_text(&format!("run {run} signed by {}\nhead {}\n", signed.public_key, signed.head))?;
        }
        Ok(Exit::Good)
    }
}
