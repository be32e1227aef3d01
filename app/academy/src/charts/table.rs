//! The table beside a drawing.

use super::canvas::escaped;

/// A row of a table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// Address that the row's first cell links to, if any.
    pub link: Option<String>,
    /// Cells as plain text; the first one names the row.
    pub cells: Vec<String>,
}

/// The numbers of a drawing.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Table {
    /// Heads of the columns, as plain text.
    pub head: Vec<String>,
    /// Rows.
    pub rows: Vec<Row>,
}

impl Table {
    /// Makes an empty table with its heads.
    pub(super) fn with_head(head: &[&str]) -> Self {
        Self { head: head.iter().map(|&word| word.to_owned()).collect(), rows: Vec::new() }
    }

    /// Writes the table as markup in which every text is escaped: thousands of cells at once.
    pub fn to_html(&self, caption: &str) -> String {
        let mut html = format!("<table><caption>{}</caption><thead><tr>", escaped(caption));
        for word in &self.head {
            html.push_str(&format!("<th scope=\"col\">{}</th>", escaped(word)));
        }
        html.push_str("</tr></thead><tbody>");
        for row in &self.rows {
            html.push_str("<tr>");
            for (column, cell) in row.cells.iter().enumerate() {
                let cell = escaped(cell);
                match (column, &row.link) {
                    (0, Some(link)) => html.push_str(&format!(
                        "<th scope=\"row\"><a href=\"{}\">{cell}</a></th>",
                        escaped(&within_the_app(link))
                    )),
                    (0, None) => html.push_str(&format!("<th scope=\"row\">{cell}</th>")),
                    _ => html.push_str(&format!("<td>{cell}</td>")),
                }
            }
            html.push_str("</tr>");
        }
        html.push_str("</tbody></table>");
        html
    }
}

/// Keeps an address inside the app, whatever it was.
fn within_the_app(link: &str) -> String {
    if link.starts_with("#/") { link.to_owned() } else { "#/".to_owned() }
}
