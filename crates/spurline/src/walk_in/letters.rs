//! Letters that are read from across a room: seven rows high, of full blocks.

/// Rows of a letter.
pub(crate) const ROWS: usize = 7;
const BLOCK: char = '\u{2588}';

/// Each letter row by row, five columns from the highest bit on.
const LETTERS: [(char, [u8; ROWS]); 27] = [
    ('A', [0b01110, 0b10001, 0b10001, 0b11111, 0b10001, 0b10001, 0b10001]),
    ('B', [0b11110, 0b10001, 0b10001, 0b11110, 0b10001, 0b10001, 0b11110]),
    ('C', [0b01110, 0b10001, 0b10000, 0b10000, 0b10000, 0b10001, 0b01110]),
    ('D', [0b11110, 0b10001, 0b10001, 0b10001, 0b10001, 0b10001, 0b11110]),
    ('E', [0b11111, 0b10000, 0b10000, 0b11110, 0b10000, 0b10000, 0b11111]),
    ('F', [0b11111, 0b10000, 0b10000, 0b11110, 0b10000, 0b10000, 0b10000]),
    ('G', [0b01110, 0b10001, 0b10000, 0b10111, 0b10001, 0b10001, 0b01110]),
    ('H', [0b10001, 0b10001, 0b10001, 0b11111, 0b10001, 0b10001, 0b10001]),
    ('I', [0b11111, 0b00100, 0b00100, 0b00100, 0b00100, 0b00100, 0b11111]),
    ('J', [0b00111, 0b00010, 0b00010, 0b00010, 0b00010, 0b10010, 0b01100]),
    ('K', [0b10001, 0b10010, 0b10100, 0b11000, 0b10100, 0b10010, 0b10001]),
    ('L', [0b10000, 0b10000, 0b10000, 0b10000, 0b10000, 0b10000, 0b11111]),
    ('M', [0b10001, 0b11011, 0b10101, 0b10101, 0b10001, 0b10001, 0b10001]),
    ('N', [0b10001, 0b11001, 0b10101, 0b10101, 0b10011, 0b10001, 0b10001]),
    ('O', [0b01110, 0b10001, 0b10001, 0b10001, 0b10001, 0b10001, 0b01110]),
    ('P', [0b11110, 0b10001, 0b10001, 0b11110, 0b10000, 0b10000, 0b10000]),
    ('Q', [0b01110, 0b10001, 0b10001, 0b10001, 0b10101, 0b10010, 0b01101]),
    ('R', [0b11110, 0b10001, 0b10001, 0b11110, 0b10100, 0b10010, 0b10001]),
    ('S', [0b01111, 0b10000, 0b10000, 0b01110, 0b00001, 0b00001, 0b11110]),
    ('T', [0b11111, 0b00100, 0b00100, 0b00100, 0b00100, 0b00100, 0b00100]),
    ('U', [0b10001, 0b10001, 0b10001, 0b10001, 0b10001, 0b10001, 0b01110]),
    ('V', [0b10001, 0b10001, 0b10001, 0b10001, 0b10001, 0b01010, 0b00100]),
    ('W', [0b10001, 0b10001, 0b10001, 0b10101, 0b10101, 0b11011, 0b10001]),
    ('X', [0b10001, 0b10001, 0b01010, 0b00100, 0b01010, 0b10001, 0b10001]),
    ('Y', [0b10001, 0b10001, 0b01010, 0b00100, 0b00100, 0b00100, 0b00100]),
    ('Z', [0b11111, 0b00001, 0b00010, 0b00100, 0b01000, 0b10000, 0b11111]),
    (' ', [0; ROWS]),
];

/// A word in large letters, a line each row. What is no letter is left out.
pub(crate) fn large(word: &str) -> String {
    let rows = (0..ROWS).map(|row| {
        let letters = word.chars().filter_map(|letter| {
            let (_, rows) = LETTERS.iter().find(|(known, _)| *known == letter.to_ascii_uppercase())?;
            let bits = rows[row];
            Some((0..5).map(|bit| if bits & (0b10000 >> bit) == 0 { ' ' } else { BLOCK }).collect::<String>())
        });
        letters.collect::<Vec<_>>().join(" ").trim_end().to_owned()
    });
    rows.collect::<Vec<_>>().join("\n")
}

#[cfg(test)]
mod tests {
    use spurline_record::VisitOutcome;

    use super::*;

    #[test]
    fn every_verdict_is_seven_rows_high_and_fits_a_terminal() {
        for word in VisitOutcome::ALL.map(VisitOutcome::word).into_iter().chain(["key now", "let go"]) {
            let text = large(word);
            assert_eq!(text.lines().count(), ROWS, "{word}");
            let widest = text.lines().map(|line| line.chars().count()).max().unwrap();
            assert!(widest <= 80 && widest + 5 >= word.len() * 6 - 1 - 5, "{word}: {widest}");
        }
        let h = "█   █\n█   █\n█   █\n█████\n█   █\n█   █\n█   █";
        assert_eq!(large("h"), h);
    }
}
