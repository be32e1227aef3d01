//! Fields of a form: label, hint, what is wrong beside the field. What was typed is always kept.

use std::sync::atomic::{AtomicU32, Ordering};

use leptos::prelude::*;

/// Identifiers that tie a field to its words.
#[derive(Clone)]
struct Ids {
    field: String,
    hint: String,
    error: String,
}

impl Ids {
    fn fresh() -> Self {
        static NEXT: AtomicU32 = AtomicU32::new(1);
        let number = NEXT.fetch_add(1, Ordering::Relaxed);
        let of = |part: &str| format!("{part}-{number}");
        Self { field: of("field"), hint: of("hint"), error: of("error") }
    }

    /// Names what describes the field at present.
    fn described(
        &self,
        hint: bool,
        error: Signal<Option<String>>,
    ) -> impl Fn() -> Option<String> + Send + Sync + use<> {
        let ids = self.clone();
        move || {
            let wrong = error.with(Option::is_some);
            let parts: Vec<&str> = [(hint, &ids.hint), (wrong, &ids.error)]
                .into_iter()
                .filter(|(there, _)| *there)
                .map(|(_, id)| id.as_str())
                .collect();
            (!parts.is_empty()).then(|| parts.join(" "))
        }
    }
}

fn wrong(error: Signal<Option<String>>) -> impl Fn() -> Option<&'static str> + Send + Sync + Copy + 'static {
    move || error.with(Option::is_some).then_some("true")
}

/// Puts label, hint and error around a control.
#[component]
fn Frame(
    /// Identifiers.
    ids: Ids,
    /// Label.
    label: String,
    /// Hint under the label.
    hint: Option<String>,
    /// What is wrong.
    error: Signal<Option<String>>,
    /// The control.
    children: Children,
) -> impl IntoView {
    view! {
        <div class="field">
            <label for=ids.field>{label}</label>
            {hint.map(|hint| view! { <p class="field-hint" id=ids.hint>{hint}</p> })}
            {children()}
            <div id=ids.error role="alert">
                {move || error.get().map(|sentence| view! { <p class="field-error">{sentence}</p> })}
            </div>
        </div>
    }
}

/// One line of input of a given kind.
#[component]
fn Line(
    /// Label.
    label: String,
    /// The text.
    text: RwSignal<String>,
    /// Hint under the label.
    hint: Option<String>,
    /// What is wrong.
    error: Signal<Option<String>>,
    /// Kind of input, such as `text` or `date`.
    kind: &'static str,
    /// Keyboard that a phone shows.
    keyboard: Option<&'static str>,
) -> impl IntoView {
    let ids = Ids::fresh();
    let described = ids.described(hint.is_some(), error);
    view! {
        <Frame ids=ids.clone() label=label hint=hint error=error>
            <input id=ids.field type=kind inputmode=keyboard autocomplete="off" aria-describedby=described
                aria-invalid=wrong(error) prop:value=move || text.get()
                on:input:target=move |event| text.set(event.target().value())/>
        </Frame>
    }
}

/// A field for text; several lines when `long`.
#[component]
pub fn TextField(
    /// Label.
    #[prop(into)]
    label: String,
    /// The text.
    text: RwSignal<String>,
    /// Hint under the label.
    #[prop(optional, into)]
    hint: Option<String>,
    /// What is wrong.
    #[prop(optional, into)]
    error: Signal<Option<String>>,
    /// Whether it takes several lines.
    #[prop(optional)]
    long: bool,
    /// Whether what is typed is hidden, as a PIN is.
    #[prop(optional)]
    secret: bool,
) -> impl IntoView {
    if !long {
        let kind = if secret { "password" } else { "text" };
        return view! { <Line label=label text=text hint=hint error=error kind=kind keyboard=None/> }.into_any();
    }
    let ids = Ids::fresh();
    let described = ids.described(hint.is_some(), error);
    view! {
        <Frame ids=ids.clone() label=label hint=hint error=error>
            <textarea id=ids.field rows="3" aria-describedby=described aria-invalid=wrong(error)
                prop:value=move || text.get() on:input:target=move |event| text.set(event.target().value())></textarea>
        </Frame>
    }
    .into_any()
}

/// A field for a number, kept as it was typed so that nothing is lost when it is no number.
#[component]
pub fn NumberField(
    /// Label, unit included.
    #[prop(into)]
    label: String,
    /// The number as typed.
    text: RwSignal<String>,
    /// Hint under the label.
    #[prop(optional, into)]
    hint: Option<String>,
    /// What is wrong.
    #[prop(optional, into)]
    error: Signal<Option<String>>,
) -> impl IntoView {
    view! { <Line label=label text=text hint=hint error=error kind="text" keyboard=Some("decimal")/> }
}

/// A field for a day, as `YYYY-MM-DD`; empty while no whole day is chosen.
#[component]
pub fn DateField(
    /// Label.
    #[prop(into)]
    label: String,
    /// The day.
    text: RwSignal<String>,
    /// Hint under the label.
    #[prop(optional, into)]
    hint: Option<String>,
    /// What is wrong.
    #[prop(optional, into)]
    error: Signal<Option<String>>,
) -> impl IntoView {
    view! { <Line label=label text=text hint=hint error=error kind="date" keyboard=None/> }
}

/// A choice from a list of values with their words.
#[component]
pub fn SelectField(
    /// Label.
    #[prop(into)]
    label: String,
    /// Values with their words, an empty choice included where one is wanted.
    #[prop(into)]
    options: Signal<Vec<(String, String)>>,
    /// Value chosen.
    chosen: RwSignal<String>,
    /// Hint under the label.
    #[prop(optional, into)]
    hint: Option<String>,
    /// What is wrong.
    #[prop(optional, into)]
    error: Signal<Option<String>>,
) -> impl IntoView {
    let ids = Ids::fresh();
    let described = ids.described(hint.is_some(), error);
    let option = move |(value, words): (String, String)| {
        let mine = value.clone();
        view! { <option value=value prop:selected=move || chosen.with(|chosen| *chosen == mine)>{words}</option> }
    };
    view! {
        <Frame ids=ids.clone() label=label hint=hint error=error>
            <select id=ids.field aria-describedby=described aria-invalid=wrong(error)
                on:change:target=move |event| chosen.set(event.target().value())>
                {move || options.get().into_iter().map(option).collect_view()}
            </select>
        </Frame>
    }
}

/// A box to tick; the whole line is the target.
#[component]
pub fn CheckField(
    /// Label.
    #[prop(into)]
    label: String,
    /// Whether it is ticked.
    checked: RwSignal<bool>,
    /// Hint under the label.
    #[prop(optional, into)]
    hint: Option<String>,
    /// What is wrong.
    #[prop(optional, into)]
    error: Signal<Option<String>>,
) -> impl IntoView {
    let ids = Ids::fresh();
    let described = ids.described(hint.is_some(), error);
    view! {
        <div class="check-field">
            <label class="check">
                <input type="checkbox" aria-describedby=described aria-invalid=wrong(error)
                    prop:checked=move || checked.get() on:change:target=move |event| checked.set(event.target().checked())/>
                <span>{label}</span>
            </label>
            {hint.map(|hint| view! { <p class="field-hint" id=ids.hint>{hint}</p> })}
            <div id=ids.error role="alert">
                {move || error.get().map(|sentence| view! { <p class="field-error">{sentence}</p> })}
            </div>
        </div>
    }
}
