//! Words for a page: what stands in backticks is shown as code, and everything else as the text that it is.

/// The words as HTML: nothing of them makes an element but `<code>`.
pub(super) fn coded(words: &str) -> String {
    let pieces: Vec<&str> = words.split('`').collect();
    let mut made = String::with_capacity(words.len());
    for (place, piece) in pieces.iter().enumerate() {
        // One that is never closed is a letter like any other.
        let is_code = place % 2 == 1 && place + 1 < pieces.len();
        let escaped = escaped(piece);
        match (is_code, place % 2 == 1) {
            (true, _) => made.push_str(&format!("<code>{escaped}</code>")),
            (false, true) => made.push_str(&format!("`{escaped}")),
            (false, false) => made.push_str(&escaped),
        }
    }
    made
}

fn escaped(text: &str) -> String {
    let mut made = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => made.push_str("&amp;"),
            '<' => made.push_str("&lt;"),
            '>' => made.push_str("&gt;"),
            '"' => made.push_str("&quot;"),
            '\'' => made.push_str("&#39;"),
            _ => made.push(letter),
        }
    }
    made
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn backticks_make_code_and_nothing_else_makes_an_element() {
        assert_eq!(coded("send `paused: false` to `a`"), "send <code>paused: false</code> to <code>a</code>");
        assert_eq!(
            coded("no bench `<b onclick='x'>`"),
            "no bench <code>&lt;b onclick=&#39;x&#39;&gt;</code>"
        );
        assert_eq!(coded("<i>&\""), "&lt;i&gt;&amp;&quot;");
        assert_eq!(coded("one ` alone"), "one ` alone");
        assert_eq!(coded("`a` and `b"), "<code>a</code> and `b");
        assert_eq!(coded(""), "");
    }
}
