//! The code of a claimed override: the instructor answers it from the own device.

use leptos::prelude::*;
use logbook::Fact;
use logbook::challenge::{self, ANSWER, Asked};
use practicum::ids::PersonId;

use super::context::Couch;
use crate::components::{CodePicture, FileCodes, FileCodesReader, Folded, When};
use crate::pages::form::{Field, Saving, SavingLine, TextInput};
use crate::session::AnswerState;

/// Shows the code, and takes the answer that the instructor reads out.
#[component]
pub(super) fn OverrideCode(
    /// What the instructor is asked.
    asked: Asked,
    /// The instructor.
    by: PersonId,
) -> impl IntoView {
    let session = expect_context::<Couch>().session();
    let name = untrack(|| session.person_name(&by));
    let challenge = asked.challenge.clone();
    let state = {
        let (challenge, by) = (challenge.clone(), by.clone());
        Memo::new(move |_| session.answer_state(&challenge, &by))
    };
    let words = {
        let name = name.clone();
        move || match state.get() {
            AnswerState::None => "▲ No answer yet: it waits under Marking until the instructor confirms it.".to_owned(),
            AnswerState::Typed => {
                format!("● The answer is kept. It is compared with {name}’s own entry when that arrives.")
            }
            AnswerState::Allowed => format!("✓ {name} has signed that this may pass."),
            AnswerState::Refused => format!("■ {name} has refused this."),
            AnswerState::Differs => format!("■ What was typed is not {name}’s answer."),
        }
    };
    let input = format!("answer-{challenge}");
    let (typed, saving) = (Field::empty(), Saving::new());
    let keep = move |_| {
        let Some(answer) = typed.read(|typed| challenge::read(typed, ANSWER)) else { return };
        let fact = Fact::AnswerTyped { challenge: challenge.clone(), answer };
        saving.write(session, vec![fact], "The answer is kept.".to_owned(), || {});
    };
    let (codes, whole) = (FileCodes::begin(), StoredValue::new((asked.clone(), by)));
    let read = Callback::new(move |file: Vec<u8>| {
        let (asked, by) = whole.get_value();
        let act = async move {
            session.take_answer(&file, &asked, &by).await?;
            Ok("The signed answer is here.".to_owned())
        };
        saving.run(act, || {});
    });
    let picture = asked.text();
    let label = format!("Code {} for the instructor’s device", challenge::in_fours(&asked.challenge));
    let open = move || matches!(state.get(), AnswerState::None | AnswerState::Typed);
    view! {
        <div class="override-code">
            <p>"Code for "<bdi>{name}</bdi>": "<strong class="code-letters">{challenge::in_fours(&asked.challenge)}</strong></p>
            <p class="small">"The instructor scans it or types it on the own device, under Marking, and shows or reads out the answer."</p>
            <Folded class="folded" head=view! { "Show it to be scanned" }.into_any()>
                <CodePicture text=picture.clone() label=label.clone()/>
            </Folded>
            <p role="status">{words}</p>
            <When when=open>
                <TextInput label="Answer of eight characters" id=input.clone() field=typed/>
                <button type="button" class="couch-secondary" disabled=move || saving.busy() on:click=keep.clone()>"Keep the answer"</button>
                <Folded class="folded" head=view! { "Scan the answer" }.into_any()>
                    <FileCodesReader id="couch-answer" codes=codes on_file=read/>
                </Folded>
            </When>
            <SavingLine saving=saving/>
        </div>
    }
}
