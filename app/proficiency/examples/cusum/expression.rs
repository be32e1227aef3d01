//! Formulas of `t` written as text, such as `0.05+0.55*exp(-t/8)`.

/// Returns the value of a formula of numbers, `t`, `+ - * / ^`, brackets, `exp`, `ln`, `log`, `sqrt`, `min`, `max`.
pub(super) fn value(text: &str, t: f64) -> Result<f64, String> {
    let mut reader = Reader { rest: text, t };
    let value = reader.sum()?;
    reader.skip();
    if reader.rest.is_empty() { Ok(value) } else { Err(format!("`{}` in `{text}`", reader.rest)) }
}

struct Reader<'a> {
    rest: &'a str,
    t: f64,
}

impl<'a> Reader<'a> {
    fn skip(&mut self) {
        self.rest = self.rest.trim_start();
    }

    fn take(&mut self, sign: &str) -> bool {
        self.skip();
        let after = self.rest.strip_prefix(sign);
        self.rest = after.unwrap_or(self.rest);
        after.is_some()
    }

    fn while_matches(&mut self, part: impl Fn(usize, char) -> bool) -> &'a str {
        self.skip();
        let end =
            self.rest.char_indices().find(|(at, letter)| !part(*at, *letter)).map_or(self.rest.len(), |(at, _)| at);
        let (taken, rest) = self.rest.split_at(end);
        self.rest = rest;
        taken
    }

    fn sum(&mut self) -> Result<f64, String> {
        let mut value = self.product()?;
        loop {
            if self.take("+") {
                value += self.product()?;
            } else if self.take("-") {
                value -= self.product()?;
            } else {
                return Ok(value);
            }
        }
    }

    fn product(&mut self) -> Result<f64, String> {
        let mut value = self.signed()?;
        loop {
            if self.rest.trim_start().starts_with("**") {
                return Ok(value);
            } else if self.take("*") {
                value *= self.signed()?;
            } else if self.take("/") {
                value /= self.signed()?;
            } else {
                return Ok(value);
            }
        }
    }

    fn signed(&mut self) -> Result<f64, String> {
        if self.take("-") {
            return Ok(-self.signed()?);
        }
        let base = self.atom()?;
        if self.take("**") || self.take("^") {
            return Ok(base.powf(self.signed()?));
        }
        Ok(base)
    }

    fn atom(&mut self) -> Result<f64, String> {
        if self.take("(") {
            let value = self.sum()?;
            return self.take(")").then_some(value).ok_or_else(|| "a bracket that does not close".to_owned());
        }
        let name = self.while_matches(|_, letter| letter.is_ascii_alphabetic());
        if name == "t" || name == "n" {
            return Ok(self.t);
        }
        if !name.is_empty() {
            if !self.take("(") {
                return Err(format!("`{name}`"));
            }
            let first = self.sum()?;
            let second = if self.take(",") { Some(self.sum()?) } else { None };
            if !self.take(")") {
                return Err("a bracket that does not close".to_owned());
            }
            return match (name, second) {
                ("exp", None) => Ok(first.exp()),
                ("ln" | "log", None) => Ok(first.ln()),
                ("sqrt", None) => Ok(first.sqrt()),
                ("min", Some(second)) => Ok(first.min(second)),
                ("max", Some(second)) => Ok(first.max(second)),
                _ => Err(format!("`{name}`")),
            };
        }
        let whole = self.rest.trim_start();
        let exponent = |at: usize| at > 0 && whole.get(at - 1..at).is_some_and(|before| matches!(before, "e" | "E"));
        let number = self.while_matches(|at, letter| {
            letter.is_ascii_digit()
                || letter == '.'
                || (at > 0 && matches!(letter, 'e' | 'E'))
                || (matches!(letter, '-' | '+') && exponent(at))
        });
        number.parse().map_err(|_| format!("`{number}` is no number"))
    }
}
