//! The columns of a check file, and the rows of a mixed fit that a file asks for in words.
#![allow(unreachable_pub, dead_code, reason = "shared by examples and tests, each of which takes what it needs")]

use std::collections::BTreeMap;
use std::path::PathBuf;

use proficiency::mixed::{Criterion, Crossed, Fit, Mixed, MixedError, Rows, Structure};
use serde_json::Value;

use super::support::FORM;

/// Levels of the plan by their names in the files, finer to coarser.
pub const PLANS: [&str; 4] = ["quarters", "thirds", "halves", "whole"];

/// A column of numbers or of labels.
#[derive(Debug, Clone)]
pub enum Column {
    Numbers(Vec<f64>),
    Labels(Vec<String>),
}

/// Columns of equal length, by name.
#[derive(Debug, Clone, Default)]
pub struct Table {
    pub columns: BTreeMap<String, Column>,
}

/// Finds the file that another one names: beside it, or among the repository's own copies.
#[derive(Debug, Clone)]
pub struct Library(pub Vec<PathBuf>);

impl Library {
    /// The folder of the file named on the command line, then the repository's copies.
    pub fn of_command_line(copies: &str) -> Self {
        let own = std::env::args_os().nth(1).map(PathBuf::from);
        let own = own.and_then(|path| path.parent().map(PathBuf::from));
        Self(own.into_iter().chain(std::iter::once(PathBuf::from(copies))).collect())
    }

    /// Reads the inputs of the file `name`, without `.json`.
    pub fn inputs(&self, name: &str) -> Result<Value, String> {
        let read = |folder: &PathBuf| std::fs::read_to_string(folder.join(format!("{name}.json"))).ok();
        let text = self.0.iter().find_map(read).ok_or_else(|| format!("{name}.json, named in it, is not beside it"))?;
        let file: Value = serde_json::from_str(&text).map_err(|error| format!("{name}.json: {error}"))?;
        Ok(file["inputs"].clone())
    }
}

impl Table {
    /// Reads `columns` and the other lists of `inputs`, and those of a file it names ("see NAME inputs").
    pub fn read(inputs: &Value, library: &Library) -> Result<Self, String> {
        let mut table = Self::default();
        for named in inputs.as_object().into_iter().flat_map(serde_json::Map::values).filter_map(Value::as_str) {
            if let Some(rest) = named.strip_prefix("see ")
                && let Some(name) = rest.split_whitespace().next()
            {
                table.take(&library.inputs(name)?);
            }
        }
        table.take(inputs);
        let mut lengths: Vec<usize> = table.columns.values().map(Column::len).collect();
        lengths.sort_unstable();
        // Lists of another length (orders of columns, rows of note) are no columns.
        let longest = lengths.last().copied().unwrap_or(0);
        table.columns.retain(|_, column| column.len() == longest);
        if longest == 0 { Err("no columns in `inputs`".to_owned()) } else { Ok(table) }
    }

    fn take(&mut self, inputs: &Value) {
        for place in [inputs, &inputs["columns"]] {
            for (name, value) in place.as_object().into_iter().flatten() {
                if let Some(column) = Column::read(value) {
                    self.columns.insert(name.clone(), column);
                }
            }
        }
    }

    pub fn rows(&self) -> usize {
        self.columns.values().map(Column::len).max().unwrap_or(0)
    }

    pub fn numbers(&self, name: &str) -> Result<Vec<f64>, String> {
        match self.columns.get(name) {
            Some(Column::Numbers(values)) => Ok(values.clone()),
            Some(Column::Labels(_)) => Err(format!("column {name} holds no numbers")),
            None => Err(format!("no column {name}")),
        }
    }

    /// Labels of a column, or of several joined by `:`; numbers count as labels.
    pub fn labels(&self, name: &str) -> Result<Vec<String>, String> {
        let mut all = vec![String::new(); self.rows()];
        for (place, part) in name.split(':').enumerate() {
            let column = self.columns.get(part.trim()).ok_or_else(|| format!("no column {part}"))?;
            for (label, value) in all.iter_mut().zip(column.texts()) {
                if place > 0 {
                    label.push(':');
                }
                label.push_str(&value);
            }
        }
        Ok(all)
    }
}

impl Column {
    fn read(value: &Value) -> Option<Self> {
        let items = value.as_array()?;
        let numbers: Option<Vec<f64>> = items.iter().map(Value::as_f64).collect();
        let labels = || items.iter().map(|item| item.as_str().map(str::to_owned)).collect::<Option<Vec<String>>>();
        numbers.map(Self::Numbers).or_else(|| labels().map(Self::Labels))
    }

    fn len(&self) -> usize {
        match self {
            Self::Numbers(values) => values.len(),
            Self::Labels(labels) => labels.len(),
        }
    }

    fn texts(&self) -> Vec<String> {
        match self {
            Self::Numbers(values) => values.iter().map(f64::to_string).collect(),
            Self::Labels(labels) => labels.clone(),
        }
    }
}

/// Labels as numbers, in the order of the sorted labels.
#[derive(Debug, Clone)]
pub struct Labels {
    pub names: Vec<String>,
    pub rows: Vec<usize>,
}

impl Labels {
    pub fn new(rows: &[String]) -> Self {
        let mut names = rows.to_vec();
        names.sort();
        names.dedup();
        let rows = rows.iter().map(|name| names.binary_search(name).unwrap_or(usize::MAX)).collect();
        Self { names, rows }
    }

    pub fn number(&self, name: &str) -> Option<usize> {
        self.names.iter().position(|known| known == name)
    }
}

/// What a file asks to be fitted.
#[derive(Debug, Clone)]
pub struct Request {
    pub response: Vec<f64>,
    /// Name and values of each fixed column.
    pub fixed: Vec<(String, Vec<f64>)>,
    pub group: (String, Labels),
    pub random: Vec<Vec<f64>>,
    pub structure: Structure,
    pub crossed: Vec<(String, Labels, Option<Vec<f64>>)>,
}

impl Request {
    /// Reads `(1 + x | group) + (1 | other)`.
    pub fn with_random(mut self, text: &str, table: &Table) -> Result<Self, String> {
        let mut terms: Vec<(String, Vec<Vec<f64>>)> = Vec::new();
        for part in text.split('(').skip(1) {
            let inside = part.split(')').next().unwrap_or_default();
            let (columns, group) = inside.split_once('|').ok_or_else(|| format!("no | in ({inside})"))?;
            let columns = fixed_columns(columns, table)?.into_iter().map(|column| column.1).collect::<Vec<_>>();
            let group = group.trim();
            match group.split_once('/') {
                Some((outer, inner)) => {
                    terms.push((format!("{}:{}", inner.trim(), outer.trim()), columns.clone()));
                    terms.push((outer.trim().to_owned(), columns));
                }
                None => terms.push((group.to_owned(), columns)),
            }
        }
        let size = |name: &str| table.labels(name).map(|labels| Labels::new(&labels).names.len());
        // The term with most columns leads; of equal ones, the one with most levels.
        let mut sized = Vec::new();
        for (name, columns) in terms {
            sized.push((columns.len(), size(&name)?, name, columns));
        }
        sized.sort_by_key(|term| std::cmp::Reverse((term.0, term.1)));
        let mut rest = sized.into_iter();
        let (_, _, name, mut columns) = rest.next().ok_or("no random term")?;
        let mut crossed = Vec::new();
        self.structure = Structure::Full;
        for (_, _, other, others) in rest {
            if other == name && (columns.len() == 1 || self.structure == Structure::Diagonal) {
                self.structure = Structure::Diagonal;
                columns.extend(others);
                continue;
            }
            let [column] = others.as_slice() else {
                return Err(format!("two correlated random columns of a second factor, {other}"));
            };
            crossed.push((other.clone(), Labels::new(&table.labels(&other)?), Some(column.clone())));
        }
        self.group = (name.clone(), Labels::new(&table.labels(&name)?));
        self.random = columns;
        self.crossed = crossed;
        Ok(self)
    }

    pub fn prepare(&self) -> Result<Mixed, String> {
        let fixed: Vec<Vec<f64>> = self.fixed.iter().map(|column| column.1.clone()).collect();
        let crossed: Vec<Crossed> = self
            .crossed
            .iter()
            .map(|(_, labels, column)| Crossed { level: labels.rows.clone(), column: column.clone() })
            .collect();
        let rows = Rows {
            response: &self.response,
            fixed: &fixed,
            group: &self.group.1.rows,
            random: &self.random,
            structure: self.structure,
            crossed: &crossed,
        };
        Mixed::new(&rows).map_err(|error: MixedError| error.to_string())
    }

    pub fn fit(&self, criterion: Criterion) -> Result<Fit, String> {
        self.prepare()?.fit(criterion).map_err(|error| error.to_string())
    }
}

/// Reads `1 + x + a:b` into named columns; a column of labels gives one column per label but the first.
pub fn fixed_columns(text: &str, table: &Table) -> Result<Vec<(String, Vec<f64>)>, String> {
    let ones = vec![1.0; table.rows()];
    let mut columns = vec![("(Intercept)".to_owned(), ones.clone())];
    let mut terms: Vec<String> = Vec::new();
    for term in text.split('+').map(str::trim).filter(|term| !term.is_empty()) {
        match term {
            "0" | "-1" => {
                columns.clear();
            }
            "1" => {}
            _ => match term.split_once('*') {
                Some((a, b)) => {
                    terms.extend([a.trim().to_owned(), b.trim().to_owned(), format!("{}:{}", a.trim(), b.trim())])
                }
                None => terms.push(term.to_owned()),
            },
        }
    }
    terms.sort_by_key(|term| term.contains(':'));
    terms.dedup();
    for term in terms {
        let mut product = vec![(String::new(), ones.clone())];
        for part in term.split(':') {
            let own = match table.columns.get(part).ok_or_else(|| format!("no column {part}"))? {
                Column::Numbers(values) => vec![(part.to_owned(), values.clone())],
                Column::Labels(rows) => {
                    let names = Labels::new(rows).names;
                    let of = |name: &String| rows.iter().map(|row| if row == name { 1.0 } else { 0.0 }).collect();
                    names.iter().skip(1).map(|name| (format!("{part}{name}"), of(name))).collect()
                }
            };
            product = product
                .iter()
                .flat_map(|(name, values)| {
                    own.iter().map(move |(other, others)| {
                        let name = if name.is_empty() { other.clone() } else { format!("{name}:{other}") };
                        (name, values.iter().zip(others).map(|(a, b)| a * b).collect())
                    })
                })
                .collect();
        }
        columns.extend(product);
    }
    Ok(columns)
}

/// Reads what `inputs` asks to be fitted.
pub fn request(inputs: &Value, expected: &Value, table: &Table) -> Result<Request, String> {
    let mut request = Request {
        response: Vec::new(),
        fixed: Vec::new(),
        group: (String::new(), Labels::new(&[])),
        random: Vec::new(),
        structure: Structure::Full,
        crossed: Vec::new(),
    };
    if table.columns.contains_key("time_s") && table.columns.contains_key("trainee") {
        let names = |key: &str, usual: &[&str]| -> Vec<String> {
            let given = inputs[key].as_array().into_iter().flatten().filter_map(Value::as_str);
            let given: Vec<String> = given.map(str::to_owned).collect();
            if given.is_empty() { usual.iter().map(|name| (*name).to_owned()).collect() } else { given }
        };
        request.response = table.numbers("time_s")?.iter().map(|time| time.ln()).collect();
        for name in names("x_order", &["1", "ln n", "h", "w", "h*ln m"]) {
            request.fixed.push((name.clone(), practice_column(&name, table)?));
        }
        for name in names("z_order", &["1", "ln n"]) {
            request.random.push(practice_column(&name, table)?);
        }
        request.group = ("trainee".to_owned(), Labels::new(&table.labels("trainee")?));
        return Ok(request);
    }
    let (left, right) = inputs[FORM].as_str().and_then(|text| text.split_once(['=', '~'])).unwrap_or_default();
    let response = if table.columns.contains_key(left.trim()) { left.trim() } else { "y" };
    request.response = table.numbers(response)?;
    let tokens: Vec<&str> = right.split(|c: char| !(c.is_alphanumeric() || c == '_' || c == '.')).collect();
    let fixed = inputs["fixed"].as_str().map(str::to_owned).unwrap_or_else(|| {
        let named = tokens.iter().filter(|name| matches!(table.columns.get(**name), Some(Column::Numbers(_))));
        std::iter::once("1").chain(named.copied()).collect::<Vec<_>>().join(" + ")
    });
    request.fixed = fixed_columns(&fixed, table)?;
    let random = inputs["random"].as_str().map(str::to_owned).unwrap_or_else(|| {
        // Without a formula: a random effect for each factor of which a standard deviation is asked, or
        // whose name ends a term (`u_plate`).
        let asked = expected["REML"]["sd"].as_object().or(expected["ML"]["sd"].as_object());
        let asked: Vec<String> = asked.into_iter().flatten().map(|(name, _)| name.clone()).collect();
        let ends = |name: &&String| tokens.iter().any(|token| token.ends_with(&format!("_{name}")));
        let named: Vec<String> = table.columns.keys().filter(ends).cloned().collect();
        let known = |name: &String| name.split(':').all(|part| table.columns.contains_key(part));
        let factors = if !asked.is_empty() && asked.iter().all(known) { asked } else { named };
        factors.iter().map(|name| format!("(1 | {name})")).collect::<Vec<_>>().join(" + ")
    });
    request.with_random(&random, table)
}

/// A column of the learning curve by its name in the files.
fn practice_column(name: &str, table: &Table) -> Result<Vec<f64>, String> {
    let rows = table.rows();
    let plan = || table.labels("plan");
    let reached = |from: &str| -> Result<Vec<f64>, String> {
        let place = |name: &str| PLANS.iter().position(|known| *known == name);
        let from = place(from).ok_or_else(|| format!("no plan {from}"))?;
        let cell = |name: &String| place(name).map(|at| if at >= from { 1.0 } else { 0.0 });
        plan()?.iter().map(|name| cell(name).ok_or_else(|| format!("no plan {name}"))).collect()
    };
    let one = |name: &str| -> Result<Vec<f64>, String> {
        match name {
            "1" | "(Intercept)" => Ok(vec![1.0; rows]),
            "n" => table.numbers("n"),
            "ln n" => Ok(table.numbers("n")?.iter().map(|n| n.ln()).collect()),
            "ln m" => Ok(table.numbers("m_within_plan")?.iter().map(|m| m.ln()).collect()),
            "t" => reached("thirds"),
            "h" => reached("halves"),
            "w" => reached("whole"),
            other => table.numbers(other),
        }
    };
    let mut product = vec![1.0; rows];
    for part in name.split('*') {
        product.iter_mut().zip(one(part.trim())?).for_each(|(cell, value)| *cell *= value);
    }
    Ok(product)
}
