//! A handout shown as plain headings, paragraphs and lists; its text is never taken as markup of the page.

use leptos::prelude::*;

/// One handout.
#[component]
pub(super) fn Handout(
    /// File name.
    name: String,
    /// Markdown.
    text: String,
) -> impl IntoView {
    let title = text.lines().find_map(|line| line.strip_prefix("# ")).map_or(name, str::to_owned);
    let blocks = blocks(&text).into_iter().map(Block::show).collect_view();
    view! { <details><summary>{title}</summary>{blocks}</details> }
}

/// A part of a handout.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Block {
    Heading(String),
    Paragraph(String),
    Points(Vec<String>),
    Steps(Vec<String>),
}

impl Block {
    fn show(self) -> AnyView {
        let items = |items: Vec<String>| items.into_iter().map(|item| view! { <li>{words(&item)}</li> }).collect_view();
        match self {
            Block::Heading(text) => view! { <h3>{words(&text)}</h3> }.into_any(),
            Block::Paragraph(text) => view! { <p>{words(&text)}</p> }.into_any(),
            Block::Points(points) => view! { <ul>{items(points)}</ul> }.into_any(),
            Block::Steps(steps) => view! { <ol>{items(steps)}</ol> }.into_any(),
        }
    }
}

/// Shows what stands between two pairs of stars as strong.
fn words(text: &str) -> impl IntoView + use<> {
    let parts: Vec<String> = text.split("**").map(str::to_owned).collect();
    let paired = parts.len() % 2 == 1;
    let part = move |(place, part): (usize, String)| {
        if paired && place % 2 == 1 { view! { <strong>{part}</strong> }.into_any() } else { part.into_any() }
    };
    parts.into_iter().enumerate().map(part).collect_view()
}

/// Parts a text; the title, which stands above, is left out.
fn blocks(text: &str) -> Vec<Block> {
    let mut blocks: Vec<Block> = Vec::new();
    let mut open = false;
    for line in text.lines() {
        let trimmed = line.trim();
        if trimmed.is_empty() {
            open = false;
            continue;
        }
        if trimmed.starts_with("# ") {
            continue;
        }
        if let Some(heading) = trimmed.strip_prefix("## ").or(trimmed.strip_prefix("### ")) {
            blocks.push(Block::Heading(heading.to_owned()));
            open = false;
            continue;
        }
        if let Some(point) = trimmed.strip_prefix("- ").or(trimmed.strip_prefix("* ")) {
            match blocks.last_mut() {
                Some(Block::Points(points)) => points.push(point.to_owned()),
                _ => blocks.push(Block::Points(vec![point.to_owned()])),
            }
        } else if let Some(step) = step(trimmed) {
            match blocks.last_mut() {
                Some(Block::Steps(steps)) => steps.push(step.to_owned()),
                _ => blocks.push(Block::Steps(vec![step.to_owned()])),
            }
        } else {
            match blocks.last_mut().filter(|_| open) {
                Some(Block::Paragraph(text)) => join(text, trimmed),
                Some(Block::Points(items) | Block::Steps(items)) => {
                    items.last_mut().into_iter().for_each(|item| join(item, trimmed));
                }
                _ => blocks.push(Block::Paragraph(trimmed.to_owned())),
            }
        }
        open = true;
    }
    blocks
}

fn join(text: &mut String, more: &str) {
    text.push(' ');
    text.push_str(more);
}

/// Returns the words of a numbered line, such as `2. Rinse`.
fn step(line: &str) -> Option<&str> {
    let (number, words) = line.split_once(". ")?;
    let digits = (1..=2).contains(&number.len()) && number.bytes().all(|byte| byte.is_ascii_digit());
    digits.then_some(words)
}

#[cfg(test)]
mod tests {
    use super::{Block, blocks};

    #[test]
    fn lines_are_put_together_until_a_blank_one() {
        let text = "# Title\n\nOne\ntwo.\n\n- a\n  more\n- b\n\n1. first\n2. second\n## Next\n<script>x</script>";
        let expected = [
            Block::Paragraph("One two.".to_owned()),
            Block::Points(vec!["a more".to_owned(), "b".to_owned()]),
            Block::Steps(vec!["first".to_owned(), "second".to_owned()]),
            Block::Heading("Next".to_owned()),
            Block::Paragraph("<script>x</script>".to_owned()),
        ];
        assert_eq!(blocks(text), expected);
    }

    #[test]
    fn nothing_gives_nothing() {
        assert_eq!(blocks("# Only a title\n\n"), []);
    }
}
