//! The form that enters a product or renews its figures.

use leptos::prelude::*;
use logbook::fact::Fact;
use practicum::course_book::LashCondition;
use practicum::ids::ProductId;
use practicum::product::{DwellWindow, Product, ProductKind};

use super::dwell;
use super::figures::{WindowFields, WindowInputs};
use crate::browser;
use crate::components::When;
use crate::pages::form::{Field, Saving, SavingLine, SelectInput, TextInput, TickInput, name, whole_number};
use crate::session::{Session, session};

/// Most hours between test and use that can be typed: two weeks.
const MOST_HOURS: u32 = 14 * 24;

/// What is typed on the form.
#[derive(Clone, Copy)]
struct Entry {
    id: StoredValue<ProductId>,
    name: Field,
    kind: Field,
    label_maximum: Field,
    label_hours: Field,
    mixing: RwSignal<bool>,
    windows: [WindowFields; 3],
}

fn kind_of(word: &str) -> Option<ProductKind> {
    ProductKind::ALL.into_iter().find(|kind| kind.word() == word)
}

impl Entry {
    /// Everything empty for a new product; the present figures for one that is renewed.
    fn of(known: Option<Product>) -> Self {
        let windows = known.as_ref().map_or([DwellWindow::default(); 3], |product| product.windows);
        let kind = known.as_ref().map(|product| product.kind.word()).unwrap_or_default();
        let hours = known.as_ref().and_then(|product| product.label_test_hours);
        let new_id = || ProductId::new(browser::random::hex_id());
        Self {
            id: StoredValue::new(known.as_ref().map_or_else(new_id, |product| product.id.clone())),
            name: Field::of(known.as_ref().map(|product| product.name.clone()).unwrap_or_default()),
            kind: Field::of(kind),
            label_maximum: Field::of(dwell::write(known.as_ref().and_then(|product| product.label_maximum))),
            label_hours: Field::of(hours.map(|hours| hours.to_string()).unwrap_or_default()),
            mixing: RwSignal::new(known.is_some_and(|product| product.may_carry_tint)),
            windows: windows.map(WindowFields::of),
        }
    }

    fn read(&self) -> Option<Product> {
        let name = self.name.read(|typed| name("the name as your academy calls it", typed));
        let kind = self.kind.read(|typed| kind_of(typed).ok_or_else(|| "Choose what it is for.".to_owned()));
        let hours = self.label_hours.read(|typed| match typed {
            "" => Ok(None),
            typed => whole_number(typed, 1, MOST_HOURS).map(Some),
        });
        let label = self.label_maximum.read(dwell::read);
        let timed = kind != Some(ProductKind::Adhesive);
        let pairs = self.windows.iter().zip(LashCondition::ALL);
        let windows: Vec<Option<DwellWindow>> = if timed {
            pairs.map(|(fields, condition)| fields.read(label.flatten(), condition)).collect()
        } else {
            vec![Some(DwellWindow::default()); 3]
        };
        let windows: Vec<DwellWindow> = windows.into_iter().collect::<Option<_>>()?;
        Some(Product {
            id: self.id.get_value(),
            name: name?,
            kind: kind?,
            windows: windows.try_into().ok()?,
            label_maximum: if timed { label? } else { None },
            label_test_hours: hours?,
            may_carry_tint: kind == Some(ProductKind::Setting) && self.mixing.get_untracked(),
        })
    }
}

/// Enters a product, or renews the figures of one.
#[component]
pub(super) fn ProductForm(
    /// The product to renew; none for a new one.
    id: Option<ProductId>,
    /// Called when it is saved or left.
    done: Callback<()>,
) -> impl IntoView {
    let session = session();
    let known = id.and_then(|id| session.records_now().product(&id).cloned());
    let title =
        known.as_ref().map_or_else(|| "Enter a product".to_owned(), |product| format!("Renew {}", product.name));
    let entry = Entry::of(known);
    let kind = Signal::derive(move || entry.kind.text.with(|word| kind_of(word)));
    let kinds = ProductKind::ALL.map(|kind| (kind.word().to_owned(), kind.word().to_owned())).to_vec();
    let timed = move || kind.get().is_some_and(|kind| kind != ProductKind::Adhesive);
    let setting = move || kind.get() == Some(ProductKind::Setting);
    let windows = move || {
        entry
            .windows
            .into_iter()
            .zip(LashCondition::ALL)
            .map(|(fields, condition)| {
                view! {
                    <WindowInputs condition=condition fields=fields kind=kind/>
                }
            })
            .collect_view()
    };
    let saving = Saving::new();
    let submit = move |event: leptos::ev::SubmitEvent| {
        event.prevent_default();
        save(session, entry, saving, done);
    };
    view! {
        <form class="product-form" novalidate on:submit=submit>
            <h2>{title}</h2>
            <TextInput label="Name, as your academy calls it" id="product-name" field=entry.name/>
            <SelectInput label="What it is for" id="product-kind" field=entry.kind options=kinds/>
            <When when=timed>
                <TextInput label="Label maximum" id="product-label-maximum" field=entry.label_maximum
                    hint="The longest dwell on the label, m:ss or minutes. Live lotion stays locked until it stands here."/>
                {windows}
            </When>
            <TextInput label="Hours between sensitivity test and use, as the label says" id="product-hours"
                field=entry.label_hours keyboard="numeric" hint="Leave empty when the label does not say"/>
            <When when=setting>
                <TickInput label="Both labels, of this setting lotion and of the tint, permit mixing" ticked=entry.mixing/>
            </When>
            <p>
                <button type="submit" class="button-primary" disabled=move || saving.busy()>"Save product"</button>" "
                <button type="button" class="quiet" on:click=move |_| done.run(())>"Leave without saving"</button>
            </p>
            <SavingLine saving=saving/>
        </form>
    }
}

fn save(session: Session, entry: Entry, saving: Saving, done: Callback<()>) {
    let Some(product) = entry.read() else {
        saving.say(Err("Look at the fields marked ▲ above; what was typed is still there.".to_owned()));
        return;
    };
    if !session.is_owner() {
        saving.say(Err("The lock has closed meanwhile: unlock as the owner at the top, then save.".to_owned()));
        return;
    }
    let taken = session
        .records_now()
        .products()
        .iter()
        .any(|other| other.id != product.id && other.name == product.name && other.kind == product.kind);
    if taken {
        entry
            .name
            .refuse("A product of this name and kind is entered already: renew that one, or name this one apart.");
        return;
    }
    saving
        .write(session, vec![Fact::ProductEntered(product)], "The product is saved.".to_owned(), move || done.run(()));
}
