//! A run of codes: one after another on the screen, or all of them for paper.

use leptos::prelude::*;

use crate::browser;
use crate::components::{CodePicture, Folded};

/// Milliseconds that a code stays: a phone needs some looks at each (proposal, no source).
const STAY: u32 = 900;

/// Shows texts as codes, in turn; stands still where the device asks for little motion.
#[component]
pub(crate) fn CodeRun(
    /// The texts.
    texts: Vec<String>,
    /// How they are read on the other device.
    #[prop(
        default = "On the other device: Hand-over, “Take in”, “Read codes”. Any order will do, and it says which are missing."
    )]
    how: &'static str,
) -> impl IntoView {
    let total = texts.len();
    let texts = StoredValue::new(texts);
    let (place, moving) = (RwSignal::new(0_usize), RwSignal::new(total > 1 && !browser::page::little_motion()));
    let step = move |by: usize| place.update(|place| *place = (*place + by) % total.max(1));
    let timer = browser::timer::every(STAY, move || {
        if moving.try_get_untracked() == Some(true) {
            step(1);
        }
    });
    StoredValue::new_local(timer);
    let which = move || format!("Code {} of {total}", place.get() + 1);
    let text = Signal::derive(move || texts.with_value(|texts| texts.get(place.get()).cloned().unwrap_or_default()));
    let label =
        Signal::derive(move || format!("{}: read it with “Read codes” under “Take in” on the other device", which()));
    let go = move |by: usize| {
        moving.set(false);
        step(by);
    };
    view! {
        <section class="code-run" aria-label="Codes of this hand-over">
            <h3>{which}</h3>
            <CodePicture text=text label=label/>
            <p class="toolbar" hidden=total < 2>
                <button type="button" on:click=move |_| moving.update(|moving| *moving = !*moving)>
                    {move || if moving.get() { "Pause" } else { "Go on by itself" }}
                </button>
                <button type="button" on:click=move |_| go(total.saturating_sub(1))>"Back"</button>
                <button type="button" on:click=move |_| go(1)>"Next"</button>
            </p>
            <p class="small">{how}</p>
            <Folded class="folded" head=view! { "All codes at once, for paper" }.into_any()>
                <button type="button" on:click=|_| browser::page::print()>"Print"</button>
                <div class="code-sheet">
                    {texts.with_value(|texts| texts.iter().enumerate().map(|(place, text)| {
                        let (text, words) = (text.clone(), format!("Code {} of {total}", place + 1));
                        view! {
                            <figure>
                                <CodePicture text=text label=words.clone()/>
                                <figcaption>{words}</figcaption>
                            </figure>
                        }
                    }).collect_view())}
                </div>
            </Folded>
        </section>
    }
}
