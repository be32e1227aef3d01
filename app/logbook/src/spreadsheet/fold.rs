//! Whether two texts are the same to a person who reads them.

use practicum::order::InOrder;

/// Combining mark, letters that take it, and the composed letters, in the same order.
const COMPOSED: [(char, &str, &str); 10] = [
    ('\u{0300}', "aeiounAEIOUN", "àèìòùǹÀÈÌÒÙǸ"),
    ('\u{0301}', "aeiouyncszlrAEIOUYNCSZLR", "áéíóúýńćśźĺŕÁÉÍÓÚÝŃĆŚŹĹŔ"),
    ('\u{0302}', "aeioucghjswyAEIOUCGHJSWY", "âêîôûĉĝĥĵŝŵŷÂÊÎÔÛĈĜĤĴŜŴŶ"),
    ('\u{0303}', "aonuiAONUI", "ãõñũĩÃÕÑŨĨ"),
    ('\u{0308}', "aeiouyAEIOUY", "äëïöüÿÄËÏÖÜŸ"),
    ('\u{030A}', "auAU", "åůÅŮ"),
    ('\u{030C}', "cdenrstzCDENRSTZ", "čďěňřšťžČĎĚŇŘŠŤŽ"),
    ('\u{0327}', "cstCST", "çşţÇŞŢ"),
    ('\u{0328}', "aeiuAEIU", "ąęįųĄĘĮŲ"),
    ('\u{0307}', "zegcZEGC", "żėġċŻĖĠĊ"),
];

/// Returns the composed letter of a base and a combining mark, for the letters of most Latin scripts.
fn composed(base: char, mark: char) -> Option<char> {
    let (_, bases, letters) = COMPOSED.iter().find(|(known, ..)| *known == mark)?;
    let place = bases.chars().position(|letter| letter == base)?;
    letters.chars().nth(place)
}

/// Whether a character takes no room and says nothing.
fn is_invisible(letter: char) -> bool {
    matches!(letter, '\u{00AD}' | '\u{200B}'..='\u{200F}' | '\u{2060}' | '\u{FEFF}')
}

/// Returns the plain form of full-width letters, curly quotes and the many dashes.
fn plain(letter: char) -> char {
    match letter {
        '\u{FF01}'..='\u{FF5E}' => u32::from(letter).checked_sub(0xFEE0).and_then(char::from_u32).unwrap_or(letter),
        '\u{2018}' | '\u{2019}' | '\u{02BC}' | '\u{00B4}' => '\'',
        '\u{2010}'..='\u{2015}' | '\u{2212}' => '-',
        other => other,
    }
}

/// Returns a text as it is compared: lower case, single spaces, no space at the ends, full-width letters
/// and letters with loose marks brought to one form. Two different letters never become one.
///
/// ```
/// use logbook::spreadsheet::fold::fold;
/// assert_eq!(fold("  Zoe\u{0308}\u{00A0} MARLOW "), fold("zoë marlow"));
/// assert_ne!(fold("Zoe Marlow"), fold("Zoë Marlow"));
/// ```
pub fn fold(text: &str) -> String {
    let mut letters: Vec<char> = Vec::with_capacity(text.len());
    for letter in text.chars().filter(|letter| !is_invisible(*letter)).map(plain) {
        let joined = letters.last().and_then(|last| composed(*last, letter));
        match joined {
            Some(whole) => {
                letters.pop();
                letters.push(whole);
            }
            None => letters.push(letter),
        }
    }
    let lower: String = letters.into_iter().flat_map(char::to_lowercase).collect();
    single_spaced(&lower)
}

/// Returns a text without space at its ends and with single spaces inside.
pub fn single_spaced(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Whether a cell says nothing: empty, or one of the signs people put for "nothing here".
pub fn is_blank(cell: &str) -> bool {
    matches!(fold(cell).as_str(), "" | "-" | "--" | "?" | "n/a" | "na" | "none noted" | ".")
}

/// Longest name that is compared letter by letter, in bytes.
const LONGEST_NAME: usize = 200;

/// Whether two names may be two spellings of one: the same words in another order, or at most two
/// letters apart in names of five letters and more. A proposal only, for a person to decide.
pub fn resemble(one: &str, other: &str) -> bool {
    if LONGEST_NAME < one.len().max(other.len()) {
        return false;
    }
    let (one, other) = (fold(one), fold(other));
    if one == other || sorted_words(&one) == sorted_words(&other) {
        return true;
    }
    let (one, other): (Vec<char>, Vec<char>) = (one.chars().collect(), other.chars().collect());
    5 <= one.len().min(other.len()) && distance(&one, &other) <= 2
}

fn sorted_words(text: &str) -> Vec<&str> {
    let mut words: Vec<&str> = text.split([' ', ',']).filter(|word| !word.is_empty()).collect();
    words.order_by(Ord::cmp);
    words
}

/// Returns the number of letters to insert, drop or exchange that make one text of the other.
fn distance(one: &[char], other: &[char]) -> usize {
    let mut row: Vec<usize> = (0..=other.len()).collect();
    for (i, left) in one.iter().enumerate() {
        let mut next = vec![i + 1];
        for (j, right) in other.iter().enumerate() {
            let exchange = row.get(j).copied().unwrap_or(0) + usize::from(left != right);
            let drop = row.get(j + 1).copied().unwrap_or(0) + 1;
            let insert = next.get(j).copied().unwrap_or(0) + 1;
            next.push(exchange.min(drop).min(insert));
        }
        row = next;
    }
    row.last().copied().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spaces_case_width_and_loose_marks_do_not_matter() {
        for (one, other) in [
            ("Anna  Berg ", "anna berg"),
            ("ＰＭ－０４", "pm-04"),
            ("O’Dell", "o'dell"),
            ("Re\u{0301}ka", "Réka"),
            ("Ola\u{200B} Nord", "Ola\u{00A0}Nord"),
        ] {
            assert_eq!(fold(one), fold(other), "{one} {other}");
        }
    }

    #[test]
    fn an_accent_is_a_different_letter() {
        assert_ne!(fold("Ana"), fold("Aná"));
    }

    #[test]
    fn a_slip_of_the_pen_resembles_and_another_name_does_not() {
        assert!(resemble("Marisol Quint", "Marisol Qiunt"));
        assert!(resemble("Quint, Marisol", "Marisol Quint"));
        assert!(!resemble("Marisol Quint", "Tomas Ferro"));
        assert!(!resemble("Ana", "Ava"));
    }
}
