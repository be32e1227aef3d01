//! Lots of a product: which are open, and opening another.

use leptos::prelude::*;
use logbook::fact::{Aftercare, Fact};
use practicum::after_the_couch::LotRecall;
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
        view! { <li>{format!("Lot {}{opened}", lot.number)}<LotUse lot=lot/></li> }
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

/// Where a lot was used, and calling it back.
#[component]
fn LotUse(
    /// The lot.
    lot: Lot,
) -> impl IntoView {
    let session = session();
    let (why, saving) = (Field::empty(), Saving::new());
    let (number, product) = (lot.number.clone(), lot.product.clone());
    let same = move |other: &Lot| other.product == product && other.number.trim().eq_ignore_ascii_case(number.trim());
    let of_test = lot.clone();
    let used = Memo::new(move |_| {
        let records = session.records();
        let services =
            records.services_in_force().into_iter().filter(|service| service.products.iter().any(|(_, lot)| same(lot)));
        let services: Vec<_> = services.map(|service| (service.id.clone(), session.service_line(service))).collect();
        let tested = records.tests().into_iter().filter(|test| {
            test.value.product == of_test.product && test.value.lot.trim().eq_ignore_ascii_case(of_test.number.trim())
        });
        let tested: std::collections::BTreeSet<String> =
            tested.map(|test| session.code_of(&test.value.practice_model)).collect();
        (services, tested.into_iter().collect::<Vec<_>>())
    });
    let known = lot.clone();
    let recalled = move || session.records().recall_of(&known.product, &known.number).cloned();
    let words = recalled.clone();
    let call_back = Callback::new(move |()| {
        if why.typed().trim().is_empty() {
            why.refuse("Say who called it back, and why.");
            return;
        }
        let on = reading().at.date_naive();
        let recall = LotRecall { product: lot.product.clone(), number: lot.number.clone(), on, why: why.typed() };
        let done = "The lot is called back: the gate before lotion refuses it from now on.".to_owned();
        saving.write(session, vec![Fact::Aftercare(Aftercare::LotRecalled(recall))], done, || {});
    });
    let id = format!("recall-{}", crate::browser::random::hex_id());
    view! {
        {move || words().map(|known| view! {
            <p class="notice notice-danger">{format!("■ Called back on {}: {} The gate refuses it.", known.value.on, known.value.why)}</p>
        })}
        <details class="form-part">
            <summary>{move || used.with(|(services, tested)| format!("Used in {} services; tested on {} practice models", services.len(), tested.len()))}</summary>
            <ul class="plain-list">{move || used.with(|(services, _)| services.iter().map(|(id, words)| view! {
                <li><a href=format!("#/service/{id}")>{words.clone()}</a></li>
            }).collect_view())}</ul>
            <p class="small">{move || used.with(|(_, tested)| (!tested.is_empty()).then(|| format!("Tested on: {}", tested.join(", "))))}</p>
            <When when=move || session.may_assess() && recalled().is_none()>
                <TextInput label="Who calls it back, and why" id=id.clone() field=why/>
                <button type="button" disabled=move || saving.busy() on:click=move |_| call_back.run(())>"Call this lot back"</button>
            </When>
            <SavingLine saving=saving/>
        </details>
    }
}
