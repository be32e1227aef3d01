//! Pictures of codes: found and read in the worker, because a hard picture takes long and whatever breaks the reading
//! breaks the worker alone. Pictures and texts go to and fro as plain numbers, like everything the worker does.

/// First numbers of a question and of an answer.
const ASK: f64 = 7102.0;
const ANSWER: f64 = 7202.0;
/// Grey values in one number: six bytes fit into the whole numbers that are kept exactly.
const PACKED: usize = 6;
/// Most pixels of a picture.
const MOST_PIXELS: usize = 4_000_000;

/// A picture in grey, row by row: 0 is black.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Picture {
    /// Pixels in a row.
    pub(crate) width: usize,
    /// Grey values, whole rows.
    pub(crate) grey: Vec<u8>,
}

impl Picture {
    /// Makes a picture of the red, green, blue and alpha of each pixel, as a canvas gives them.
    pub(crate) fn of_rgba(width: usize, rgba: &[u8]) -> Self {
        let grey = |pixel: &[u8]| match pixel {
            // Weights of ITU-R BT.601, in 256ths.
            [r, g, b, ..] => (u32::from(*r) * 77 + u32::from(*g) * 150 + u32::from(*b) * 29) / 256,
            _ => 0,
        };
        // Weights that add up to 256 keep it within a byte.
        Self { width, grey: rgba.chunks_exact(4).map(|pixel| grey(pixel) as u8).collect() }
    }

    /// Reads all codes in it that can be read.
    pub(crate) fn texts(&self) -> Vec<String> {
        let height = self.grey.len().checked_div(self.width).unwrap_or(0);
        if self.width < 21 || height < 21 {
            // Smaller than the smallest code.
            return Vec::new();
        }
        let grey = |x: usize, y: usize| self.grey.get(y * self.width + x).copied().unwrap_or(u8::MAX);
        let mut prepared = rqrr::PreparedImage::prepare_from_greyscale(self.width, height, grey);
        let found = prepared.detect_grids();
        found.into_iter().filter_map(|grid| grid.decode().ok()).map(|(_, text)| text).collect()
    }
}

/// Writes a question.
pub(crate) fn write_ask(picture: &Picture) -> Vec<f64> {
    let mut numbers = vec![ASK, picture.width as f64, picture.grey.len() as f64];
    let pack = |six: &[u8]| six.iter().rev().fold(0.0, |sum, byte| sum * 256.0 + f64::from(*byte));
    numbers.extend(picture.grey.chunks(PACKED).map(pack));
    numbers
}

/// Reads a question; `None` for anything else.
pub(crate) fn read_ask(numbers: &[f64]) -> Option<Picture> {
    let [form, width, length, packed @ ..] = numbers else { return None };
    let whole = |number: &f64| {
        (number.fract() == 0.0 && (0.0..=MOST_PIXELS as f64).contains(number)).then_some(*number as usize)
    };
    let (width, length) = (whole(width)?, whole(length)?);
    if *form != ASK || width == 0 || !length.is_multiple_of(width) || packed.len() != length.div_ceil(PACKED) {
        return None;
    }
    let mut grey = Vec::with_capacity(length);
    for number in packed {
        let mut rest = *number as u64;
        for _ in 0..PACKED {
            if grey.len() < length {
                grey.push((rest % 256) as u8);
            }
            rest /= 256;
        }
    }
    Some(Picture { width, grey })
}

/// Writes an answer: the texts, each led by how many bytes it has.
pub(crate) fn write_answer(texts: &[String]) -> Vec<f64> {
    let mut numbers = vec![ANSWER];
    for text in texts {
        numbers.push(text.len() as f64);
        numbers.extend(text.bytes().map(f64::from));
    }
    numbers
}

/// Reads an answer; `None` for anything else.
pub(crate) fn read_answer(numbers: &[f64]) -> Option<Vec<String>> {
    let [ANSWER, rest @ ..] = numbers else { return None };
    let (mut rest, mut texts) = (rest, Vec::new());
    while let [length, after @ ..] = rest {
        let (bytes, after) = after.split_at_checked(*length as usize)?;
        texts.push(String::from_utf8(bytes.iter().map(|byte| *byte as u8).collect()).ok()?);
        rest = after;
    }
    Some(texts)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::{Picture, read_answer, read_ask, write_answer, write_ask};
    use crate::components::code_picture::drawn_for_tests;

    proptest! {
        #[test]
        fn pictures_and_texts_come_back_from_their_numbers(
            width in 1..40_usize, rows in 1..9_usize, seed in any::<u8>(), texts in proptest::collection::vec(".{0,30}", 0..4)
        ) {
            let grey = (0..width * rows).map(|pixel| (pixel as u8).wrapping_mul(seed)).collect();
            let picture = Picture { width, grey };
            prop_assert_eq!(read_ask(&write_ask(&picture)), Some(picture));
            prop_assert_eq!(read_answer(&write_answer(&texts)), Some(texts));
        }

        #[test]
        fn other_numbers_are_no_picture(numbers in proptest::collection::vec(proptest::num::f64::ANY, 0..9)) {
            prop_assert_eq!(read_ask(&numbers), None);
            let _ = read_answer(&numbers);
        }

        #[test]
        fn a_picture_of_noise_is_read_calmly(width in 1..90_usize, seed in 1..u64::MAX) {
            let mut noise = seed;
            let grey = std::iter::repeat_with(|| {
                noise ^= noise << 13;
                noise ^= noise >> 7;
                noise ^= noise << 17;
                noise as u8
            });
            let picture = Picture { width, grey: grey.take(width * 70).collect() };
            prop_assert_eq!(picture.texts(), Vec::<String>::new());
        }

        #[test]
        fn a_text_comes_back_from_its_picture(text in "[0-9A-Z $%*+./:-]{1,900}|.{1,200}", scale in 2..6_usize) {
            let (width, grey) = drawn_for_tests(&text, scale);
            prop_assert_eq!(Picture { width, grey }.texts(), vec![text]);
        }
    }

    #[test]
    fn grey_is_between_black_and_white() {
        let picture = Picture::of_rgba(3, &[0, 0, 0, 255, 255, 255, 255, 255, 255, 0, 0, 255]);
        assert_eq!((picture.width, picture.grey), (3, vec![0, 255, 76]));
    }
}
