//! A row of large choices, one of which is chosen.

use leptos::prelude::*;

/// Large radio buttons for gloved hands; nothing is chosen until a person does.
#[component]
pub(crate) fn Chips<T>(
    /// Question, read out as the group's name.
    #[prop(into)]
    legend: String,
    /// Name shared by the radio buttons; unique on the page.
    #[prop(into)]
    name: String,
    /// Choices with their words.
    options: Vec<(T, String)>,
    /// The choice.
    chosen: RwSignal<Option<T>>,
) -> impl IntoView
where
    T: Clone + PartialEq + Send + Sync + 'static,
{
    let chip = move |(value, words): (T, String)| {
        let mine = value.clone();
        let checked = move || chosen.with(|chosen| chosen.as_ref() == Some(&mine));
        view! {
            <label class="chip">
                <input type="radio" name=name.clone() prop:checked=checked on:change=move |_| chosen.set(Some(value.clone()))/>
                <span>{words}</span>
            </label>
        }
    };
    view! {
        <fieldset class="chips">
            <legend>{legend}</legend>
            {options.into_iter().map(chip).collect_view()}
        </fieldset>
    }
}
