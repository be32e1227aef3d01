//! Dwell figures of each product for this practice model's lashes, from the products as entered.

use leptos::prelude::*;
use practicum::couch::fold::Prepared;
use practicum::couch::{Act, DwellPlan, Tint};
use practicum::eye::Eye;
use practicum::moment::format_seconds;
use practicum::product::ProductKind;

use crate::pages::couch::context::Couch;
use crate::pages::couch::lane::capital;

/// Returns the kinds of product that have a dwell of their own.
pub(super) fn wanted(tint: Option<Tint>) -> Vec<ProductKind> {
    let mut kinds = vec![ProductKind::Lift, ProductKind::Setting];
    if tint == Some(Tint::Own) {
        kinds.push(ProductKind::Tint);
    }
    kinds
}

/// Shows the figures and takes them over.
#[component]
pub(super) fn FiguresStep() -> impl IntoView {
    let couch = expect_context::<Couch>();
    let rows = move || {
        couch.with_run(|run| {
            let prepared = run.prepared().clone();
            let kinds = wanted(prepared.tint);
            Eye::BOTH
                .into_iter()
                .flat_map(|eye| kinds.clone().into_iter().map(move |kind| (eye, kind)))
                .map(|(eye, kind)| (eye, kind, figures(couch, &prepared, eye, kind)))
                .collect::<Vec<_>>()
        })
    };
    let rows = Memo::new(move |_| rows());
    let take = move |_| {
        let acts =
            rows.get().into_iter().filter_map(|(eye, kind, plan)| plan.ok().map(|plan| Act::DwellSet(eye, kind, plan)));
        couch.tap(acts.collect::<Vec<_>>());
    };
    let line = |(eye, kind, plan): (Eye, ProductKind, Result<DwellPlan, String>)| {
        let name = format!("{}, {} eye: ", capital(kind.word()), eye.word());
        let words = match plan {
            Ok(plan) => format!(
                "planned {} (window {} to {}, label maximum {})",
                format_seconds(plan.planned),
                format_seconds(plan.minimum),
                format_seconds(plan.maximum),
                format_seconds(plan.label_maximum)
            ),
            Err(why) => format!("▲ {why}"),
        };
        view! { <li><strong>{name}</strong>{words}</li> }
    };
    let usable = move || rows.get().iter().all(|(_, _, plan)| plan.is_ok());
    view! {
        <ul>{move || rows.get().into_iter().map(line).collect_view()}</ul>
        <button type="button" class="couch-primary" disabled=move || !usable() on:click=take>"Use these figures"</button>
        <p class="small">"Nothing lengthens a dwell by itself. The label comes first."</p>
    }
}

fn figures(couch: Couch, prepared: &Prepared, eye: Eye, kind: ProductKind) -> Result<DwellPlan, String> {
    let lot = prepared.products.get(&kind).ok_or_else(|| format!("choose the {} first", kind.word()))?;
    let analysis = prepared.analysis.get(eye).as_ref().ok_or("analyse the lashes first")?;
    let product = couch.session().product(&lot.product).ok_or("this product is no longer known")?;
    let window = product.window(analysis.condition);
    let missing =
        |what: &str| format!("{what} for {} lashes is not entered for {}", analysis.condition.word(), product.name);
    let mut label_maximum =
        product.label_maximum.ok_or_else(|| format!("no label maximum is entered for {}", product.name))?;
    if kind == ProductKind::Setting && prepared.tint == Some(Tint::Mixed) {
        // Mixed in, the tint is on for as long as the setting lotion: the stricter label counts.
        let tint = prepared.products.get(&ProductKind::Tint).and_then(|lot| couch.session().product(&lot.product));
        let tint = tint.ok_or("choose the tint first")?;
        let most = tint.label_maximum.ok_or_else(|| format!("no label maximum is entered for {}", tint.name))?;
        label_maximum = label_maximum.min(most);
    }
    let planned = window.planned.ok_or_else(|| missing("the planned dwell"))?;
    if planned > label_maximum {
        return Err(format!("the planned dwell of {} is longer than the label maximum", product.name));
    }
    Ok(DwellPlan {
        planned,
        minimum: window.minimum.ok_or_else(|| missing("the minimum"))?,
        maximum: window.maximum.ok_or_else(|| missing("the maximum"))?,
        label_maximum,
    })
}
