//! A formula written in a check file, such as `y = b1*(1-exp(-b2*x))`, read into a curve.
//!
//! Parameters are b1, b2, ...; predictors x or t, or x1, x2, ...; the left side is y or a function of y.
#![allow(dead_code, reason = "shared by examples, each of which takes what it needs")]

use proficiency::nonlinear::Curve;
use proficiency::number::Number;

/// A formula of x, y and parameters.
#[derive(Debug, Clone)]
enum Term {
    Constant(f64),
    /// Place of a parameter, from 0.
    Parameter(usize),
    /// Place of a predictor, from 0.
    Predictor(usize),
    Response,
    Function(Function, Box<Term>),
    Pair(Operation, Box<Term>, Box<Term>),
}

#[derive(Debug, Clone, Copy)]
enum Function {
    Minus,
    Exp,
    Ln,
    Log10,
    Sin,
    Cos,
    Tan,
    Atan,
    Sqrt,
}

#[derive(Debug, Clone, Copy)]
enum Operation {
    Add,
    Subtract,
    Multiply,
    Divide,
    Power,
}

/// Both sides of a formula.
#[derive(Debug, Clone)]
pub(crate) struct Formula {
    left: Term,
    right: Term,
    parameters: usize,
}

impl Formula {
    /// Reads `left = right`.
    ///
    /// # Errors
    /// When a sign or a word is not known.
    pub(crate) fn read(text: &str) -> Result<Self, String> {
        // Constants may be stated before the formula itself, the error term after it.
        let formula = text.split([';', '\n']).rfind(|part| part.contains('y') && part.contains('='));
        let (left, right) = formula.unwrap_or(text).split_once('=').ok_or("the formula has no =")?;
        let right = right.trim().trim_end_matches("+ e").trim();
        let (left, right) = (parse(left)?, parse(right)?);
        let parameters = highest(&right);
        Ok(Self { left, right, parameters })
    }

    /// Returns the left side for a measured y.
    pub(crate) fn response(&self, y: f64) -> f64 {
        value::<f64>(&self.left, &[], &[], y)
    }
}

impl Curve for Formula {
    fn parameters(&self) -> usize {
        self.parameters
    }

    fn at<N: Number>(&self, x: &[f64], parameters: &[N]) -> N {
        value(&self.right, x, parameters, f64::NAN)
    }
}

fn highest(term: &Term) -> usize {
    match term {
        Term::Parameter(place) => place + 1,
        Term::Constant(_) | Term::Predictor(_) | Term::Response => 0,
        Term::Function(_, of) => highest(of),
        Term::Pair(_, one, other) => highest(one).max(highest(other)),
    }
}

fn value<N: Number>(term: &Term, x: &[f64], parameters: &[N], y: f64) -> N {
    match term {
        Term::Constant(number) => N::constant(*number),
        Term::Parameter(place) => parameters.get(*place).copied().unwrap_or(N::constant(f64::NAN)),
        Term::Predictor(place) => N::constant(x.get(*place).copied().unwrap_or(f64::NAN)),
        Term::Response => N::constant(y),
        Term::Function(function, of) => {
            let of = value(of, x, parameters, y);
            match function {
                Function::Minus => -of,
                Function::Exp => of.exp(),
                Function::Ln => of.ln(),
                Function::Log10 => of.ln() / N::constant(std::f64::consts::LN_10),
                Function::Sin => of.sin(),
                Function::Cos => of.cos(),
                Function::Tan => of.sin() / of.cos(),
                Function::Atan => of.atan(),
                Function::Sqrt => of.power(N::constant(0.5)),
            }
        }
        Term::Pair(operation, one, other) => {
            let (one, other) = (value(one, x, parameters, y), value(other, x, parameters, y));
            match operation {
                Operation::Add => one + other,
                Operation::Subtract => one - other,
                Operation::Multiply => one * other,
                Operation::Divide => one / other,
                Operation::Power => one.power(other),
            }
        }
    }
}

fn parse(text: &str) -> Result<Term, String> {
    let text = text.replace("**", "^").replace(['[', '{'], "(").replace([']', '}'], ")");
    let mut reader = Reader { letters: text.chars().filter(|letter| !letter.is_whitespace()).collect(), at: 0 };
    let term = reader.sum()?;
    match reader.next() {
        None => Ok(term),
        Some(letter) => Err(format!("`{letter}` in a formula where it cannot stand")),
    }
}

struct Reader {
    letters: Vec<char>,
    at: usize,
}

impl Reader {
    fn next(&self) -> Option<char> {
        self.letters.get(self.at).copied()
    }

    fn take(&mut self, letter: char) -> bool {
        let there = self.next() == Some(letter);
        self.at += usize::from(there);
        there
    }

    fn sum(&mut self) -> Result<Term, String> {
        let mut term = self.product()?;
        loop {
            let operation = if self.take('+') {
                Operation::Add
            } else if self.take('-') {
                Operation::Subtract
            } else {
                return Ok(term);
            };
            term = Term::Pair(operation, Box::new(term), Box::new(self.product()?));
        }
    }

    fn product(&mut self) -> Result<Term, String> {
        let mut term = self.signed()?;
        loop {
            let operation = if self.take('*') {
                Operation::Multiply
            } else if self.take('/') {
                Operation::Divide
            } else {
                return Ok(term);
            };
            term = Term::Pair(operation, Box::new(term), Box::new(self.signed()?));
        }
    }

    fn signed(&mut self) -> Result<Term, String> {
        if self.take('-') {
            return Ok(Term::Function(Function::Minus, Box::new(self.signed()?)));
        }
        if self.take('+') {
            return self.signed();
        }
        let base = self.atom()?;
        if self.take('^') {
            return Ok(Term::Pair(Operation::Power, Box::new(base), Box::new(self.signed()?)));
        }
        Ok(base)
    }

    fn atom(&mut self) -> Result<Term, String> {
        if self.take('(') {
            let inside = self.sum()?;
            return if self.take(')') { Ok(inside) } else { Err("a bracket is not closed".to_owned()) };
        }
        match self.next() {
            Some(letter) if letter.is_ascii_digit() || letter == '.' => self.number(),
            Some(letter) if letter.is_alphabetic() => self.word(),
            Some(letter) => Err(format!("`{letter}` in a formula where it cannot stand")),
            None => Err("the formula ends too early".to_owned()),
        }
    }

    fn number(&mut self) -> Result<Term, String> {
        let start = self.at;
        while let Some(letter) = self.next() {
            let after_e = self.at > start && matches!(self.letters.get(self.at - 1), Some('e' | 'E'));
            let exponent = matches!(letter, 'e' | 'E')
                && self.letters.get(self.at + 1).is_some_and(|next| next.is_ascii_digit() || matches!(next, '+' | '-'));
            if !(letter.is_ascii_digit() || letter == '.' || exponent || (after_e && matches!(letter, '+' | '-'))) {
                break;
            }
            self.at += 1;
        }
        let text: String = self.letters.iter().take(self.at).skip(start).collect();
        text.parse().map(Term::Constant).map_err(|_| format!("`{text}` is not a number"))
    }

    fn word(&mut self) -> Result<Term, String> {
        let start = self.at;
        while self.next().is_some_and(|letter| letter.is_alphanumeric() || letter == '_') {
            self.at += 1;
        }
        let word: String = self.letters.iter().take(self.at).skip(start).collect::<String>().to_lowercase();
        let place = |rest: &str| rest.parse::<usize>().ok().and_then(|number| number.checked_sub(1));
        match word.as_str() {
            "y" => return Ok(Term::Response),
            "x" | "t" => return Ok(Term::Predictor(0)),
            "pi" => return Ok(Term::Constant(std::f64::consts::PI)),
            _ => {}
        }
        if let Some(place) = word.strip_prefix('b').and_then(place) {
            return Ok(Term::Parameter(place));
        }
        if let Some(place) = word.strip_prefix('x').and_then(place) {
            return Ok(Term::Predictor(place));
        }
        let function = match word.as_str() {
            "exp" => Function::Exp,
            "log" | "ln" => Function::Ln,
            "log10" => Function::Log10,
            "sin" => Function::Sin,
            "cos" => Function::Cos,
            "tan" => Function::Tan,
            "arctan" | "atan" => Function::Atan,
            "sqrt" => Function::Sqrt,
            _ => return Err(format!("`{word}` in a formula is not known")),
        };
        if self.next() != Some('(') {
            return Err(format!("`{word}` needs a bracket"));
        }
        Ok(Term::Function(function, Box::new(self.atom()?)))
    }
}
