//! Answering the code of an override from the instructor's own device.

use leptos::prelude::*;
use logbook::challenge::{self, Asked, CHALLENGE};
use logbook::fact::{Fact, OverrideAnswer};

use crate::components::{CodeReader, Folded, When};
use crate::pages::form::{
    ChoiceInput, Field, OnceUnlocked, Saving, SavingLine, SelectInput, TextInput, name, one_line,
};
use crate::pages::hand_over::code_run::CodeRun;
use crate::session::session;

/// Takes the code, and shows the answer to read out.
#[component]
pub(super) fn AnswerPart() -> impl IntoView {
    let session = session();
    view! {
        <When when=move || session.academy_key().is_some()>
            <section>
                <h2>"Answer a code from the couch"</h2>
                <p>"When a trainee’s phone shows a code for you: type it here, on your own device, and read the answer out. Your key signs it."</p>
                <OnceUnlocked fallback=|| view! { <p class="small">"An instructor or the owner answers, unlocked at the top."</p> }>
                    <AnswerForm/>
                </OnceUnlocked>
            </section>
        </When>
    }
}

/// The form.
#[component]
fn AnswerForm() -> impl IntoView {
    let session = session();
    let (code, trainee, reason) = (Field::empty(), Field::empty(), Field::empty());
    let (allowed, why, saving) = (Field::empty(), Field::empty(), Saving::new());
    let answer = RwSignal::new(None::<(String, String)>);
    let people = Signal::derive(move || {
        session.trainees().into_iter().map(|person| (person.id.to_string(), person.name)).collect::<Vec<_>>()
    });
    let submit = move |event: leptos::ev::SubmitEvent| {
        event.prevent_default();
        answer.set(None);
        let challenge = code.read(|typed| challenge::read(typed, CHALLENGE));
        let whose = trainee.read(|chosen| name("whose service it is", chosen));
        let reason_code = reason.read(|typed| name("what the couch says", typed));
        let pass = allowed.read(|chosen| match chosen {
            "yes" => Ok(true),
            "no" => Ok(false),
            _ => Err("Say whether you let it pass.".to_owned()),
        });
        let words = why.read(|typed| match (one_line(typed)?, allowed.typed() == "no") {
            (words, true) if words.is_empty() => Err("Say why the override is refused.".to_owned()),
            (words, _) => Ok(words),
        });
        let (Some(challenge), Some(whose), Some(reason_code), Some(pass), Some(words)) =
            (challenge, whose, reason_code, pass, words)
        else {
            saving.say(Err("Look at the fields marked ▲ above; what was typed is still there.".to_owned()));
            return;
        };
        let act = async move {
            let fact = OverrideAnswer {
                challenge: challenge.clone(),
                reason_code,
                trainee: whose.as_str().into(),
                allowed: pass,
                why: words,
            };
            session.write(vec![Fact::OverrideAnswered(fact)]).await?;
            let by = session.who_now().map(|who| who.id).ok_or("Nobody is using this device.")?;
            let said = session.records_now().answer_to(&challenge, &by).and_then(|answered| answered.code.clone());
            let said = said.ok_or("The answer was saved, and nobody signed it: look under Keys.")?;
            answer.try_set(Some((challenge::in_fours(&challenge), challenge::in_fours(&said))));
            Ok("Signed and saved. The couch compares it when your entries arrive there.".to_owned())
        };
        saving.run(act, move || code.clear());
    };
    let scanned = RwSignal::new(None::<String>);
    let heard = Callback::new(move |text: String| match Asked::read(&text) {
        Ok(asked) => {
            code.text.set(challenge::in_fours(&asked.challenge));
            trainee.text.set(asked.trainee.to_string());
            reason.text.set(asked.reason_code);
            scanned.set(Some("✓ Read. Look at what it asks before you answer.".to_owned()));
            false
        }
        Err(sentence) => {
            scanned.set(Some(format!("▲ {sentence}")));
            true
        }
    });
    let codes = move || {
        let by = session.who_now().map(|who| who.id)?;
        let code = answer.get().and_then(|(code, _)| challenge::read(&code, CHALLENGE).ok())?;
        Some(session.answer_codes(&code, &by)).filter(|codes| !codes.is_empty())
    };
    let yes_no = vec![("yes".to_owned(), "I let it pass".to_owned()), ("no".to_owned(), "I refuse it".to_owned())];
    view! {
        <form novalidate on:submit=submit>
            <Folded class="folded" head=view! { "Scan the code" }.into_any()>
                <CodeReader id="answer-scan" on_text=heard/>
            </Folded>
            <p role="status">{move || scanned.get()}</p>
            <TextInput label="Code on the trainee’s screen" id="answer-code" field=code hint="Twelve characters; dashes do not matter."/>
            <SelectInput label="Whose service" id="answer-trainee" field=trainee options=people/>
            <TextInput label="What the couch says is in the way" id="answer-reason" field=reason hint="As it stands on that screen: you sign what you read."/>
            <ChoiceInput legend="Your answer" id="answer-allowed" field=allowed options=yes_no/>
            <TextInput label="Why" id="answer-why" field=why/>
            <button type="submit" class="button-primary" disabled=move || saving.busy()>"Sign the answer"</button>
            <SavingLine saving=saving/>
        </form>
        <div role="status">
            {move || answer.get().map(|(code, said)| view! {
                <p class="notice notice-good">"Answer to "{code}": "<strong class="code-letters">{said}</strong></p>
            })}
            {move || codes().map(|codes| view! {
                <p class="small">"Or let the couch scan it:"</p>
                <CodeRun texts=codes how="At the couch: open “Scan the answer” below the code. Any order will do."/>
            })}
        </div>
    }
}
