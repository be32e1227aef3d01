//! Which products a written service used, and their windows for the dwells that were written down.

use leptos::prelude::*;
use practicum::couch::{DwellPlan, Tint};
use practicum::course_book::LashCondition;
use practicum::eye::Eye;
use practicum::ids::ProductId;
use practicum::product::{Lot, Product, ProductKind};
use practicum::service::Service;

use crate::pages::form::{Field, SelectInput};
use crate::session::{Session, session};

/// Kinds that have a dwell.
const KINDS: [ProductKind; 3] = [ProductKind::Lift, ProductKind::Setting, ProductKind::Tint];

/// The product and lot of each kind while they are being chosen.
#[derive(Clone, Copy)]
pub(crate) struct Products([Field; 3]);

impl Products {
    /// Makes empty fields.
    pub(super) fn empty() -> Self {
        Self(KINDS.map(|_| Field::empty()))
    }

    /// Returns the lots that were chosen, by kind.
    pub(super) fn read(&self, session: Session) -> Vec<(ProductKind, Lot)> {
        let chosen = |(kind, field): (ProductKind, &Field)| {
            let typed = field.typed();
            untrack(|| session.lots(kind)).into_iter().find(|lot| key(lot) == typed).map(|lot| (kind, lot))
        };
        KINDS.into_iter().zip(&self.0).filter_map(chosen).collect()
    }
}

fn key(lot: &Lot) -> String {
    format!("{} {}", lot.product, lot.number)
}

/// The fields; a kind without an open lot is not asked about.
#[component]
pub(crate) fn ProductFields(
    /// The choices.
    products: Products,
) -> impl IntoView {
    let session = session();
    let field = |(kind, field): (ProductKind, Field)| {
        let options = Signal::derive(move || {
            let words = |lot: &Lot| format!("{}, lot {}", session.product_name(&lot.product), lot.number);
            session.lots(kind).iter().map(|lot| (key(lot), words(lot))).collect::<Vec<_>>()
        });
        let label = format!("Product used: {}", kind.word());
        let id = format!("used-{}", kind.word().replace(' ', "-"));
        view! { <SelectInput label=label id=id field=field options=options/> }
    };
    view! {
        <fieldset class="form-part">
            <legend>"Products, as far as they are known"</legend>
            <p class="field-hint">"A written dwell is judged by the label and the window of its product for these lashes."</p>
            {KINDS.into_iter().zip(products.0).map(field).collect_view()}
        </fieldset>
    }
}

/// A dwell that cannot be judged as it stands: of which product, on which eye, and what is missing.
pub(crate) type Unjudged = (ProductKind, Eye, &'static str);

/// Puts the window of the product used beside each written dwell, so that it is judged as a tapped one is: past the
/// label maximum is a safety breach here too. `entered` says whether the academy has a product of a kind.
pub(crate) fn judge_by_products(
    service: &mut Service,
    product: impl Fn(&ProductId) -> Option<Product>,
    entered: impl Fn(ProductKind) -> bool,
) -> Vec<Unjudged> {
    let mut unjudged = Vec::new();
    let Service { times, products, analysis, tint, .. } = service;
    for dwell in &mut times.dwells {
        let mut refuse = |why| unjudged.push((dwell.product, dwell.eye, why));
        if dwell.product == ProductKind::Tint && *tint == Tint::None {
            refuse("A dwell of tint, and above no tint: check both.");
            continue;
        }
        let used = products.iter().find(|(kind, _)| *kind == dwell.product).and_then(|(_, lot)| product(&lot.product));
        let Some(used) = used else {
            if entered(dwell.product) {
                refuse("Choose the product that was used: its label judges this time.");
            }
            continue;
        };
        match analysis.get(dwell.eye) {
            Some(known) => dwell.plan = plan(&used, known.condition),
            None => refuse("Say the condition, length and direction of this eye's lashes: the window depends on them."),
        }
    }
    unjudged
}

/// Returns the figures of a product, where all of them are entered.
fn plan(product: &Product, condition: LashCondition) -> Option<DwellPlan> {
    let window = product.window(condition);
    Some(DwellPlan {
        planned: window.planned?,
        minimum: window.minimum?,
        maximum: window.maximum?,
        label_maximum: product.label_maximum?,
    })
}
