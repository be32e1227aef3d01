//! Tint or not, and which products and lots are used.

use leptos::prelude::*;
use practicum::couch::{Act, Tint};
use practicum::product::{Lot, ProductKind};

use crate::pages::couch::chips::Chips;
use crate::pages::couch::context::Couch;
use crate::pages::couch::flow::tint_words;
use crate::pages::couch::lane::capital;

/// Returns the kinds of product that a choice about tint needs.
pub(super) fn products_wanted(tint: Option<Tint>) -> Vec<ProductKind> {
    let mut kinds = vec![ProductKind::Adhesive, ProductKind::Lift, ProductKind::Setting];
    if tint.is_some_and(|tint| tint != Tint::None) {
        kinds.push(ProductKind::Tint);
    }
    kinds
}

/// Asks about tint.
#[component]
pub(super) fn TintStep() -> impl IntoView {
    let couch = expect_context::<Couch>();
    let chosen = RwSignal::new(None::<Tint>);
    Effect::new(move |_| {
        if let Some(tint) = chosen.get() {
            couch.tap([Act::TintChosen(tint)]);
        }
    });
    let allowed = couch.session().tint_allowed();
    let offered = if allowed { vec![Tint::None, Tint::Own, Tint::Mixed] } else { vec![Tint::None] };
    let options = offered.into_iter().map(|tint| (tint, capital(tint_words(tint)))).collect();
    view! {
        {(!allowed).then(|| view! { <p>"Tint is switched off for this academy’s region. The owner can change that in Settings, with a legal ground."</p> })}
        <Chips legend="Tint?" name="tint" options=options chosen=chosen/>
    }
}

/// Asks for the product and lot of each kind.
#[component]
pub(super) fn ProductsStep() -> impl IntoView {
    let couch = expect_context::<Couch>();
    let wanted = Memo::new(move |_| couch.with_run(|run| products_wanted(run.prepared().tint)));
    view! {
        {move || wanted.get().into_iter().map(|kind| view! { <ProductChoice kind=kind/> }).collect_view()}
        <p><a href="#/products">"Products of the academy"</a></p>
    }
}

/// Chooses one kind's product and lot.
#[component]
fn ProductChoice(
    /// The kind.
    kind: ProductKind,
) -> impl IntoView {
    let couch = expect_context::<Couch>();
    let lots = couch.session().lots(kind);
    let chosen = RwSignal::new(couch.with_run(|run| run.prepared().products.get(&kind).cloned()));
    Effect::new(move |before: Option<Option<Lot>>| {
        let lot = chosen.get();
        if let (Some(before), Some(lot)) = (before, lot.clone())
            && before.as_ref() != Some(&lot)
        {
            couch.tap([Act::ProductChosen(lot, kind)]);
        }
        lot
    });
    let session = couch.session();
    let options: Vec<_> = lots
        .into_iter()
        .map(|lot| {
            let words = format!("{}, lot {}", session.product_name(&lot.product), lot.number);
            (lot, words)
        })
        .collect();
    let none = options.is_empty();
    view! {
        {none.then(|| view! { <p>{format!("No {} with an open lot is entered yet.", kind.word())}</p> })}
        <Chips legend=capital(kind.word()) name=format!("product-{}", kind.word().replace(' ', "-")) options=options chosen=chosen/>
    }
}
