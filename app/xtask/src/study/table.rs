//! Results as rows of text, kept between runs in a file with tabs between cells.
//!
//! A part that is run again replaces its own rows and leaves the others, so that a long study can be run in
//! pieces and its report drawn anew without simulating.

use std::path::Path;

use anyhow::{Context, Result, ensure};

/// Rows under one head; the first cells of a row are its key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Table {
    head: Vec<String>,
    keys: usize,
    rows: Vec<Vec<String>>,
}

impl Table {
    /// A table without rows, its first `keys` columns the key.
    pub fn new(head: &[&str], keys: usize) -> Self {
        Self { head: head.iter().map(|name| (*name).to_owned()).collect(), keys, rows: Vec::new() }
    }

    /// Reads the rows of a file, if there is one with this head; rows under another head are old and left out.
    ///
    /// # Errors
    /// When the file is there and cannot be read.
    pub fn load(mut self, file: &Path) -> Result<Self> {
        if !file.exists() {
            return Ok(self);
        }
        let text = std::fs::read_to_string(file).with_context(|| format!("cannot read {}", name(file)))?;
        let mut lines = text.lines().map(|line| line.split('\t').map(str::to_owned).collect::<Vec<_>>());
        if lines.next().as_ref() == Some(&self.head) {
            self.rows = lines.filter(|row| row.len() == self.head.len()).collect();
        }
        Ok(self)
    }

    /// Writes head and rows, and the folder if it is missing.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn save(&self, file: &Path) -> Result<()> {
        if let Some(folder) = file.parent() {
            std::fs::create_dir_all(folder).with_context(|| format!("cannot make {}", name(folder)))?;
        }
        let lines = std::iter::once(&self.head).chain(&self.rows).map(|row| row.join("\t") + "\n");
        std::fs::write(file, lines.collect::<String>()).with_context(|| format!("cannot write {}", name(file)))
    }

    /// Puts a row in place of the one with its key, or at the end.
    ///
    /// # Errors
    /// When it has not one cell per column.
    pub fn put(&mut self, row: Vec<String>) -> Result<()> {
        ensure!(row.len() == self.head.len(), "{} cells under {} columns", row.len(), self.head.len());
        let key = |row: &[String]| row.iter().take(self.keys).cloned().collect::<Vec<_>>();
        match self.rows.iter_mut().find(|old| key(old) == key(&row)) {
            Some(old) => *old = row,
            None => self.rows.push(row),
        }
        Ok(())
    }

    /// The rows, each asked by the names of its columns.
    pub fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        self.rows.iter().map(|cells| Row { head: &self.head, cells })
    }

    /// Whether nothing was put in yet.
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }
}

/// One row.
#[derive(Debug, Clone, Copy)]
pub struct Row<'a> {
    head: &'a [String],
    cells: &'a [String],
}

impl<'a> Row<'a> {
    /// The cell of a column; empty for an unknown one.
    pub fn text(&self, column: &str) -> &'a str {
        let at = self.head.iter().position(|name| name == column);
        at.and_then(|at| self.cells.get(at)).map(String::as_str).unwrap_or_default()
    }

    /// The cell as a number; NaN for what is none.
    pub fn number(&self, column: &str) -> f64 {
        self.text(column).parse().unwrap_or(f64::NAN)
    }
}

fn name(path: &Path) -> String {
    path.file_name().unwrap_or_default().to_string_lossy().into_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_replaced_by_key_and_come_back_from_the_file() {
        let mut table = Table::new(&["world", "group", "share"], 2);
        let row = |cells: [&str; 3]| cells.map(str::to_owned).to_vec();
        table.put(row(["a", "5", "0.1"])).unwrap();
        table.put(row(["a", "12", "0.2"])).unwrap();
        table.put(row(["a", "5", "0.3"])).unwrap();
        assert!(table.put(vec!["short".to_owned()]).is_err());
        let shares: Vec<f64> = table.rows().map(|row| row.number("share")).collect();
        assert_eq!(shares, [0.3, 0.2]);
        assert!(table.rows().all(|row| row.number("nothing").is_nan()));
        let file = std::env::temp_dir().join(format!("upsweep-table-{}.tsv", std::process::id()));
        table.save(&file).unwrap();
        let again = Table::new(&["world", "group", "share"], 2).load(&file).unwrap();
        let old = Table::new(&["world", "group"], 2).load(&file).unwrap();
        std::fs::remove_file(&file).unwrap();
        assert_eq!(again, table);
        assert!(old.is_empty());
    }
}
