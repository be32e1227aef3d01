//! Fits the curve of a group in steps, a shape at a time.

use super::columns::{self, Columns, Decided};
use super::{
    Curve, Dropped, LEAST_LONG, LEAST_TRAINEES, LONG_PRACTICE, LearningError, Options, Scatter, Service, Shape,
    ShapeFit, VARIANCES_KNOWN, Variances,
};
use crate::mixed::{Averaged, Criterion, Mixed, MixedError, Rows, Structure};

/// A curve in the making: each step takes one shape further, first to its weights and then to its fit.
#[derive(Debug, Clone)]
pub struct Fitting {
    options: Options,
    /// Services given, those left out among them.
    given: usize,
    places: Vec<usize>,
    left_out: Vec<usize>,
    trainees: usize,
    shape_known: bool,
    decided: Decided,
    rows: Vec<Mixed>,
    /// Sums of the shapes' weights, and how many shapes are in them.
    sums: Vec<f64>,
    weighed: usize,
    /// Weights that all shapes share, once every shape has given its own.
    weights: Option<Vec<f64>>,
    shapes: Vec<ShapeFit>,
}

impl Fitting {
    /// Takes in the services, without fitting anything yet.
    ///
    /// # Errors
    /// [`LearningError`] when too little is left of them.
    pub fn new(services: &[Service], options: &Options) -> Result<Self, LearningError> {
        let usable = |service: &Service| {
            service.seconds.is_finite() && service.seconds > 0.0 && service.number > 0 && service.within > 0
        };
        let places: Vec<usize> =
            services.iter().enumerate().filter(|(_, service)| usable(service)).map(|(at, _)| at).collect();
        let left_out: Vec<usize> = (0..services.len()).filter(|at| places.binary_search(at).is_err()).collect();
        let used: Vec<&Service> = services.iter().filter(|service| usable(service)).collect();
        let mut counts: Vec<usize> = used.iter().map(|service| service.trainee).collect();
        counts.sort_unstable();
        let counts: Vec<usize> = counts.chunk_by(|a, b| a == b).map(<[usize]>::len).collect();
        let trainees = counts.len();
        if trainees < LEAST_TRAINEES {
            return Err(LearningError::TooFewTrainees { found: trainees });
        }
        if options.shapes.is_empty() {
            return Err(LearningError::NoShape);
        }
        let decided = columns::decide(&used, options.least_at_level, options.relearning_floor);
        let prepared = options.shapes.iter().map(|shape| prepare(&used, &decided.columns, *shape));
        let rows = prepared.collect::<Result<Vec<_>, MixedError>>()?;
        Ok(Self {
            options: options.clone(),
            given: services.len(),
            trainees,
            shape_known: counts.iter().filter(|count| **count >= LONG_PRACTICE).count() >= LEAST_LONG,
            sums: vec![0.0; used.len()],
            places,
            left_out,
            decided,
            rows,
            weighed: 0,
            weights: None,
            shapes: Vec::new(),
        })
    }

    /// Takes one step; the curve once it is whole.
    ///
    /// # Errors
    /// [`LearningError`] when the rows cannot be fitted.
    pub fn step(&mut self) -> Result<Option<Curve>, LearningError> {
        if self.weights.is_none() {
            self.weigh_rows()?;
            return Ok(None);
        }
        let next = self.shapes.len();
        if let (Some(shape), Some(rows)) = (self.options.shapes.get(next), self.rows.get(next)) {
            let full = rows.fit(Criterion::Ml)?;
            let Averaged { mode: fit, parts } = match self.options.variances {
                Variances::BySize if self.averages() => rows.averaged()?,
                Variances::BySize => Averaged::alone(rows.fit_penalised()?),
                Variances::Plain => Averaged::alone(rows.fit(Criterion::Reml)?),
            };
            self.shapes.push(ShapeFit { shape: *shape, weight: 0.0, full, fit, parts });
            return Ok(None);
        }
        Ok(Some(self.curve()))
    }

    /// Whether predictions average over the variances.
    fn averages(&self) -> bool {
        self.options.variances == Variances::BySize && self.trainees < VARIANCES_KNOWN
    }

    /// Has the next shape weigh the rows.
    ///
    /// Shapes can only be compared when each row counts alike in all of them: the weights are those of the shapes'
    /// average.
    fn weigh_rows(&mut self) -> Result<(), MixedError> {
        let Scatter::Student(nu) = self.options.scatter else {
            self.weights = Some(vec![1.0; self.places.len()]);
            return Ok(());
        };
        if let Some(shape) = self.rows.get(self.weighed) {
            let robust = shape.fit_student(Criterion::Reml, nu)?;
            self.sums.iter_mut().zip(&robust.weights).for_each(|(sum, weight)| *sum += weight);
            self.weighed += 1;
        }
        if self.weighed == self.rows.len() {
            let share = 1.0 / self.rows.len() as f64;
            let weights: Vec<f64> = self.sums.iter().map(|sum| sum * share).collect();
            self.rows = self.rows.iter().map(|shape| shape.weighted(&weights)).collect::<Result<_, _>>()?;
            self.weights = Some(weights);
        }
        Ok(())
    }

    fn curve(&mut self) -> Curve {
        let mut shapes = std::mem::take(&mut self.shapes);
        weigh(&mut shapes, self.shape_known);
        let columns = self.decided.columns.clone();
        let mut dropped = self.decided.dropped.clone();
        if let Some(first) = shapes.first() {
            let all = columns.all();
            let same = first.fit.dropped().into_iter().filter_map(|at| all.get(at));
            dropped.extend(same.map(|term| Dropped { term: *term, known: true }));
        }
        let rank = shapes.first().map_or(0, |shape| shape.fit.rank());
        let parameters = if self.averages() { rank } else { rank + self.trainees };
        // With few rows the scatter itself is uncertain, but never so much that no interval is finite.
        let freedom = match self.options.variances {
            Variances::Plain => f64::INFINITY,
            Variances::BySize => self.places.len().saturating_sub(parameters).max(3) as f64,
        };

        let weights = self.weights.clone().unwrap_or_default();
        let heaviest = shapes.iter().zip(&self.rows).max_by(|a, b| a.0.weight.total_cmp(&b.0.weight));
        let own = heaviest.map(|(shape, rows)| (rows.residuals(&shape.fit), shape.fit.sigma()));
        let (own, sigma) = own.unwrap_or_default();
        let mut residuals = vec![f64::NAN; self.given];
        let mut all_weights = vec![0.0; self.given];
        for (at, (residual, weight)) in self.places.iter().zip(own.iter().zip(&weights)) {
            if let (Some(cell), Some(share)) = (residuals.get_mut(*at), all_weights.get_mut(*at)) {
                *cell = residual / sigma;
                *share = *weight;
            }
        }
        let flagged = self.places.iter().zip(&weights).filter(|(_, weight)| **weight < crate::mixed::WEIGHT_FLAGGED);
        Curve {
            flagged: flagged.map(|(at, _)| *at).collect(),
            columns,
            scatter: self.options.scatter,
            shapes,
            shape_known: self.shape_known,
            merged: self.decided.merged.clone(),
            dropped,
            left_out: self.left_out.clone(),
            weights: all_weights,
            residuals,
            trainees: self.trainees,
            freedom,
        }
    }
}

fn prepare(services: &[&Service], columns: &Columns, shape: Shape) -> Result<Mixed, MixedError> {
    let response: Vec<f64> = services.iter().map(|service| service.seconds.ln()).collect();
    let group: Vec<usize> = services.iter().map(|service| service.trainee).collect();
    let mut fixed = vec![Vec::new(); columns.all().len()];
    let mut random = vec![Vec::new(); 2];
    for service in services {
        fixed.iter_mut().zip(columns.fixed(shape, service)).for_each(|(column, cell)| column.push(cell));
        random.iter_mut().zip(Columns::random(shape, service)).for_each(|(column, cell)| column.push(cell));
    }
    // Nobody has a second service: practice is zero everywhere, and so is its random column.
    if random.get(1).is_some_and(|column| column.iter().all(|cell| *cell == 0.0)) {
        random.truncate(1);
    }
    let rows = Rows {
        response: &response,
        fixed: &fixed,
        group: &group,
        random: &random,
        structure: Structure::Full,
        crossed: &[],
    };
    Mixed::new(&rows)
}

/// Weighs shapes by exp(-deviance / 2), or alike.
fn weigh(shapes: &mut [ShapeFit], by_likelihood: bool) {
    let least = shapes.iter().map(|shape| shape.full.objective()).fold(f64::INFINITY, f64::min);
    for shape in shapes.iter_mut() {
        shape.weight = if by_likelihood { (-(shape.full.objective() - least) / 2.0).exp() } else { 1.0 };
    }
    let total: f64 = shapes.iter().map(|shape| shape.weight).sum();
    shapes.iter_mut().for_each(|shape| shape.weight /= total);
}
