//! What to do about a command that is not understood.

use super::finding::Verdict;

/// Advice for a command of the profile; `None` if there is nothing to be done.
pub(super) fn for_command(command: &str, verdict: &Verdict) -> Option<String> {
    Some(match verdict {
        Verdict::Refused { .. } if verdict.is_unknown() => {
            format!("look up in the manual how this is spelled, and write it under `commands.{command}`")
        }
        Verdict::Refused { .. } => format!(
            "`commands.{command}` is known, but refused with this value or in this state: do the `ranges` of the \
             profile fit the instrument?"
        ),
        Verdict::Silent { .. } => format!(
            "look up in the manual whether `commands.{command}` is answered; if it is, only slowly, raise \
             `messages.answer_within`"
        ),
        Verdict::Wrong(_) => format!("compare `commands.{command}` with the manual"),
        Verdict::Understood(_) | Verdict::Unproven | Verdict::NotTried(_) => return None,
    })
}
