//! Products with their dwell figures, as typed in from the labels by the owner.

mod card;
mod dwell;
mod entry;
mod figures;
mod lots;

use leptos::prelude::*;
use practicum::ids::ProductId;
use practicum::order::InOrder;

use crate::components::{Page, When};
use crate::pages::form;
use crate::session::{Session, session};

/// All products of the academy.
#[component]
pub(crate) fn ProductsPage() -> impl IntoView {
    let session = session();
    let ids = Memo::new(move |_| products(session));
    let editing = RwSignal::new(None::<Option<ProductId>>);
    let empty = move || ids.with(Vec::is_empty);
    let entry_form = move || {
        editing
            .get()
            .map(|product| view! { <entry::ProductForm id=product done=Callback::new(move |()| editing.set(None))/> })
    };
    view! {
        <Page title="Products">
            <p>"Figures come from the label of your own product. The label and local rules come first; "
                "nothing here lengthens a dwell by itself."</p>
            <form::OnceUnlocked owner=true
                fallback=|| view! {
                    <p class="notice notice-info">
                        "Only the owner enters products and their figures, because they decide when lotion comes off. "
                        "To change them, switch to the owner at the top."
                    </p>
                }>
                <When when=move || editing.get().is_none()>
                    <button type="button" on:click=move |_| editing.set(Some(None))>"Enter a product"</button>
                </When>
                {entry_form}
            </form::OnceUnlocked>
            <When when=empty><p>"No product is entered yet. Live lotion stays locked until one is."</p></When>
            <For each=move || ids.get() key=|id| id.clone() let:id>
                <card::ProductCard id=id editing=editing/>
            </For>
        </Page>
    }
}

/// Identifiers of the products, by kind and name.
fn products(session: Session) -> Vec<ProductId> {
    let records = session.records();
    let mut all = records.products();
    all.order_by_key(|product| (product.kind, product.name.to_lowercase()));
    all.into_iter().map(|product| product.id.clone()).collect()
}
