//! One product as it stands: figures by lash condition, label, lots.

use leptos::prelude::*;
use practicum::course_book::LashCondition;
use practicum::ids::ProductId;
use practicum::moment::{Seconds, format_seconds};
use practicum::product::{Product, ProductKind};

use super::dwell;
use super::lots::Lots;
use crate::components::When;
use crate::session::session;

/// A product with its figures and lots.
#[component]
pub(super) fn ProductCard(
    /// Which.
    id: ProductId,
    /// The product on the form: none, a new one, or this one.
    editing: RwSignal<Option<Option<ProductId>>>,
) -> impl IntoView {
    let session = session();
    let known = id.clone();
    let product = Memo::new(move |_| session.product(&known));
    let title = move || product.get().map(|product| product.name).unwrap_or_default();
    let mine = id.clone();
    let renew = move |_| {
        editing.set(Some(Some(mine.clone())));
        crate::browser::page::scroll_to_top();
    };
    let renew = StoredValue::new(renew);
    view! {
        <section class="product">
            <h2>{title}</h2>
            {move || product.get().map(|product| view! { <Figures product=product/> })}
            <When when=move || session.is_owner()>
                <button type="button" class="quiet" on:click=move |event| renew.with_value(|renew| renew(event))>
                    "Renew name and figures"<span class="visually-hidden">{move || format!(" of {}", title())}</span>
                </button>
            </When>
            <Lots product=id/>
        </section>
    }
}

/// The figures in words and as a table.
#[component]
fn Figures(
    /// The product.
    product: Product,
) -> impl IntoView {
    let timed = product.kind != ProductKind::Adhesive;
    let label = match product.label_maximum {
        _ if !timed => "No dwell of its own.".to_owned(),
        Some(seconds) => format!("Label maximum {}.", format_seconds(seconds)),
        None => "▲ No label maximum: live lotion stays locked.".to_owned(),
    };
    let hours = match product.label_test_hours {
        Some(hours) => format!("The label asks for {hours} hours between test and use."),
        None => "Hours between test and use: the label’s are not entered.".to_owned(),
    };
    let mixing = (product.kind == ProductKind::Setting).then_some(if product.may_carry_tint {
        "The owner has recorded that both labels permit mixing tint in."
    } else {
        "Mixing tint in is not recorded as permitted."
    });
    let row = |condition: LashCondition| {
        let window = product.window(condition);
        let cell = |seconds: Option<Seconds>| if seconds.is_none() { "—".to_owned() } else { dwell::write(seconds) };
        view! {
            <tr>
                <th scope="row">{condition.word()}</th>
                <td>{cell(window.planned)}</td>
                <td>{cell(window.minimum)}</td>
                <td>{cell(window.maximum)}</td>
            </tr>
        }
    };
    let rows = LashCondition::ALL.into_iter().map(row).collect_view();
    let caption = format!("Dwell of {} by lash condition", product.name);
    let region = caption.clone();
    view! {
        <p>{product.kind.word()}". "{label}" "{hours}" "{mixing}</p>
        {timed.then(|| view! {
            <div class="table-wrap" role="region" tabindex="0" aria-label=region><table>
                <caption class="visually-hidden">{caption}</caption>
                <thead><tr>
                    <th scope="col">"Lashes"</th><th scope="col">"Planned"</th>
                    <th scope="col">"Minimum"</th><th scope="col">"Maximum"</th>
                </tr></thead>
                <tbody>{rows}</tbody>
            </table></div>
        })}
    }
}
