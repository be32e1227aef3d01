//! A file that comes as a run of codes: collected, counted and said, wherever one is read.

use leptos::prelude::*;
use logbook::hand_over::codes::{Collecting, Heard};

use super::{CodeReader, When};

/// The codes of one file as they are read.
#[derive(Clone, Copy)]
pub struct FileCodes {
    collecting: RwSignal<Collecting>,
    said: RwSignal<Option<&'static str>>,
}

impl FileCodes {
    /// Begins with none.
    pub fn begin() -> Self {
        Self { collecting: RwSignal::new(Collecting::default()), said: RwSignal::new(None) }
    }

    /// Hears the text of a code; gives the file once all of them are read. Where the page was left meanwhile, nothing.
    pub fn hear(self, text: &str) -> Option<Vec<u8>> {
        let heard = self.collecting.try_update(|collecting| collecting.hear(text))?;
        let said = match &heard {
            Heard::Whole(_) => Some("✓ All codes are read."),
            Heard::Wrong => Some("▲ The codes read do not belong together: read them once more."),
            Heard::OtherRun => Some(
                "▲ This code belongs to another hand-over than those read before: go on with the same ones, or begin anew.",
            ),
            Heard::Newer => {
                Some("▲ A later version of Upsweep wrote this code: reload the app here to get the latest version.")
            }
            Heard::Other => Some("▲ This is a code of something else."),
            Heard::More | Heard::Again => None,
        };
        self.said.try_set(said);
        match heard {
            Heard::Whole(file) => {
                self.collecting.try_set(Collecting::default());
                Some(file)
            }
            _ => None,
        }
    }

    fn progress(self) -> (usize, usize) {
        self.collecting.with(Collecting::progress)
    }

    fn begin_anew(self) {
        self.collecting.set(Collecting::default());
        self.said.set(None);
    }
}

/// Reads the codes of a file by camera or from pictures, and says which are missing.
#[component]
pub fn FileCodesReader(
    /// Identifier, unique on the page.
    id: &'static str,
    /// The codes read so far.
    codes: FileCodes,
    /// Takes the file, once whole.
    on_file: Callback<Vec<u8>>,
    /// Takes a text first; returns whether it was of another kind and is dealt with.
    #[prop(optional, into)]
    other: Option<Callback<String, bool>>,
) -> impl IntoView {
    let heard = Callback::new(move |text: String| {
        if other.is_some_and(|other| other.run(text.clone())) {
            return false;
        }
        match codes.hear(&text) {
            Some(file) => {
                on_file.run(file);
                false
            }
            None => true,
        }
    });
    let missing = move || {
        let (have, total) = codes.progress();
        (total > 0 && have < total).then(|| {
            let missing: Vec<String> =
                codes.collecting.with(Collecting::missing).iter().map(usize::to_string).collect();
            format!("● {have} of {total} codes read; missing: {}.", missing.join(", "))
        })
    };
    view! {
        <CodeReader id=id on_text=heard/>
        <p role="status">{missing}</p>
        <p role="status">{move || codes.said.get()}</p>
        <When when=move || codes.progress().1 != 0>
            <button type="button" on:click=move |_| codes.begin_anew()>"Begin anew"</button>
        </When>
    }
}
