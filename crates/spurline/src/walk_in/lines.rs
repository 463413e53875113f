//! What happens while one radio is measured, in few lines: who keys looks at the radio, and hears.

use spurline_record::{Event, EventKind};
use spurline_sequencer::Listener;

use super::letters::large;
use crate::paint;
use crate::talk::{say, sound, wrapped};

/// Shows when to key and when to let go, large and with a sound.
#[derive(Debug, Default)]
pub(super) struct FewLines {
    /// Whether it was told large that it is to let go.
    told: bool,
}

impl Listener for FewLines {
    fn hear(&mut self, event: &Event) {
        match &event.kind {
            EventKind::Prompt(text) => {
                sound();
                let is_key = text.starts_with("key ");
                if is_key {
                    self.told = false;
                    say(&format!("\n{}", paint::key_now(&large("key now"))));
                } else if !std::mem::replace(&mut self.told, true) && !text.starts_with("do not") {
                    say(&format!("\n{}", paint::key_down_block(&large("let go"))));
                }
                say(&wrapped(&format!("  {text}"), 2));
            }
            EventKind::KeyDown { lease } => say(&format!("  keyed, for at most {lease}")),
            EventKind::KeyUp { held } if held.get() > 0.0 => say(&format!("  let go after {held:.1}")),
            EventKind::Note(text) => say(&wrapped(&format!("  note: {text}"), 4)),
            _ => {}
        }
    }
}
