//! The form that records a sensitivity test as put on.

use leptos::prelude::*;
use logbook::fact::Fact;
use practicum::ids::{PersonId, PracticeModelId, ProductId, TestId};
use practicum::practice_model::SensitivityTest;
use practicum::product::ProductKind;

use crate::browser;
use crate::components::When;
use crate::pages::form::{
    Field, Saving, SavingLine, SelectInput, TextInput, local_text, moment_of_local, name, not_in_the_future,
};
use crate::session::{Session, reading, session};

/// What is typed on the form.
#[derive(Clone, Copy)]
struct PutOn {
    product: Field,
    lot: Field,
    site: Field,
    at: Field,
    by: Field,
}

fn products(session: Session) -> Vec<(String, String)> {
    let records = session.records();
    let tested = records.products().into_iter().filter(|product| product.kind != ProductKind::Adhesive);
    tested.map(|product| (product.id.to_string(), format!("{} ({})", product.name, product.kind.word()))).collect()
}

fn lots(session: Session, product: &str) -> Vec<(String, String)> {
    let records = session.records();
    let lots = records.lots_of(&ProductId::new(product));
    lots.into_iter().rev().map(|lot| (lot.number.clone(), lot.number.clone())).collect()
}

/// Returns everybody who can have put on or read a test, as choices.
pub(super) fn people(session: Session) -> Vec<(String, String)> {
    let records = session.records();
    let present = records.people().into_iter().filter(|person| person.left.is_none());
    present.map(|person| (person.id.to_string(), format!("{} · {}", person.name, person.role.word()))).collect()
}

/// Puts on a test.
#[component]
pub(super) fn PutOnForm(
    /// On whom.
    practice_model: PracticeModelId,
) -> impl IntoView {
    let session = session();
    let form = PutOn {
        product: Field::empty(),
        lot: Field::empty(),
        site: Field::empty(),
        at: Field::of(local_text(&reading().at)),
        by: Field::of(untrack(move || session.who()).map(|who| who.id.to_string()).unwrap_or_default()),
    };
    // A lot belongs to its product: another product asks for its own lot.
    Effect::new(move |before: Option<String>| {
        let product = form.product.text.get();
        if before.is_some_and(|before| before != product) {
            form.lot.clear();
        }
        product
    });
    let saving = Saving::new();
    let submit = move |event: leptos::ev::SubmitEvent| {
        event.prevent_default();
        put_on(session, form, practice_model.clone(), saving);
    };
    let all_lots = Signal::derive(move || form.product.text.with(|product| lots(session, product)));
    let no_lot = move || !form.product.text.with(String::is_empty) && all_lots.with(Vec::is_empty);
    let no_product = move || products(session).is_empty();
    view! {
        <form novalidate on:submit=submit>
            <When when=no_product>
                <p class="notice notice-info">"No product is entered yet: the owner enters it under "<a href="#/products">"Products"</a>"."</p>
            </When>
            <SelectInput label="Product" id="test-product" field=form.product options=Signal::derive(move || products(session))/>
            <SelectInput label="Lot" id="test-lot" field=form.lot options=all_lots/>
            <When when=no_lot>
                <p class="notice notice-info">"No lot of this product is open: an instructor opens it under "<a href="#/products">"Products"</a>"."</p>
            </When>
            <TextInput label="Site" id="test-site" field=form.site hint="Where on the body, as the label says; for example behind the ear"/>
            <TextInput label="Put on at" id="test-at" field=form.at kind="datetime-local"/>
            <SelectInput label="By" id="test-by" field=form.by options=Signal::derive(move || people(session))/>
            <button type="submit" disabled=move || saving.busy()>"Record: put on"</button>
            <SavingLine saving=saving/>
        </form>
    }
}

fn put_on(session: Session, form: PutOn, practice_model: PracticeModelId, saving: Saving) {
    let chosen = |field: Field, sentence: &str| {
        field.read(|typed| if typed.is_empty() { Err(sentence.to_owned()) } else { Ok(typed.to_owned()) })
    };
    let product = chosen(form.product, "Choose the product.");
    let lot = chosen(form.lot, "Choose the lot: a test counts for its own lot only.");
    let site = form.site.read(|typed| name("where it was put on", typed));
    let now = reading().at;
    let at = form.at.read(|typed| not_in_the_future(moment_of_local(typed)?, &now));
    let by = chosen(form.by, "Choose who put it on.");
    let (Some(product), Some(lot), Some(site), Some(at), Some(by)) = (product, lot, site, at, by) else { return };
    let test = SensitivityTest {
        id: TestId::new(browser::random::hex_id()),
        practice_model,
        product: ProductId::new(product),
        lot,
        site,
        put_on: at,
        put_on_by: PersonId::new(by),
        read: None,
    };
    let done = "Recorded as put on. It counts only after it is read.".to_owned();
    saving.write(session, vec![Fact::TestPutOn(test)], done, move || {
        form.product.text.try_set(String::new());
        form.site.text.try_set(String::new());
    });
}
