//! Lots of a product: which are open, and opening another.

use leptos::prelude::*;
use logbook::fact::Fact;
use practicum::ids::ProductId;
use practicum::order::InOrder;
use practicum::product::Lot;

use crate::components::When;
use crate::pages::form::{Field, OnceUnlocked, Saving, SavingLine, TextInput, day, day_text, name};
use crate::session::{Session, reading, session};

fn lots(session: Session, product: &ProductId) -> Vec<Lot> {
    let mut lots: Vec<Lot> = session.records().lots_of(product).into_iter().cloned().collect();
    lots.order_by_key(|lot| std::cmp::Reverse(lot.opened_on));
    lots
}

/// The open lots, and the form that opens another.
#[component]
pub(super) fn Lots(
    /// Of which product.
    product: ProductId,
) -> impl IntoView {
    let session = session();
    let product = StoredValue::new(product);
    let line = |lot: Lot| {
        let opened = lot.opened_on.map(|day| format!(", opened on {day}")).unwrap_or_default();
        view! { <li>{format!("Lot {}{opened}", lot.number)}</li> }
    };
    let all = move || product.with_value(|product| lots(session, product));
    view! {
        <h3>"Lots"</h3>
        <When when=move || all().is_empty()><p class="small">"No lot is open yet."</p></When>
        <ul class="plain-list">{move || all().into_iter().map(line).collect_view()}</ul>
        <OnceUnlocked
            fallback=|| view! { <p class="small">"An instructor or the owner opens lots, unlocked."</p> }>
            <LotForm product=product.get_value()/>
        </OnceUnlocked>
    }
}

/// Opens a lot.
#[component]
fn LotForm(
    /// Of which product.
    product: ProductId,
) -> impl IntoView {
    let session = session();
    let number = Field::empty();
    let opened = Field::of(day_text(Some(reading().at.date_naive())));
    let saving = Saving::new();
    let (number_id, opened_id) = (format!("lot-{product}"), format!("lot-opened-{product}"));
    let submit = move |event: leptos::ev::SubmitEvent| {
        event.prevent_default();
        let records = session.records_now();
        let known = |typed: &str| records.lots_of(&product).iter().any(|lot| lot.number == typed);
        let typed = number.read(|typed| {
            let typed = name("the lot number as printed", typed)?;
            if known(&typed) { Err(format!("Lot {typed} is open already.")) } else { Ok(typed) }
        });
        let on = opened.read(|typed| match day(typed)? {
            Some(day) if day > reading().at.date_naive() => Err("This day lies in the future.".to_owned()),
            day => Ok(day),
        });
        let (Some(typed), Some(opened_on)) = (typed, on) else { return };
        let done = format!("Lot {typed} is open. A sensitivity test counts for its own lot only.");
        let lot = Lot { product: product.clone(), number: typed, opened_on };
        saving.write(session, vec![Fact::LotOpened(lot)], done, move || drop(number.text.try_set(String::new())));
    };
    view! {
        <details class="form-part">
            <summary>"Open a lot"</summary>
            <form novalidate on:submit=submit>
                <TextInput label="Lot number as printed" id=number_id field=number/>
                <TextInput label="Opened on" id=opened_id field=opened kind="date"/>
                <button type="submit" disabled=move || saving.busy()>"Open this lot"</button>
                <SavingLine saving=saving/>
            </form>
        </details>
    }
}
