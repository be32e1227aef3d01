//! Inputs with their label, hint and sentence of what is wrong.

use leptos::prelude::*;

use super::Field;

/// The hint under a field and the sentence of what is wrong with it.
#[component]
fn Beside(
    /// Identifier of the input.
    id: String,
    /// Hint; empty for none.
    hint: String,
    /// What is wrong.
    problem: RwSignal<Option<String>>,
) -> impl IntoView {
    let hint_id = format!("{id}-hint");
    view! {
        {(!hint.is_empty()).then(|| view! { <p id=hint_id class="field-hint">{hint}</p> })}
        <div id=format!("{id}-error") role="alert">
            {move || problem.get().map(|sentence| view! { <p class="field-error">"▲ "{sentence}</p> })}
        </div>
    }
}

fn described_by(id: &str, hint: &str) -> String {
    if hint.is_empty() { format!("{id}-error") } else { format!("{id}-hint {id}-error") }
}

/// One line of text, or a date, a time, a number, a PIN.
#[component]
pub(crate) fn TextInput(
    /// Label.
    #[prop(into)]
    label: String,
    /// Identifier, unique on the page.
    #[prop(into)]
    id: String,
    /// The field.
    field: Field,
    /// Hint below the input.
    #[prop(optional, into)]
    hint: String,
    /// The input's `type`.
    #[prop(default = "text")]
    kind: &'static str,
    /// Keyboard offered on a phone.
    #[prop(default = "text")]
    keyboard: &'static str,
) -> impl IntoView {
    let described = described_by(&id, &hint);
    let invalid = move || field.problem.with(Option::is_some).then_some("true");
    let input = move |typed: String| {
        field.text.set(typed);
        field.problem.set(None);
    };
    view! {
        <div class="field">
            <label for=id.clone()>{label}</label>
            <input id=id.clone() type=kind inputmode=keyboard autocomplete="off" dir="auto" aria-describedby=described
                aria-invalid=invalid prop:value=move || field.text.get()
                on:input:target=move |event| input(event.target().value())/>
            <Beside id=id hint=hint problem=field.problem/>
        </div>
    }
}

/// Several lines of text.
#[component]
pub(crate) fn LongInput(
    /// Label.
    #[prop(into)]
    label: String,
    /// Identifier, unique on the page.
    #[prop(into)]
    id: String,
    /// The field.
    field: Field,
) -> impl IntoView {
    let described = described_by(&id, "");
    let invalid = move || field.problem.with(Option::is_some).then_some("true");
    let input = move |typed: String| {
        field.text.set(typed);
        field.problem.set(None);
    };
    view! {
        <div class="field">
            <label for=id.clone()>{label}</label>
            <textarea id=id.clone() rows="3" aria-describedby=described aria-invalid=invalid
                prop:value=move || field.text.get() on:input:target=move |event| input(event.target().value())></textarea>
            <Beside id=id hint=String::new() problem=field.problem/>
        </div>
    }
}

/// One of a list, chosen by its value; starts with nothing chosen unless the field says otherwise.
#[component]
pub(crate) fn SelectInput(
    /// Label.
    #[prop(into)]
    label: String,
    /// Identifier, unique on the page.
    #[prop(into)]
    id: String,
    /// The field; holds the chosen value.
    field: Field,
    /// Values with their words.
    #[prop(into)]
    options: Signal<Vec<(String, String)>>,
    /// Hint below the input.
    #[prop(optional, into)]
    hint: String,
    /// What stands there before anything is chosen.
    #[prop(default = "Choose…")]
    none: &'static str,
) -> impl IntoView {
    let described = described_by(&id, &hint);
    let invalid = move || field.problem.with(Option::is_some).then_some("true");
    let option = move |(value, words): (String, String)| {
        let mine = value.clone();
        let selected = move || field.text.with(|text| *text == mine);
        view! { <option value=value prop:selected=selected>{words}</option> }
    };
    let choose = move |value: String| {
        field.text.set(value);
        field.problem.set(None);
    };
    view! {
        <div class="field">
            <label for=id.clone()>{label}</label>
            <select id=id.clone() aria-describedby=described aria-invalid=invalid
                on:change:target=move |event| choose(event.target().value())>
                <option value="" prop:selected=move || field.text.with(String::is_empty)>{none}</option>
                {move || options.get().into_iter().map(option).collect_view()}
            </select>
            <Beside id=id hint=hint problem=field.problem/>
        </div>
    }
}

/// A few choices, all seen at once.
#[component]
pub(crate) fn ChoiceInput(
    /// Question.
    #[prop(into)]
    legend: String,
    /// Identifier, unique on the page.
    #[prop(into)]
    id: String,
    /// The field; holds the chosen value.
    field: Field,
    /// Values with their words.
    options: Vec<(String, String)>,
) -> impl IntoView {
    let name = id.clone();
    let described = format!("{id}-error");
    let chip = move |(value, words): (String, String)| {
        let mine = value.clone();
        let own = format!("{name}-{value}");
        let checked = move || field.text.with(|text| *text == mine);
        let choose = move |_| {
            field.text.set(value.clone());
            field.problem.set(None);
        };
        view! {
            <label class="chip">
                <input type="radio" id=own name=name.clone() prop:checked=checked on:change=choose/>
                <span>{words}</span>
            </label>
        }
    };
    view! {
        <fieldset class="chips" aria-describedby=described>
            <legend>{legend}</legend>
            {options.into_iter().map(chip).collect_view()}
            <Beside id=id hint=String::new() problem=field.problem/>
        </fieldset>
    }
}

/// A file of this device; choosing another takes back what was said about the last.
#[component]
pub(crate) fn FileInput(
    /// Label.
    #[prop(into)]
    label: String,
    /// Identifier, unique on the page.
    id: &'static str,
    /// Endings and kinds offered first, as the input's `accept`.
    accept: &'static str,
    /// What is wrong with the file.
    problem: RwSignal<Option<String>>,
) -> impl IntoView {
    view! {
        <div class="field">
            <label for=id>{label}</label>
            <input type="file" id=id accept=accept aria-describedby=described_by(id, "")
                aria-invalid=move || problem.with(Option::is_some).then_some("true") on:change=move |_| problem.set(None)/>
            <Beside id=id.to_owned() hint=String::new() problem=problem/>
        </div>
    }
}

/// A tick.
#[component]
pub(crate) fn TickInput(
    /// Label.
    #[prop(into)]
    label: String,
    /// Whether it is ticked.
    ticked: RwSignal<bool>,
) -> impl IntoView {
    view! {
        <div class="check-field">
            <label class="check">
                <input type="checkbox" prop:checked=move || ticked.get()
                    on:change:target=move |event| ticked.set(event.target().checked())/>
                <span>{label}</span>
            </label>
        </div>
    }
}
