//! Markup in which every word is escaped: there is no way to put in any that is not.

use crate::charts::Drawing;

/// A text of markup under way.
#[derive(Debug, Clone, Default)]
pub struct Html(String);

impl Html {
    /// Opens an element; names of elements and attributes are fixed words, values any text.
    pub fn open(&mut self, element: &'static str, attributes: &[(&'static str, &str)]) -> &mut Self {
        self.0.push('<');
        self.0.push_str(element);
        for (name, value) in attributes {
            self.0.push(' ');
            self.0.push_str(name);
            self.0.push_str("=\"");
            push_escaped(&mut self.0, value);
            self.0.push('"');
        }
        self.0.push('>');
        self
    }

    /// Closes an element.
    pub fn close(&mut self, element: &'static str) -> &mut Self {
        self.0.push_str("</");
        self.0.push_str(element);
        self.0.push('>');
        self
    }

    /// Writes words.
    pub fn words(&mut self, words: &str) -> &mut Self {
        push_escaped(&mut self.0, words);
        self
    }

    /// Writes an element that holds words only.
    pub fn leaf(&mut self, element: &'static str, words: &str) -> &mut Self {
        self.open(element, &[]).words(words).close(element)
    }

    /// Puts in a drawing, with words for who cannot see it.
    pub fn drawing(&mut self, title: &str, description: &str, drawing: &Drawing) -> &mut Self {
        self.open("figure", &[]).open("figcaption", &[]);
        self.leaf("b", title).words(" ").words(description).close("figcaption");
        self.open("div", &[("class", "drawing"), ("role", "img"), ("aria-label", title)]);
        self.0.push_str(drawing.svg());
        self.close("div").close("figure")
    }

    /// Puts in a photo, with its words below; what is no Base64 is left out.
    pub fn photo(&mut self, photo: &practicum::after_the_couch::Photo, words: &str) -> &mut Self {
        self.open("figure", &[]);
        if photo.check().is_ok() {
            let source = format!("data:image/jpeg;base64,{}", photo.jpeg);
            self.open("img", &[("src", &source), ("alt", words)]);
        }
        self.leaf("figcaption", words).close("figure")
    }

    /// Writes a table; the first cell of each row names it.
    pub fn table(&mut self, caption: &str, head: &[&str], rows: &[Vec<String>]) -> &mut Self {
        self.open("div", &[("class", "wide"), ("role", "region"), ("tabindex", "0"), ("aria-label", caption)]);
        self.open("table", &[]).leaf("caption", caption).open("thead", &[]).open("tr", &[]);
        for words in head {
            self.open("th", &[("scope", "col")]).words(words).close("th");
        }
        self.close("tr").close("thead").open("tbody", &[]);
        for row in rows {
            self.open("tr", &[]);
            for (place, words) in row.iter().enumerate() {
                match place {
                    0 => self.open("th", &[("scope", "row")]).words(words).close("th"),
                    _ => self.leaf("td", words),
                };
            }
            self.close("tr");
        }
        self.close("tbody").close("table").close("div")
    }

    /// Writes a list.
    pub fn list<'w>(&mut self, lines: impl IntoIterator<Item = &'w str>) -> &mut Self {
        self.open("ul", &[]);
        for line in lines {
            self.leaf("li", line);
        }
        self.close("ul")
    }

    /// Adds what another one holds.
    pub fn add(&mut self, other: &Html) -> &mut Self {
        self.0.push_str(&other.0);
        self
    }

    /// Adds a style sheet; only fixed text and what [`super::page_rules`] made.
    pub(super) fn style(&mut self, css: &str) -> &mut Self {
        self.0.push_str("<style>");
        // No fixed text holds it, and whatever does would end the sheet.
        self.0.push_str(&css.replace("</", ""));
        self.0.push_str("</style>");
        self
    }

    /// Takes the text of a document that was made here before.
    pub(crate) fn of_document(text: String) -> Self {
        Self(text)
    }

    /// Returns the text.
    pub fn into_text(self) -> String {
        self.0
    }
}

fn push_escaped(to: &mut String, text: &str) {
    for letter in text.chars() {
        match letter {
            '&' => to.push_str("&amp;"),
            '<' => to.push_str("&lt;"),
            '>' => to.push_str("&gt;"),
            '"' => to.push_str("&quot;"),
            '\'' => to.push_str("&#39;"),
            letter if letter.is_control() && !matches!(letter, '\n' | '\t') => to.push('\u{fffd}'),
            letter => to.push(letter),
        }
    }
}
